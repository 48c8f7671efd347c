#!/bin/sh
# page_test.sh WRITE_SAMPLE WEB_BUILD SOURCE OUT: runs the page's tests; 77 says that they were skipped.
set -eu
write_sample=$1 web=$2 source=$3 out=$4
skip() { echo "skipped: $1"; exit 77; }
[ -n "$web" ] && [ -d "$web/node_modules" ] || skip "this build has no page (PROVENIT_WEB=OFF)"
command -v node >/dev/null || skip "node is not installed"
chromium=${CHROMIUM:-/usr/bin/chromium}
[ -x "$chromium" ] || skip "there is no Chromium at $chromium (set CHROMIUM to name one)"
mkdir -p "$out"
"$write_sample" "$out/sample.html"
cd "$web"
PROVENIT_SAMPLE=$source/tests/report/data/sample_document.json node node_modules/vitest/vitest.mjs run
node node_modules/svelte-check/bin/svelte-check --tsconfig ./tsconfig.json --fail-on-warnings --output human
CHROMIUM=$chromium node tests/page.mjs "$out/sample.html" "$out"
