#!/bin/sh
# page_test.sh WRITE_SITE WEB_BUILD OUT: writes a site and runs its pages' tests; 77 says that they were skipped.
set -eu
write_site=$1 web=$2 out=$3
skip() { echo "skipped: $1"; exit 77; }
[ -n "$web" ] && [ -d "$web/node_modules" ] || skip "this build has no page (PROVENIT_WEB=OFF)"
command -v node >/dev/null || skip "node is not installed"
chromium=${CHROMIUM:-/usr/bin/chromium}
[ -x "$chromium" ] || skip "there is no Chromium at $chromium (set CHROMIUM to name one)"
rm -rf "$out"
mkdir -p "$out"
"$write_site" "$out"
cd "$web"
CHROMIUM=$chromium node tests/site.mjs "$out/site" "$out"
