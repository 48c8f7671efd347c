// How often the 95 % intervals of a match of two displays' whites hold what is true of the simulated displays.
#include <cstdlib>

#include "colour_loans.h"
#include "figure.h"
#include "simulated_matches.h"
#include "trials.h"

namespace {

using namespace provenit;

using bench::trials;

std::vector<bench::Figure> match(bool same_instrument) {
  const std::string of = same_instrument ? "one" : "two";
  int held[4] = {};
  for (int i = 1; i <= trials(); ++i) {
    const auto m = bench::simulated_match(static_cast<std::uint64_t>(i), same_instrument);
    const auto found = evaluation::match_whites(m.question);
    if (!found) continue;
    held[0] += found->dx.interval.contains(m.truth.dx);
    held[1] += found->dy.interval.contains(m.truth.dy);
    held[2] += found->x.interval.contains(m.truth.matched.x);
    held[3] += found->y.interval.contains(m.truth.matched.y);
  }
  std::vector<bench::Figure> out;
  for (int k = 0; k < 4; ++k) {
    const double percent = 100.0 * held[k] / trials();
    const char* names[] = {"dx", "dy", "x", "y"};
    out.push_back(
        {fmt::format("coverage_match_{}_{}", of, names[k]), percent, "%", "93 to 97", percent >= 93 && percent <= 97});
  }
  return out;
}

}  // namespace

int main(int argc, char** argv) {
  return bench::run(
      argc, argv,
      {{{"coverage_match_one_dx", "coverage_match_one_dy", "coverage_match_one_x", "coverage_match_one_y"},
        [] { return match(true); }},
       {{"coverage_match_two_dx", "coverage_match_two_dy", "coverage_match_two_x", "coverage_match_two_y"},
        [] { return match(false); }}});
}
