// How often the 95 % intervals of findings from a camera's clip or pictures hold what is true of the simulated display.
#include <cstdlib>

#include "figure.h"
#include "simulated_cameras.h"
#include "trials.h"

namespace {

using namespace provenit;

int trials() {
  return bench::trials("COVERAGE_TRIALS", 1);
}
std::uint64_t seed(int trial) {
  return bench::first_seed() + static_cast<std::uint64_t>(trial);
}

std::vector<bench::Figure> zones() {
  int seen = 0, held = 0, refused = 0;
  for (int i = 0; i < trials(); ++i) {
    const auto filmed = bench::simulated_clip(seed(i));
    const auto found = evaluation::count_zones(filmed.clip, filmed.path);
    if (!found) ++refused;
    if (!found || !found->zones.steps_seen) continue;
    ++seen;
    held += found->zones.count.interval.contains(filmed.zones);
  }
  const double percent = 100.0 * held / std::max(1, seen), share = 100.0 * seen / trials();
  return {{"coverage_zone_clip", percent, "%", ">= 93", percent >= 93},
          {"zone_clip_seen", share, "%", ">= 50", share >= 50},
          {"zone_clip_refused", 100.0 * refused / trials(), "%", "<= 20", 100.0 * refused / trials() <= 20}};
}

std::vector<bench::Figure> field() {
  const char* names[] = {"coverage_field_picture_9", "coverage_field_picture_25", "coverage_field_picture_99"};
  int held[3] = {};
  for (int i = 0; i < trials(); ++i) {
    const auto taken = bench::simulated_field(seed(i));
    const auto found = evaluation::measure_field(taken.field, taken.again, taken.flat, taken.options);
    for (std::size_t k = 0; found && k < 3; ++k)
      held[k] +=
          (*found)[k].nonuniformity.interval.contains(taken.nonuniformity((*found)[k].columns, (*found)[k].rows));
  }
  std::vector<bench::Figure> out;
  for (std::size_t k = 0; k < 3; ++k) {
    const double percent = 100.0 * held[k] / trials();
    out.push_back({names[k], percent, "%", "93 to 97", percent >= 93 && percent <= 97});
  }
  return out;
}

}  // namespace

int main(int argc, char** argv) {
  return bench::run(argc, argv,
                    {{{"coverage_zone_clip", "zone_clip_seen", "zone_clip_refused"}, zones},
                     {{"coverage_field_picture_9", "coverage_field_picture_25", "coverage_field_picture_99"}, field}});
}
