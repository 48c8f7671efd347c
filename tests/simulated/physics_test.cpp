// Reading a display from TOML, and what is said when it cannot be read.
#include <fstream>
#include <sstream>

#include "fixture.h"
#include "provenit/base/text.h"

namespace provenit::simulated::testing {
namespace {

std::string file_text(const std::string& id) {
  auto text = read_file(std::string(PROVENIT_SOURCE_DIR) + "/data/simulated/" + id + ".toml");
  if (!text) throw std::runtime_error(text.error().text());
  return *text;
}

/// The file with one piece replaced, and the line (from 1) where the piece stands.
struct Changed {
  std::string text;
  int line = 0;
};
Changed changed(const std::string& from, const std::string& to, const std::string& id = "tern-32") {
  std::string text = file_text(id);
  const auto at = text.find(from);
  if (at == std::string::npos) throw std::runtime_error("not in the file: " + from);
  const int line = 1 + static_cast<int>(std::count(text.begin(), text.begin() + static_cast<long>(at), '\n'));
  return {text.replace(at, from.size(), to), line};
}

struct Case {
  const char *from, *to, *field;
  ErrorCode code;
};

class Refused : public ::testing::TestWithParam<Case> {};

TEST_P(Refused, WithFileLineAndKey) {
  const auto& [from, to, field, code] = GetParam();
  const auto [text, line] = changed(from, to);
  const auto physics = parse_physics(text, "mine.toml");
  ASSERT_FALSE(physics);
  const Error& e = physics.error();
  EXPECT_EQ(e.code, code) << e.text();
  EXPECT_EQ(e.where.file, "mine.toml");
  EXPECT_EQ(e.where.line, line) << e.text();
  EXPECT_EQ(e.where.field, field) << e.text();
  EXPECT_FALSE(e.message.empty());
  EXPECT_FALSE(e.advice.empty());
}

INSTANTIATE_TEST_SUITE_P(
    Physics, Refused,
    ::testing::Values(
        Case{"peak_cdm2 = 1418", "peak_cdm2 = \"bright\"", "light.peak_cdm2", ErrorCode::invalid_input},
        Case{"peak_cdm2 = 1418", "peak_cdm2 = -3", "light.peak_cdm2", ErrorCode::out_of_range},
        Case{"peak_cdm2 = 1418", "peak_cdm2 = nan", "light.peak_cdm2", ErrorCode::invalid_input},
        Case{"refresh_hz = 60", "refreshhz = 60", "light.refreshhz", ErrorCode::invalid_input},
        Case{"name = \"Tern 32\"", "name = 32", "name", ErrorCode::invalid_input},
        Case{"neutral = 50\ngain = [0.1,", "neutral = 500\ngain = [0.1,", "controls.neutral", ErrorCode::out_of_range},
        Case{"name = \"Green gain\"", "name = \"Red gain\"", "controls.name", ErrorCode::out_of_range},
        Case{"bend = -0.12", "bent = -0.12", "controls.bent", ErrorCode::invalid_input},
        Case{"white = [0.3142, 0.3267]", "white = [0.3142]", "light.white", ErrorCode::invalid_input},
        Case{"white = [0.3142, 0.3267]", "white = [0.62, 0.60]", "light.white", ErrorCode::out_of_range},
        Case{"white = [0.3142, 0.3267]", "white = [0.72, 0.25]", "light.white", ErrorCode::out_of_range},
        Case{"{ load = 0.45, cap = 0.985 }", "{ load = 0.45, cap = 1.0, kap = 2 }", "limiter.points.kap",
             ErrorCode::invalid_input},
        Case{"{ load = 0.70, cap = 0.90 }", "{ load = 0.70, cap = 0.99 }", "limiter.points.cap",
             ErrorCode::out_of_range},
        Case{"{ load = 0.70, cap = 0.90 }", "{ load = 0.30, cap = 0.90 }", "limiter.points.load",
             ErrorCode::out_of_range},
        Case{"columns = 40", "columns = 40.5", "zones.columns", ErrorCode::invalid_input},
        Case{"columns = 40", "columns = 0", "zones.columns", ErrorCode::out_of_range},
        Case{"fast = [0.010, 0.007, 0.004]", "fast = [0.010, 0.007, 4]", "thermal.fast", ErrorCode::out_of_range},
        Case{"wander_longest_s = 14400", "wander_longest_s = 10", "thermal.wander_longest_s", ErrorCode::out_of_range},
        Case{"red = [0.0, -0.006, -0.002]", "red = 0", "interaction.red", ErrorCode::invalid_input}));

TEST(Physics, AMissingKeyIsNamedWithItsTable) {
  const auto [text, line] = changed("drive_exponent = 0.62\n", "");
  const auto physics = parse_physics(text, "mine.toml");
  ASSERT_FALSE(physics);
  EXPECT_EQ(physics.error().where.field, "zones.drive_exponent");
  EXPECT_GT(physics.error().where.line, 0);
  EXPECT_LE(physics.error().where.line, line);
}

TEST(Physics, ATableThatIsNotThereIsNamed) {
  const auto physics =
      parse_physics("id = \"a\"\nname = \"b\"\ntechnology = \"c\"\nclaimed_peak_cdm2 = 1\n", "mine.toml");
  ASSERT_FALSE(physics);
  EXPECT_EQ(physics.error().where.field, "light");
}

TEST(Physics, BrokenSyntaxIsNamedWithItsLine) {
  const auto [text, line] = changed("refresh_hz = 60", "refresh_hz = = 60");
  const auto physics = parse_physics(text, "mine.toml");
  ASSERT_FALSE(physics);
  EXPECT_EQ(physics.error().where.line, line);
}

TEST(Physics, ABacklightAndItsFiltersBelongTogether) {
  auto physics = parse_physics(changed("[backlight]", "[backlights]").text, "mine.toml");
  ASSERT_FALSE(physics);
  physics = parse_physics(changed("bands = [{ from_nm = 591", "peaks = [{ from_nm = 591").text, "mine.toml");
  ASSERT_FALSE(physics);
  EXPECT_EQ(physics.error().where.field, "primary.red.bands");
}

TEST(Physics, TheBinaryCarriesTheFilesOfTheTree) {
  EXPECT_EQ(built_in_ids(), (std::vector<std::string>{"curlew-27", "dunlin-55", "fluoride-check", "godwit-65",
                                                      "knot-24", "sanderling-31", "tern-32"}));
  for (const auto& id : built_in_ids()) {
    const auto built_in = built_in_physics(id);
    ASSERT_TRUE(built_in) << built_in.error().text();
    EXPECT_EQ(built_in->id, id);
    const auto loaded = load_physics(std::string(PROVENIT_SOURCE_DIR) + "/data/simulated/" + id + ".toml");
    ASSERT_TRUE(loaded) << loaded.error().text();
    EXPECT_EQ(loaded->peak_cdm2, built_in->peak_cdm2);
  }
}

TEST(Physics, UnknownNamesAndPathsAreErrors) {
  const auto unknown = built_in_physics("heron-99");
  ASSERT_FALSE(unknown);
  EXPECT_EQ(unknown.error().code, ErrorCode::not_found);
  EXPECT_NE(unknown.error().text().find("tern-32"), std::string::npos);
  const auto missing = load_physics("no/such/file.toml");
  ASSERT_FALSE(missing);
  EXPECT_EQ(missing.error().code, ErrorCode::io);
}

}  // namespace
}  // namespace provenit::simulated::testing
