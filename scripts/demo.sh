#!/usr/bin/env bash
# The demo loan: the invented display Tern 32, simulated with its meter. Every step is a command a user can give.
set -euo pipefail
cd "$(dirname "$0")/.."
echo "Building (a few minutes the first time) ..."
mkdir -p build
if ! { cmake --preset release -DPROVENIT_BENCHMARKS=OFF && cmake --build --preset release -j "$(nproc)" --target provenit; } \
    > build/demo-build.log 2>&1; then
  tail -n 40 build/demo-build.log >&2
  exit 1
fi
provenit=build/release/bin/provenit
out=out/demo
bench=$out/tern.bench
rm -rf "$out"
mkdir -p "$out"

run() { echo; echo "\$ provenit $*"; "$provenit" "$@"; }

run new $bench --title "Tern 32: first loan" --evaluator "Saltmarsh Display Lab (invented)"
run describe display $bench --name "Tern 32" --technology "LCD, mini-LED, 40 x 22 zones, quantum-dot film (invented)" \
  --transfer pq --container bt2020 --bits 10 --range narrow --simulated tern-32 --claimed-peak 1400 \
  --size "32 inch, 3840 x 2160" --mode "HDR reference, local dimming on"
run describe instrument $bench --name "Simulated meter" --kind simulated --luminance-percent 2 --x-uncertainty 0.0015 \
  --y-uncertainty 0.0015 --zero-uncertainty 0.0002 --certificate "invented"
run describe room $bench --name "Suite 2" --surround 5 --illuminance 0
run describe loan $bench --hours 4 --purpose "documentary grading" --starts 2026-11-25T09:00:00Z --seed 32
run questions $bench --set claims-tern-32 --set itu-r-bt.2100-3-reference-display --set ebu-tech-3320-v4.1
run plan $bench
run run $bench
run evaluate $bench
run survey tests/programme/media/hdr10-av1.mp4 --bench $bench
run moments $bench --test highlights --count 3
run report $bench --out $out/report
echo
echo "Report:  $PWD/$out/report/report.html"
echo "Bench:   $PWD/$bench  (every command reads it: $provenit status $bench)"
