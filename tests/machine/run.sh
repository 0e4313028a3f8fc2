#!/usr/bin/env bash
# What machines read: SARIF logs against the published schema, and the configurations in docs/ci.
#
#   tests/machine/run.sh        uses target/release/coatwright or target/debug/coatwright, whichever is newer
#
# Needs Node.js 20 or newer with npm; as root on Debian it installs them itself.
set -euo pipefail

here=$(cd "$(dirname "${BASH_SOURCE[0]}")" && pwd)
root=$(cd "$here/../.." && pwd)

part=tests/machine
# shellcheck source=tests/shared.sh
. "$root/tests/shared.sh"

node_and_npm
compiler
modules "$here"

work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
logs=()
both() { # both NAME COMMAND…: a log and the messages of one run; that something was found is no failure here
    local name=$1
    shift
    for form in sarif json; do "$COATWRIGHT" "$@" --format $form >"$work/$name.$form" 2>/dev/null || [ $? = 1 ]; done
    logs+=("$work/$name.sarif" "$work/$name.json")
}
# Mistakes of many kinds, letters of more than one byte, and a name that a URI can't hold as it is.
cp -r "$root/recipes/saltmarsh" "$work/salt marsh"
cat >"$work/salt marsh/schön & gut.trim" <<'TRIM'
-- Über das Ohr.
recipe schön { title "Schön"; serves coat curl; clipp belly with #7F; clip groin with 7F; clip ears with #10 in reverse }
recipe harbour { extends saltmarsh-base version 3; serves coat curl or fleece; serves weight 3 kg to 35 kg; clip throat with #40 in reverse; clip body with #4F }
dog wren { coat crul; weight 3 kg }
TRIM
(cd "$work" && both mistakes check "salt marsh" && both sound check "$root/recipes/standards" && printf '%s\n' "${logs[@]}" >logs)
mapfile -t logs <"$work/logs"

node "$here/check.mjs" "$here/node_modules/@microsoft/jest-sarif/lib/schemas/sarif-2.1.0-rtm.5.json" "$root/docs/ci" "${logs[@]}"
