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
"$COATWRIGHT" day dogs.trim --on 2026-11-25 --groomers 2 --closes 20:00 -o "$work/day.ics" 2>/dev/null
"$COATWRIGHT" day dogs.trim --on 2026-11-25 --groomers 2 --closes 20:00 -o "$work/day.json" 2>/dev/null
"$venv/bin/python" "$here/check.py" "$work/day.ics" "$work/day.json"
