// The examples of docs/instruments.md and docs/import.md are run.
#include <gtest/gtest.h>

#include <vector>

#include "provenit/base/text.h"
#include "provenit/instrument/import.h"
#include "provenit/instrument/instrument_description.h"

namespace provenit::instrument {
namespace {

/// The fenced blocks of one kind.
std::vector<std::string> blocks(const std::string& page, const std::string& kind) {
  const auto text = read_file(std::string(PROVENIT_SOURCE_DIR) + "/docs/" + page);
  std::vector<std::string> out;
  if (!text) return out;
  const std::string begin = "```" + kind + "\n";
  for (auto at = text->find(begin); at != std::string::npos; at = text->find(begin, at + 1)) {
    const auto from = at + begin.size();
    out.push_back(text->substr(from, text->find("```", from) - from));
  }
  return out;
}

TEST(Docs, InstrumentDescriptionsAreRead) {
  const auto examples = blocks("instruments.md", "toml");
  EXPECT_EQ(examples.size(), 2U);
  for (const auto& example : examples) {
    const auto d = parse_description(example, "docs/instruments.md");
    EXPECT_TRUE(d) << d.error().text();
  }
}

TEST(Docs, ImportsAreRead) {
  for (const char* kind : {"csv", "cgats"}) {
    const auto examples = blocks("import.md", kind);
    EXPECT_EQ(examples.size(), kind == std::string("csv") ? 3U : 1U);
    for (const auto& example : examples) {
      ImportOptions o{.file = "docs/import.md"};
      if (kind == std::string("cgats")) o.scale = ValueScale::absolute;
      o.relative_white = RelativeWhite{.cdm2 = 80};
      o.observer = colour::Observer::cie1931_2deg;
      const auto report = import_readings(example, o);
      ASSERT_TRUE(report) << report.error().text();
      EXPECT_TRUE(report->refused.empty()) << report->refused.front().text();
      EXPECT_FALSE(report->readings.empty());
    }
  }
}

}  // namespace
}  // namespace provenit::instrument
