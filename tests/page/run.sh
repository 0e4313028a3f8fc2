#!/usr/bin/env bash
# Prints the demo's sheets in a real browser and looks at them: accessibility, validity, two pages on A4 and Letter. Then the handbook:
# links, validity, accessibility, search, print.
#
#   tests/page/run.sh           uses target/release/coatwright or target/debug/coatwright, whichever is newer
#
# Needs Node.js 20 or newer with npm, and Chromium; as root on Debian it installs them itself.
set -euo pipefail

here=$(cd "$(dirname "${BASH_SOURCE[0]}")" && pwd)
root=$(cd "$here/../.." && pwd)

part=tests/page
# shellcheck source=tests/shared.sh
. "$root/tests/shared.sh"

node_and_npm
install chromium chromium

coatwright=$(newest coatwright)
[ -n "$coatwright" ] || missing "the program isn't built" "cargo build"
modules "$here"

pages=$(mktemp -d)
trap 'rm -rf "$pages"' EXIT
for dog in bramble kelp flint pearl; do
    "$coatwright" sheet --dog "$root/recipes/saltmarsh/dogs.trim#$dog" --on 2026-11-25 --format html -o "$pages/$dog.html" 2>/dev/null
done
"$coatwright" sheet --dog "$root/recipes/saltmarsh/dogs.trim#flint" --on 2026-11-25 --format html --learner --units imperial --large -o "$pages/large-flint.html" 2>/dev/null

# The dog before and now, after a change of the demo.
cp -r "$root/recipes/saltmarsh" "$pages/old"
cp -r "$pages/old" "$pages/new"
sed -i 's/topknot to 25 mm/topknot to 40 mm/; s/body-length is 9 mm/body-length is 7 mm/; s/version  4/version  5/' "$pages/new/harbour-short.trim"
"$coatwright" diff "$pages/old" "$pages/new" --picture "$pages/differs.html" --dog "$pages/old/dogs.trim#bramble" >/dev/null 2>&1 || [ $? = 1 ]

# A limit, so that a hang is a failure.
timeout 300 node "$here/check.mjs" "$(command -v chromium)" "$pages"/*.html

# Two salons, names that a file can't bear, and mistakes that belong to a card: the same bytes twice.
mkdir -p "$pages/salons"
cp -r "$root/recipes/saltmarsh" "$pages/salons/saltmarsh"
mkdir "$pages/salons/other"
cat >"$pages/salons/other/short.trim" <<'TRIM'
-- "Quotes" & <angles>, which are no tags.
recipe größe-a { title "Größe <b>A & B</b>"; serves coat curl; leave whole-coat; keep ears untouched because "<i>so</i> & so" }
recipe index { extends größe-a; serves coat curl }
dog wren { coat crul; weight 3 mm }
TRIM
"$coatwright" handbook "$pages/handbook" "$pages/salons" 2>/dev/null
"$coatwright" handbook "$pages/again" "$pages/salons" 2>/dev/null
diff -r "$pages/handbook" "$pages/again"
timeout 600 node "$here/handbook.mjs" "$(command -v chromium)" "$pages/handbook"
