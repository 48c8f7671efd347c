#!/usr/bin/env bash
# Every figure that the project promises, computed by the programs under benchmarks/: one per line, tab separated:
# name, value, unit, bar, holds or falls short. With a name, or how names begin, those figures only. Exit code 1 if one falls short.
set -euo pipefail
cd "$(dirname "$0")/.."
only="${1:-}"
cmake --preset release -DPROVENIT_BENCHMARKS=ON >/dev/null
cmake --build --preset release -j "$(nproc)" >/dev/null
status=0
known=0
for program in build/release/bin/bench_*; do
  if [[ -z "$only" ]]; then
    known=1
    "$program" || status=1
  elif "$program" --list | grep -q -- "^$only"; then
    known=1
    "$program" "$only" || status=1
  fi
done
if [[ $known -eq 0 ]]; then
  echo "No figure is named '$only', or begins so. The names are:" >&2
  for program in build/release/bin/bench_*; do "$program" --list >&2; done
  exit 2
fi
exit $status
