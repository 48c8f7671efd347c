// How often the 95 % intervals of findings from captured frames hold what is true of the simulated chain.
#include <cstdlib>

#include "figure.h"
#include "simulated_captures.h"
#include "trials.h"

namespace {

using namespace provenit;

using bench::first_seed;
using bench::trials;

bench::Figure figure(const std::string& name, int held, int of) {
  const double percent = 100.0 * held / std::max(1, of);
  return {name, percent, "%", "93 to 97", percent >= 93 && percent <= 97};
}

std::vector<bench::Figure> chroma() {
  const auto shown = signal::TestPicture::make({.key = "chroma_lines", .encoding = {}, .size = {960, 540}});
  int held[3] = {}, kept = 0;
  for (int i = 0; i < trials(); ++i) {
    const auto capture = bench::simulated_chroma(*shown, first_seed() + static_cast<std::uint64_t>(i));
    const auto found = evaluation::measure_chroma(capture.frame, *shown);
    if (!found) continue;
    kept += found->kept == capture.kept;
    held[0] += found->details[0].percent.interval.contains(capture.across_1px);
    held[1] += found->details[2].percent.interval.contains(capture.across_4px);
    held[2] += found->details[3].percent.interval.contains(capture.down_1px);
  }
  const double right = 100.0 * kept / trials();
  return {figure("coverage_chroma_upright_1px", held[0], trials()),
          figure("coverage_chroma_upright_4px", held[1], trials()),
          figure("coverage_chroma_lying_1px", held[2], trials()),
          {"chroma_sampling_told_right", right, "%", ">= 99", right >= 99}};
}

/// An edge without overshoot has an interval that begins at 0 and so always holds it: there the share counts of those
/// that claim none.
std::vector<bench::Figure> overshoot() {
  const auto shown = signal::TestPicture::make({.key = "scaling_set", .encoding = {}, .size = {640, 360}});
  int held[2] = {}, some = 0, none = 0, claims_none = 0;
  for (int i = 0; i < trials(); ++i) {
    const auto capture = bench::simulated_edges(*shown, first_seed() + static_cast<std::uint64_t>(i));
    const auto found = evaluation::measure_overshoot(capture.frame, *shown);
    if (!found) continue;
    const bool rings = capture.percent > 1e-9;
    (rings ? some : none) += 1;
    for (std::size_t k = 0; k < 2; ++k) {
      const auto& interval = (*found)[k].percent.interval;
      rings ? held[k] += interval.contains(capture.percent) : claims_none += interval.lower == 0;
    }
  }
  const double right = 50.0 * claims_none / std::max(1, none);
  return {figure("coverage_overshoot_across", held[0], some),
          figure("coverage_overshoot_down", held[1], some),
          {"overshoot_none_told_right", right, "%", ">= 97.5", right >= 97.5}};
}

}  // namespace

int main(int argc, char** argv) {
  return bench::run(
      argc, argv,
      {{{"coverage_chroma_upright_1px", "coverage_chroma_upright_4px", "coverage_chroma_lying_1px",
         "chroma_sampling_told_right"},
        chroma},
       {{"coverage_overshoot_across", "coverage_overshoot_down", "overshoot_none_told_right"}, overshoot}});
}
