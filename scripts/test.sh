#!/usr/bin/env bash
# The whole suite, or with a name the tests that contain it.
set -euo pipefail
cd "$(dirname "$0")/.."
only="${1:-}"
jobs=$(nproc)

step() { echo; echo "== $*"; }

step "build"
cmake --preset dev >/dev/null
cmake --build --preset dev -j "$jobs"
if [[ -n "$only" ]]; then
  ctest --preset dev -j "$jobs" -R "$only"
  exit
fi

step "lint"
scripts/lint.sh

step "sanitizers: address and undefined behaviour"
cmake --preset asan >/dev/null
cmake --build --preset asan -j "$jobs"
ctest --preset asan -j "$jobs" -LE "web|no_sanitizer"

step "sanitizers: threads"
cmake --preset tsan >/dev/null
cmake --build --preset tsan -j "$jobs" --target store_test instrument_test
ctest --preset tsan -j "$jobs" -L "^(store|instrument)$"

step "tests"
ctest --preset dev -j "$jobs"
