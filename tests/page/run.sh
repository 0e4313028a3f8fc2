#!/usr/bin/env bash
# Prints the demo's sheets in a real browser and looks at them: accessibility, validity, two pages on A4 and Letter.
#
#   tests/page/run.sh           uses target/release/coatwright or target/debug/coatwright, whichever is newer
#
# Needs Node.js 20 or newer with npm, and Chromium; as root on Debian it installs them itself.
set -euo pipefail

here=$(cd "$(dirname "${BASH_SOURCE[0]}")" && pwd)
root=$(cd "$here/../.." && pwd)

missing() {
    echo "tests/page: $1; get it with: $2" >&2
    exit 1
}

install() { # install COMMAND PACKAGE…
    local command=$1
    shift
    command -v "$command" >/dev/null && return
    if [ "$(id -u)" = 0 ] && command -v apt-get >/dev/null; then
        echo "tests/page: installing $*"
        { apt-get update -qq && apt-get install -y -qq --no-install-recommends "$@"; } >/dev/null 2>&1 || true
    fi
    command -v "$command" >/dev/null || missing "$command isn't there" "apt-get install -y $*"
}

install node nodejs
install npm npm
node -e 'process.exit(+process.versions.node.split(".")[0] >= 20 ? 0 : 1)' || missing "Node.js is older than 20" "https://nodejs.org, or a newer Debian's apt-get install nodejs"
install chromium chromium

coatwright=
for built in "$root/target/release/coatwright" "$root/target/debug/coatwright"; do
    if [ -x "$built" ] && { [ -z "$coatwright" ] || [ "$built" -nt "$coatwright" ]; }; then coatwright=$built; fi
done
[ -n "$coatwright" ] || missing "the program isn't built" "cargo build"

# What the check needs, installed anew when a pin changes.
pins=$(sha256sum <"$here/package-lock.json" | cut -d' ' -f1)
if [ "$(cat "$here/node_modules/coatwright-pins" 2>/dev/null || true)" != "$pins" ]; then
    (cd "$here" && npm ci --no-audit --no-fund --ignore-scripts --loglevel=error) || missing "the checks can't be installed" "cd tests/page && npm ci"
    echo "$pins" >"$here/node_modules/coatwright-pins"
fi

pages=$(mktemp -d)
trap 'rm -rf "$pages"' EXIT
for dog in bramble kelp flint pearl; do
    "$coatwright" sheet --dog "$root/recipes/saltmarsh/dogs.trim#$dog" --on 2026-11-25 --format html -o "$pages/$dog.html" 2>/dev/null
done
"$coatwright" sheet --dog "$root/recipes/saltmarsh/dogs.trim#flint" --on 2026-11-25 --format html --learner --units imperial --large -o "$pages/large-flint.html" 2>/dev/null

# A limit, so that a hang is a failure.
timeout 300 node "$here/check.mjs" "$(command -v chromium)" "$pages"/*.html
