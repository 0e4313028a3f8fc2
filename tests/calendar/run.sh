#!/usr/bin/env bash
# A day's calendar, read by two other programs' libraries.
#
#   tests/calendar/run.sh       uses target/release/coatwright or target/debug/coatwright, whichever is newer
#
# The readers are kept in .venv at the project's root, beside the editor clients.
set -euo pipefail

here=$(cd "$(dirname "${BASH_SOURCE[0]}")" && pwd)
root=$(cd "$here/../.." && pwd)

part=tests/calendar
# shellcheck source=tests/shared.sh
. "$root/tests/shared.sh"

compiler
pips "$here"

work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
cp -r "$root/recipes/saltmarsh" "$work/salon"
# A name that must be escaped and folded, in letters of more than one byte.
cat >>"$work/salon/dogs.trim" <<'TRIM'

dog long-name {
  title   "Ährenprinz, genannt Ä; der Fünfte von den Möwen über dem Schilf am langen Ufer \ Bö"
  sex     dog, neutered
  coat    fleece, 40 mm
  weight  9 kg
  asked   skin, ears, eyes, heart, joints, medicine, allergies, temper
  wants   harbour-short
}
TRIM
cd "$work/salon"
# One that fits, and one that is too short for all, which ends with 1.
day() {
  "$COATWRIGHT" day dogs.trim --on 2026-11-25 --closes "$2" -o "$work/$1.$3" 2>/dev/null || [[ $1 == short && $? == 1 ]]
}
for kind in "long 23:00" "short 13:00"; do
  # shellcheck disable=SC2086
  set -- $kind
  day "$1" "$2" ics
  day "$1" "$2" json
  "$venv/bin/python" "$here/check.py" "$work/$1.ics" "$work/$1.json" "$1"
done
