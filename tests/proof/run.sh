#!/usr/bin/env bash
# Asks a solver the same questions that `check` answers, about the demo's recipes and random ones.
#
#   tests/proof/run.sh          60 random recipes
#   tests/proof/run.sh 500      as many
#
# The solver is kept in .venv at the project's root, beside the editor clients. Whatever is missing is a failure that says how to
# get it.
set -euo pipefail

here=$(cd "$(dirname "${BASH_SOURCE[0]}")" && pwd)
root=$(cd "$here/../.." && pwd)
venv=$root/.venv
export PYTHONDONTWRITEBYTECODE=1

part=tests/proof
# shellcheck source=tests/shared.sh
. "$root/tests/shared.sh"

command -v python3 >/dev/null || missing "python3 isn't there" "apt-get install python3 python3-venv"
pins=$(sha256sum <"$here/requirements.txt" | cut -d' ' -f1)
[ -x "$venv/bin/python" ] || python3 -m venv "$venv" || missing "python3 has no venv" "apt-get install python3-venv"
# Another run may have made the folder anew since: then the solver is gone with it.
if [ "$(cat "$venv/proof-pins" 2>/dev/null || true)" != "$pins" ]; then
    "$venv/bin/python" -m pip install --quiet --disable-pip-version-check -r "$here/requirements.txt" ||
        missing "the solver can't be installed" "$venv/bin/python -m pip install -r tests/proof/requirements.txt"
    echo "$pins" >"$venv/proof-pins"
fi

data=$(mktemp)
trap 'rm -f "$data"' EXIT
(cd "$root" && cargo run --quiet --locked -p coatwright-tests --example choices_json -- "${1:-60}") >"$data"
# A limit, so that a hang is a failure.
timeout "${PROOF_LIMIT:-600}" "$venv/bin/python" "$here/z3_check.py" <"$data"
