#!/usr/bin/env bash
# The whole suite, or with a name the tests that contain it.
set -euo pipefail
cd "$(dirname "$0")/.."
only="${1:-}"
jobs=$(nproc)

step() { echo; echo "== $*"; }

cmake --preset dev >/dev/null
if [[ -n "$only" ]]; then
  step "build"
  cmake --build --preset dev -j "$jobs"
  ctest --preset dev -j "$jobs" -R "$only"
  exit
fi

step "lint"
scripts/lint.sh

step "tests, with sanitizers of addresses and of undefined behaviour"
cmake --preset asan >/dev/null
cmake --build --preset asan -j "$jobs"
ctest --preset asan -j "$jobs"

step "sanitizers: threads"
cmake --preset tsan >/dev/null
cmake --build --preset tsan -j "$jobs" --target store_test instrument_test
ctest --preset tsan -j "$jobs" -L "^(store|instrument)$"
