#!/usr/bin/env bash
# Prints the demo's sheets in a real browser and looks at them: accessibility, validity, two pages on A4 and Letter.
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

# A limit, so that a hang is a failure.
timeout 300 node "$here/check.mjs" "$(command -v chromium)" "$pages"/*.html
