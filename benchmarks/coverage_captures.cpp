// How often the 95 % intervals of findings from captured frames hold what is true of the simulated chain.
#include <cstdlib>

#include "figure.h"
#include "simulated_captures.h"

namespace {

using namespace provenit;

int trials() {
  const char* asked = std::getenv("COVERAGE_TRIALS");  // fewer for a quick look; the figures want 1000
  return asked == nullptr ? 1000 : std::max(20, std::atoi(asked));
}

bench::Figure figure(const std::string& name, int held, int of, bool two_sided) {
  const double percent = 100.0 * held / of;
  return {name, percent, "%", two_sided ? "93 to 97" : ">= 93", percent >= 93 && (!two_sided || percent <= 97)};
}

std::vector<bench::Figure> chroma() {
  const auto shown = signal::TestPicture::make({.key = "chroma_lines", .encoding = {}, .size = {960, 540}});
  int held[3] = {}, kept = 0;
  for (int i = 1; i <= trials(); ++i) {
    const auto capture = bench::simulated_chroma(*shown, static_cast<std::uint64_t>(i));
    const auto found = evaluation::measure_chroma(capture.frame, *shown);
    if (!found) continue;
    kept += found->kept == capture.kept;
    held[0] += found->details[0].percent.interval.contains(capture.across_1px);
    held[1] += found->details[2].percent.interval.contains(capture.across_4px);
    held[2] += found->details[3].percent.interval.contains(capture.down_1px);
  }
  const double right = 100.0 * kept / trials();
  return {figure("coverage_chroma_upright_1px", held[0], trials(), true),
          figure("coverage_chroma_upright_4px", held[1], trials(), true),
          figure("coverage_chroma_lying_1px", held[2], trials(), true),
          {"chroma_sampling_told_right", right, "%", ">= 99", right >= 99}};
}

std::vector<bench::Figure> overshoot() {
  const auto shown = signal::TestPicture::make({.key = "scaling_set", .encoding = {}, .size = {640, 360}});
  int held[2] = {};
  for (int i = 1; i <= trials(); ++i) {
    const auto capture = bench::simulated_edges(*shown, static_cast<std::uint64_t>(i));
    const auto found = evaluation::measure_overshoot(capture.frame, *shown);
    for (std::size_t k = 0; found && k < 2; ++k) held[k] += (*found)[k].percent.interval.contains(capture.percent);
  }
  return {figure("coverage_overshoot_across", held[0], trials(), false),
          figure("coverage_overshoot_down", held[1], trials(), false)};
}

}  // namespace

int main(int argc, char** argv) {
  return bench::run(argc, argv,
                    {{{"coverage_chroma_upright_1px", "coverage_chroma_upright_4px", "coverage_chroma_lying_1px",
                       "chroma_sampling_told_right"},
                      chroma},
                     {{"coverage_overshoot_across", "coverage_overshoot_down"}, overshoot}});
}
