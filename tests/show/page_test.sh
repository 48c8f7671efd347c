#!/bin/sh
# page_test.sh DRIVER WEB_BUILD SCRIPT OUT: the page in Chromium; 77 says that it was skipped.
set -eu
driver=$1 web=$2 script=$3 out=$4
skip() { echo "skipped: $1"; exit 77; }
[ -n "$web" ] && [ -d "$web/node_modules/playwright-core" ] || skip "the packages of the report's page are not installed (PROVENIT_WEB=OFF)"
command -v node >/dev/null || skip "node is not installed"
chromium=${CHROMIUM:-/usr/bin/chromium}
[ -x "$chromium" ] || skip "there is no Chromium at $chromium (set CHROMIUM to name one)"
mkdir -p "$out"
# Modules are looked for beside the script.
cp "$script" "$web/tests/show_page.mjs" 2>/dev/null || { mkdir -p "$web/tests"; cp "$script" "$web/tests/show_page.mjs"; }
cd "$web"
CHROMIUM=$chromium node tests/show_page.mjs "$driver" "$out"
