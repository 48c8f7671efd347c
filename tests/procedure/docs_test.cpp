// The pages under docs/methods are held to the code: every procedure has one that names its quantities and parameters
// with their defaults, and whose example is what the procedure really does.
#include <fmt/format.h>
#include <gmock/gmock.h>

#include "play.h"
#include "provenit/base/text.h"
#include "provenit/procedure/estimate.h"

namespace provenit::procedure {
namespace {

using testing::HasSubstr;

std::string line_of(const Step& step) {
  std::string line = fmt::format("{:<12} {}; settle {} s", step.key, signal::describe(step.signal), step.settle.s);
  if (step.rest.s > 0) line += fmt::format("; after {:.4g} s of black", step.rest.s);
  if (step.interval.s > 0) line += fmt::format("; every {} s", step.interval.s);
  if (step.stay.s > 0) line += fmt::format("; {} s after it was shown", step.stay.s);
  if (step.placement != instrument::Placement{}) line += "; " + instrument::describe(step.placement);
  return line;
}

/// One pass on an ideal PQ display of 1000 cd/m2, 10-bit narrow; equal lines that follow each other are counted.
std::string example_of(const Procedure& procedure) {
  Context context;
  if (procedure.default_parameters().contains("repeats")) context.parameters = {{"repeats", 1}, {"max_repeats", 1}};
  const auto played = play(procedure, context, [](const auto& s, double) { return ideal_luminance_cdm2(s, 1000); });
  EXPECT_TRUE(played);
  std::string text, last;
  int count = 0;
  const auto put = [&] {
    if (count > 0) text += last + (count > 1 ? fmt::format("; {} times", count) : "") + "\n";
  };
  for (const auto& step : played->steps) {
    const std::string line = line_of(step);
    if (line != last) {
      put();
      count = 0;
    }
    last = line;
    ++count;
  }
  put();
  return text;
}

TEST(MethodPages, EveryProcedureHasItsPage) {
  for (const auto& procedure : all_procedures()) {
    const auto page = read_file(PROVENIT_SOURCE_DIR "/docs/methods/" + procedure->id() + ".md");
    ASSERT_TRUE(page) << page.error().text();
    EXPECT_THAT(*page, HasSubstr(procedure->title()));
    EXPECT_THAT(*page, HasSubstr(fmt::format("version {}", procedure->version())));
    for (const auto& quantity : procedure->quantities()) EXPECT_THAT(*page, HasSubstr("`" + quantity + "`"));
    const auto common = read_file(PROVENIT_SOURCE_DIR "/docs/methods/README.md").value();
    const auto defaults = procedure->default_parameters();
    for (const auto& [key, value] : defaults.items()) {
      const std::string row = fmt::format("| `{}` | {} |", key, value.dump());
      EXPECT_TRUE(page->find(row) != std::string::npos || common.find(row) != std::string::npos)
          << procedure->id() << ": " << row;
    }
  }
}

TEST(MethodPages, ExamplesAreWhatTheProceduresDo) {
  for (const auto& procedure : all_procedures()) {
    const auto page = read_file(PROVENIT_SOURCE_DIR "/docs/methods/" + procedure->id() + ".md");
    ASSERT_TRUE(page);
    const std::string fence = "```steps\n";
    const auto begin = page->find(fence);
    if (begin == std::string::npos) {
      ADD_FAILURE() << procedure->id() << " has no example. It does this:\n" << example_of(*procedure);
      continue;
    }
    const auto from = begin + fence.size();
    EXPECT_EQ(page->substr(from, page->find("```", from) - from), example_of(*procedure)) << procedure->id();
  }
}

}  // namespace
}  // namespace provenit::procedure
