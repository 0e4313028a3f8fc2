#!/usr/bin/env bash
# The clients in lsp/editors: holds both grammars to the real parser, packages the VS Code extension, drives Neovim and Emacs.
#
#   tests/editors/run.sh              uses the debug or release coatwright-lsp, whichever is newer
#   tests/editors/run.sh --generate   only writes the C parser anew, after a change to grammar.js
#   COATWRIGHT_LSP=… run.sh           uses that server
#
# Needs Rust, a C compiler, Node.js 20 or newer with npm, Python 3.10 or newer and Emacs 28 with eglot; as root on Debian it
# installs Node.js and Emacs itself. Whatever is missing is a failure that says how to get it.
set -euo pipefail

here=$(cd "$(dirname "${BASH_SOURCE[0]}")" && pwd)
root=$(cd "$here/../.." && pwd)
editors=$root/lsp/editors
target=${CARGO_TARGET_DIR:-$root/target}
venv=$here/.venv

part=tests/editors
# shellcheck source=tests/shared.sh
. "$root/tests/shared.sh"

generate=0
case "${1:-}" in
    "") ;;
    --generate) generate=1 ;;
    *) echo "tests/editors: unknown option $1 (only --generate)" >&2; exit 2 ;;
esac

command -v cargo >/dev/null || missing "cargo isn't there" "https://rustup.rs, Rust 1.90 or newer"
command -v cc >/dev/null || missing "cc isn't there" "apt-get install -y gcc libc6-dev"
command -v python3 >/dev/null || missing "python3 isn't there" "apt-get install -y python3 python3-venv"
node_and_npm

work=$(realpath "$(mktemp -d)")
trap 'rm -rf "$work"' EXIT

# The C parser is what grammar.js says. Its generator has a lock file of its own, apart from the project's.
CARGO_TARGET_DIR=$target cargo run --quiet --locked --manifest-path "$here/generate/Cargo.toml" -- "$editors/tree-sitter-trim" "$work/parser"
for file in parser.c tree_sitter/alloc.h tree_sitter/parser.h; do
    kept=$editors/tree-sitter-trim/src/$file
    if [ "$generate" = 1 ]; then cp "$work/parser/$file" "$kept"; fi
    cmp "$work/parser/$file" "$kept" || missing "$file isn't what grammar.js gives" "tests/editors/run.sh --generate"
done
if [ "$generate" = 1 ]; then exit; fi

# Emacs 28 needs eglot as a package of its own; 29 and newer have it.
install emacs emacs-nox elpa-eglot
emacs -Q --batch --eval '(dolist (place (file-expand-wildcards "/usr/share/emacs/site-lisp/elpa-src/*")) (add-to-list (quote load-path) place))' \
    --eval '(require (quote eglot))' >/dev/null 2>&1 || missing "Emacs has no eglot" "apt-get install -y elpa-eglot, or Emacs 29"

server
export PYTHONDONTWRITEBYTECODE=1
clients "$venv" "$here/requirements.txt"
modules "$here"
modules "$editors/vscode"
neovim "$venv"

# What the real parser sees, in the corpus and in the same texts as other hands would have typed them.
cd "$root"
cargo build --quiet --locked --workspace --example trim_tokens
find grammar/samples recipes -name '*.trim' | sort | xargs "$target/debug/examples/trim_tokens" >"$work/corpus.jsonl"
"$venv/bin/python" "$here/variants.py" "$work/corpus.jsonl" "$work/variants"
{ find "$work/variants" -name '*.trim' | sort; echo tests/editors/slips.trim; } | xargs "$target/debug/examples/trim_tokens" | cat "$work/corpus.jsonl" - >"$work/tokens.jsonl"
export COATWRIGHT_TOKENS=$work/tokens.jsonl

echo "tests/editors: $("$COATWRIGHT_LSP" --version), $("$nvim" --version | head -n 1), $(emacs --version | head -n 1), Node.js $(node --version)"
failed=0
# Limits, so that a hang is a failure.
timeout 120 "$venv/bin/python" -m pytest -q -p no:cacheprovider "$here" || failed=1
timeout 60 node "$here/textmate.mjs" "$COATWRIGHT_TOKENS" || { echo "tests/editors: the TextMate grammar differs" >&2; failed=1; }

# Neovim as the README says, with its own home, so that nobody's settings take part.
mkdir -p "$work/nvim-home" "$work/nvim-house"
cp -R recipes/saltmarsh "$work/nvim-saltmarsh"
cp -RL "$editors/nvim" "$work/nvim"
mkdir -p "$work/nvim/parser"
cc -shared -fPIC -O2 -I"$editors/tree-sitter-trim/src" "$editors"/tree-sitter-trim/src/*.c -o "$work/nvim/parser/trim.so"
mkdir -p "$work/bin"
ln -s "$COATWRIGHT_LSP" "$work/bin/coatwright-lsp"
(
    export XDG_CONFIG_HOME=$work/nvim-home XDG_STATE_HOME=$work/nvim-home XDG_DATA_HOME=$work/nvim-home XDG_CACHE_HOME=$work/nvim-home
    PATH=$work/bin:$PATH EDITORS_NVIM=$work/nvim EDITORS_FOLDER=$work/nvim-house EDITORS_SALTMARSH=$work/nvim-saltmarsh NVIM_LOG_FILE=$work/nvim-home/log \
        timeout 60 "$nvim" --headless -u NONE -i NONE -n -c "luafile $here/nvim.lua"
) || { echo "tests/editors: nvim failed" >&2; failed=1; }
echo

# Emacs: compiled without a warning, then colours, indentation and the server.
mkdir -p "$work/emacs-house" "$work/emacs"
cp "$editors/emacs/coatwright.el" "$work/emacs/"
timeout 60 emacs -Q --batch --eval '(setq byte-compile-error-on-warn t)' -f batch-byte-compile "$work/emacs/coatwright.el" || failed=1
EDITORS_FOLDER=$work/emacs-house timeout 120 emacs -Q --batch -l "$here/emacs.el" || { echo "tests/editors: emacs failed" >&2; failed=1; }

exit "$failed"
