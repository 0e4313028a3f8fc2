#!/usr/bin/env bash
# Asks a solver whether any order of work is cheaper than the one on the sheet: the demo's sheets, and generated ones.
#
#   tests/proof/orders.sh            200 of 20 groups
#   tests/proof/orders.sh 200 30     200 of 30 groups
#
# The solver is kept in target/orders-venv. Whatever is missing is a failure that says how to get it.
set -euo pipefail

here=$(cd "$(dirname "${BASH_SOURCE[0]}")" && pwd)
root=$(cd "$here/../.." && pwd)
venv=$root/target/orders-venv
export PYTHONDONTWRITEBYTECODE=1

part=tests/proof
# shellcheck source=tests/shared.sh
. "$root/tests/shared.sh"

command -v python3 >/dev/null || missing "python3 isn't there" "apt-get install python3 python3-venv"
pins=$(sha256sum <"$here/requirements-orders.txt" | cut -d' ' -f1)
mkdir -p "$root/target"
[ -x "$venv/bin/python" ] || python3 -m venv "$venv" || missing "python3 has no venv" "apt-get install python3-venv"
if [ "$(cat "$venv/pins" 2>/dev/null || true)" != "$pins" ]; then
    "$venv/bin/python" -m pip install --quiet --disable-pip-version-check -r "$here/requirements-orders.txt" ||
        missing "the solver can't be installed" "$venv/bin/python -m pip install -r tests/proof/requirements-orders.txt"
    echo "$pins" >"$venv/pins"
fi

data=$(mktemp)
trap 'rm -f "$data"' EXIT
(cd "$root" && cargo run --quiet --locked -p coatwright-tests --example orders_json -- "${1:-200}" "${2:-20}") >"$data"
# A limit, so that a hang is a failure.
timeout "${PROOF_LIMIT:-600}" "$venv/bin/python" "$here/orders_check.py" 30 <"$data"
