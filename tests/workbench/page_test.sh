#!/bin/sh
# page_test.sh PROVENIT WEB_BUILD OUT [TEST [MEDIA]]: the whole way of a loan through the workbench's page, or another test of
# web/tests with films of MEDIA; 77 says that it was skipped.
set -eu
provenit=$1 web=$2 out=$3
skip() { echo "skipped: $1"; exit 77; }
[ -n "$web" ] && [ -d "$web/node_modules/playwright-core" ] || skip "this build has no page (PROVENIT_WEB=OFF)"
command -v node >/dev/null || skip "node is not installed"
chromium=${CHROMIUM:-/usr/bin/chromium}
[ -x "$chromium" ] || skip "there is no Chromium at $chromium (set CHROMIUM to name one)"
mkdir -p "$out"
cd "$web"
CHROMIUM=$chromium PROVENIT_MEDIA=${5:-} node "tests/${4:-workbench.mjs}" "$provenit" "$out"
