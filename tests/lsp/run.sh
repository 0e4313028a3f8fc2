#!/usr/bin/env bash
# Drives the language server with real editors: pytest-lsp in four profiles, a monkey in the same four, the bare wire, the
# protocol's own node client, and Neovim.
#
#   tests/lsp/run.sh            uses target/release/coatwright-lsp or target/debug/coatwright-lsp, whichever is newer
#   COATWRIGHT_LSP=… run.sh     uses that one; COATWRIGHT=… that compiler, with which the monkey compares the server
#   MONKEY=… run.sh             so many steps of the monkey in each profile, instead of 400
#
# Needs Node.js 20 or newer with npm, which it installs itself as root on Debian. The clients are kept in .venv at the project's
# root and in node/node_modules. Whatever is missing is a failure that says how to get it.
set -euo pipefail

here=$(cd "$(dirname "${BASH_SOURCE[0]}")" && pwd)
root=$(cd "$here/../.." && pwd)
venv=$root/.venv

part=tests/lsp
# shellcheck source=tests/shared.sh
. "$root/tests/shared.sh"

server
compiler
node_and_npm
modules "$here/node"
export PYTHONDONTWRITEBYTECODE=1
clients "$venv" "$here/requirements.txt"
neovim "$venv"

echo "tests/lsp: $COATWRIGHT_LSP ($("$COATWRIGHT_LSP" --version)), $("$nvim" --version | head -n 1), Node.js $(node --version)"
failed=0
# What the server makes for the editor goes where nobody else looks.
XDG_CACHE_HOME=$(mktemp -d)
export XDG_CACHE_HOME
trap 'rm -rf "$XDG_CACHE_HOME"' EXIT
# A limit, so that a hang is a failure.
timeout 600 "$venv/bin/python" -m pytest -q "$here" || failed=1
timeout 300 node --test --test-reporter=spec "$here"/node/*.test.mjs || { echo "tests/lsp: the node client failed" >&2; failed=1; }
for mode in 'as it is' 'told to ask again' older; do
    folder=$(mktemp -d)
    # Its own home, so that nobody's settings take part.
    NVIM_MODE="$mode" NVIM_FOLDER=$(realpath "$folder") XDG_CONFIG_HOME=$folder XDG_STATE_HOME=$folder XDG_DATA_HOME=$folder \
        XDG_CACHE_HOME=$folder NVIM_LOG_FILE=$folder/log \
        timeout 120 "$nvim" --headless -u NONE -i NONE -n -c "luafile $here/nvim.lua" || { echo "tests/lsp: nvim ($mode) failed" >&2; failed=1; }
    echo
    rm -rf "$folder"
done
exit "$failed"
