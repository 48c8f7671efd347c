// How often the 95 % intervals hold what is true, for the methods that move the meter, wait or switch the display.
#include <cstdlib>

#include "figure.h"
#include "placed_checks.h"
#include "trials.h"

int main(int argc, char** argv) {
  using namespace provenit;
  const int loans = bench::trials("COVERAGE_LOANS");
  const auto first = bench::first_seed();
  std::vector<bench::Entry> entries;
  for (const auto& scenario : bench::placed_scenarios()) {
    std::vector<std::string> names;
    for (const auto& check : scenario.checks) names.push_back(check.figure);
    entries.push_back(
        {names, [scenario, loans, first] {
           const auto held = bench::held_in(scenario, first, loans);
           std::vector<bench::Figure> figures;
           for (std::size_t k = 0; k < held.size(); ++k) {
             const double percent = 100.0 * held[k] / loans;
             figures.push_back({scenario.checks[k].figure, percent, "%", "93 to 97", percent >= 93 && percent <= 97});
           }
           return figures;
         }});
  }
  return bench::run(argc, argv, entries);
}
