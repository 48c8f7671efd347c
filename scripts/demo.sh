#!/usr/bin/env bash
# The demo loans: the invented displays Tern 32 and Curlew 27, simulated with their meter and light sensor, two days each; four more for
# a day; all of them on a shelf, published. Every step is a command a user can give.
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
other=$out/curlew.bench
rm -rf "$out"
mkdir -p "$out"

run() { echo; echo "\$ provenit $*"; "$provenit" "$@"; }

# loan BENCH NAME TECHNOLOGY SIMULATED CLAIMED-PEAK SIZE MODE HOURS SET...
loan() {
  local bench=$1 name=$2 technology=$3 simulated=$4 peak=$5 size=$6 mode=$7 hours=$8 sets=() without=()
  # Where nothing dims in zones their count would stay without an answer.
  [[ $technology == *zones* ]] || without=(--without zones)
  for set in "${@:9}"; do sets+=(--set "$set"); done
  run new "$bench" --title "$name: first loan" --evaluator "Saltmarsh Display Lab (invented)"
  run describe display "$bench" --name "$name" --technology "$technology (invented)" --transfer pq --container bt2020 --bits 10 --range narrow \
    --simulated "$simulated" --claimed-peak "$peak" --size "$size" --mode "$mode"
  run describe instrument "$bench" --name "Simulated meter" --kind simulated --luminance-percent 2 --x-uncertainty 0.0015 \
    --y-uncertainty 0.0015 --zero-uncertainty 0.0002 --certificate "invented"
  run describe room "$bench" --name "Suite 2" --surround 5 --illuminance 0
  run describe loan "$bench" --hours "$hours" --purpose "documentary grading" --starts 2026-11-25T09:00:00Z --seed 32
  run questions "$bench" "${sets[@]}" "${without[@]}"
}
sets=(itu-r-bt.2100-3-reference-display ebu-tech-3320-v4.1-grade-1a display-review hdr-mastering-basics)

loan $bench "Tern 32" "LCD, mini-LED, 40 x 22 zones, quantum-dot film" tern-32 1400 "32 inch, 3840 x 2160" \
  "HDR reference, local dimming on" 48 claims-tern-32 "${sets[@]}"
echo; echo "What three hours would be used for, and then two days:"
run plan $bench --hours 3
run plan $bench
run run $bench
run evaluate $bench
run survey tests/programme/media/hdr10-av1.mp4 --bench $bench
run moments $bench --test highlights --count 3
# What this display will do to that film, and whether the forecast holds.
run correct read $bench --minutes 15
for part in probes checks eye; do run forecast read $bench --part $part; done
run forecast show $bench
run forecast title $bench --count 3
run evaluate $bench
run report $bench --out $out/report --film tests/programme/media/hdr10-av1.mp4

loan $other "Curlew 27" "self-emissive" curlew-27 900 "27 inch, 3840 x 2160" "HDR reference" 48 claims-curlew-27 "${sets[@]}"
run run $other
# What a day more is worth: a table for the owner, and the proof that it is better.
run correct read $other --minutes 15
run correct solve $other --out $out/curlew.cube
run correct prove $other
run evaluate $other
run report $other --out $out/report-curlew

# Both displays in one bench, read by an instrument that reads spectra: where must one white stand to look like the other?
pair=$out/pair.bench
cat > $out/white.toml << 'END'
id = "white-by-eye"
title = "White for another observer"
source = "this project"
mark = "common_practice"
[[question]]
text = "How far is white from D65 for CIE 2015?"
quantity = "white_delta_uv_by_observer"
conditions = { observer = "cie2015_2deg" }
at_most = 0.004
unit = "1"
END
run new $pair --title "Two whites" --evaluator "Saltmarsh Display Lab (invented)"
run describe instrument $pair --name "Simulated spectral meter" --kind simulated --spectral --x-uncertainty 0.0015 --y-uncertainty 0.0015
run describe room $pair --name "Suite 2" --surround 5
for display in "Tern 32/tern-32" "Curlew 27/curlew-27"; do
  run describe display $pair --name "${display%/*}" --simulated "${display#*/}"
  run describe loan $pair --display "${display%/*}" --hours 2 --starts 2026-11-25T09:00:00Z --seed 32
  run questions $pair --set $out/white.toml
  run run $pair
done
run match $pair --to 1

# Four more displays, for a day each.
day() { loan "$out/$4.bench" "$1" "$2" "$4" "$3" "$5" "HDR" 10 "${sets[@]}"; run run "$out/$4.bench"; run evaluate "$out/$4.bench"; }
day "Sanderling 31" "LCD, two cells behind each other" 1000 sanderling-31 "31 inch, 4096 x 2160"
day "Godwit 65" "LCD, full-array light with 24 x 16 zones" 1800 godwit-65 "65 inch, 3840 x 2160"
day "Dunlin 55" "self-emissive, large" 1300 dunlin-55 "55 inch, 3840 x 2160"
day "Knot 24" "LCD, lit from the edge" 400 knot-24 "24 inch, 3840 x 2160"

# All of them on one shelf, each checked to the reading, and published.
run shelf new $out/shelf --title "The invented displays of the demo"
run shelf add $out/shelf $bench $other $out/{sanderling-31,godwit-65,dunlin-55,knot-24}.bench
run shelf list $out/shelf
run shelf beside $out/shelf --quantity peak_luminance
run shelf meets $out/shelf --set itu-r-bt.2100-3-reference-display
run shelf between $out/shelf --first 1 --second 2
run publish $out/shelf --out $out/site
# One of them is read again: what was published otherwise is shown as corrected.
run run $out/knot-24.bench --procedure window_peak --again
run evaluate $out/knot-24.bench
run shelf add $out/shelf $out/knot-24.bench
run publish $out/shelf --out $out/site

echo
echo "Reports: $PWD/$out/report/report.html"
echo "         $PWD/$out/report-curlew/report.html"
echo "Site:    $PWD/$out/site/index.html"
echo "Table:   $PWD/$out/curlew.cube"
echo "Benches: $PWD/$bench  (every command reads it: $provenit status $bench)"
echo "         $PWD/$other"
