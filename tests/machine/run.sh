#!/usr/bin/env bash
# What machines read: SARIF logs against the published schema, and the configurations in docs/ci; that of pre-commit is run by it.
#
#   tests/machine/run.sh        uses target/release/coatwright or target/debug/coatwright, whichever is newer
#
# Needs Node.js 20 or newer with npm, git and python3 with venv; as root on Debian it installs Node.js itself.
set -euo pipefail

here=$(cd "$(dirname "${BASH_SOURCE[0]}")" && pwd)
root=$(cd "$here/../.." && pwd)

part=tests/machine
# shellcheck source=tests/shared.sh
. "$root/tests/shared.sh"

node_and_npm
compiler
modules "$here"
pips "$here"

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

# The program pre-commit, in a salon's repository: what is in order is committed, what isn't is laid out, or refused for the dog's sake.
salon=$work/salon
cp -r "$root/recipes/saltmarsh" "$salon"
cp "$root/docs/ci/pre-commit-config.yaml" "$salon/.pre-commit-config.yaml"
cd "$salon"
export PATH=$(dirname "$COATWRIGHT"):$PATH PRE_COMMIT_HOME=$work/pre-commit GIT_CONFIG_GLOBAL=/dev/null GIT_CONFIG_SYSTEM=/dev/null
git init --quiet
git config user.name salon
git config user.email salon@example.org
"$venv/bin/pre-commit" install >/dev/null
save() { git add --all && git commit --quiet --message "$1" >"$work/said" 2>&1; }
wrong() { # wrong WHAT
    echo "$part: pre-commit: $1" >&2
    cat "$work/said" >&2
    exit 1
}
save "the salon" || wrong "the demo isn't committed"
printf '\nrecipe   untidy {\nleave whole-coat\n}\n' >>harbour-short.trim
save "untidy" && wrong "an untidy text is committed"
grep -q '^recipe untidy {$' harbour-short.trim || wrong "it isn't laid out"
save "tidy" || wrong "what was laid out isn't committed"
printf '\nrecipe close {\n  serves  coat fleece\n  clip    groin with #7 with the coat\n}\n' >>harbour-short.trim
save "too close" && wrong "a recipe that hurts is committed"
grep -q 'C002' "$work/said" || wrong "it doesn't say why"
[ "$(git rev-list --count HEAD)" = 2 ] || wrong "there are other commits"
echo "$part: pre-commit lays out and refuses"
