// Words and drawings of the site.
#include "chart.h"

#include <gmock/gmock.h>

#include <cstdint>

#include "axes.h"
#include "words.h"

namespace provenit::publish {
namespace {

using testing::HasSubstr;
using testing::Not;

// The same words as the report's page says (web/src/lib/format.test.ts).
TEST(Words, ConditionsReadAsInTheReport) {
  EXPECT_EQ(condition_words({{"window_percent", 10}}), "10\u00a0% window");
  EXPECT_EQ(condition_words({{"plane", "uv"}, {"reference", "p3_d65"}}), "u\u2032v\u2032, P3-D65");
  EXPECT_EQ(condition_words({{"columns", 5}, {"rows", 7}}), "5 \u00d7 7 squares");
  EXPECT_EQ(condition_words({{"angle_deg", 30}, {"direction", "right"}}), "30\u00b0 right");
  EXPECT_EQ(condition_words({{"direction", "across"}}), "across");
  EXPECT_EQ(condition_words({{"distance_percent", 4}, {"window_percent", 4}}),
            "4\u00a0% of the width away, 4\u00a0% window");
  EXPECT_EQ(condition_words({{"level_cdm2", 100}}), "at 100\u00a0cd/m\u00b2");
  EXPECT_EQ(condition_words({{"reference", "bt2020"}, {"space", "ictcp"}}), "BT.2020, ICtCp");
  EXPECT_EQ(condition_words({{"local_dimming", "as_found"}}), "local dimming as found");
  EXPECT_EQ(condition_words({{"observer", "cie2015_2deg"}}), "CIE 2015, 2\u00b0");
  EXPECT_EQ(condition_words({{"new_key", 3}}), "new key 3");
}

TEST(Words, DigitsFollowTheInterval) {
  EXPECT_EQ(figure_words(1412.5, 1383.2, 1441.8, "cd/m2").whole(), "1412\u00a0cd/m\u00b2 (1383 to 1442)");
  EXPECT_EQ(figure_words(0.00412, 0.0039, 0.0044, "1").whole(), "0.00412 (0.00390 to 0.00440)");
  EXPECT_EQ(figure_words(40, 40, 40, "1").interval, "40");
  EXPECT_EQ(figure_words(12345, 12300, 12400, "cd/m2").value, "12\u202f345");
  EXPECT_EQ(figure_words(-0.00001, -0.01, 0.01, "1").value, "0.000");
  EXPECT_EQ(figure_words(-2.5, -2.9, -2.1, "%").value, "\u22122.50");
  EXPECT_EQ(figure_words(3, -INFINITY, 5, "1").interval, "at most 5.0");
  EXPECT_EQ(figure_words(1, 0.5, 1.5, "1", "sequential_contrast").with_unit(), "1.00\u00a0:\u00a01");
}

TEST(Words, MarkupIsEscaped) {
  EXPECT_EQ(escaped("<a href=\"x\">'&'"), "&lt;a href=&quot;x&quot;&gt;&#39;&amp;&#39;");
  EXPECT_EQ(slug_of("  Tern 32 (\u00c5) / B "), "tern-32-b");
  EXPECT_EQ(slug_of("\u4e2d"), "display");
}

TEST(Axes, TicksAreRoundAndWithin) {
  const auto labels = [](const std::vector<Tick>& ticks) {
    std::vector<std::string> out;
    for (const auto& t : ticks) out.push_back(t.label);
    return out;
  };
  EXPECT_THAT(labels(even_ticks(0, 1500, 4)), testing::ElementsAre("0", "500", "1000", "1500"));
  EXPECT_THAT(labels(even_ticks(-30, 30, 4)), testing::ElementsAre("\u221220", "0", "20"));
  EXPECT_THAT(labels(decade_ticks(1, 100)), testing::ElementsAre("1", "2", "5", "10", "20", "50", "100"));
  EXPECT_THAT(labels(decade_ticks(0.001, 10)), testing::ElementsAre("0.001", "0.01", "0.1", "1", "10"));
  EXPECT_DOUBLE_EQ(round_up(1412), 1500);
  EXPECT_DOUBLE_EQ(round_up(0.0301), 0.04);
  EXPECT_DOUBLE_EQ(round_up(9.5), 10);
  const Scale log{1, 100, 0, 200, true};
  EXPECT_DOUBLE_EQ(log(10), 100);
  EXPECT_DOUBLE_EQ(log(1000), 200);
}

std::vector<Rung> rungs(const std::vector<store::FindingRecord>& findings) {
  std::vector<Rung> out;
  for (const auto& f : findings) out.push_back({"Display & " + std::to_string(f.id), &f, f.id != 2});
  return out;
}

TEST(Chart, AFileStandsAloneAndIsAsLargeAsItSays) {
  std::vector<store::FindingRecord> findings;
  for (int i = 1; i <= 3; ++i)
    findings.push_back({.id = i,
                        .quantity = "peak_luminance",
                        .value = 400.0 * i,
                        .unit = "cd/m2",
                        .standard_uncertainty = 5,
                        .lower95 = 400.0 * i - 10,
                        .upper95 = 400.0 * i + 10});
  const auto chart = ladder_chart("peak", "Peak <luminance>", rungs(findings));
  ASSERT_EQ(chart.numbers.rows.size(), 3U);
  EXPECT_THAT(chart.caption, HasSubstr("not to be compared"));
  const auto svg = plate_svg(chart, Plate::video, "Invented. Published today.");
  EXPECT_THAT(svg, HasSubstr("width=\"1920\" height=\"1080\""));
  EXPECT_THAT(svg, HasSubstr("Peak &lt;luminance&gt;"));
  EXPECT_THAT(svg, HasSubstr("Display &amp; 3"));
  EXPECT_THAT(svg, Not(HasSubstr("var(--")));
  const auto png = png_of(svg);
  ASSERT_TRUE(png) << png.error().text();
  // PNG (ISO/IEC 15948), IHDR: width and height in network order from byte 16.
  const auto number_at = [&](std::size_t at) {
    std::uint32_t out = 0;
    for (std::size_t k = 0; k < 4; ++k) out = out << 8U | static_cast<unsigned char>((*png)[at + k]);
    return out;
  };
  EXPECT_EQ(number_at(16), 1920U);
  EXPECT_EQ(number_at(20), 1080U);
  EXPECT_EQ(png_of("<svg").error().code, ErrorCode::io);
  // One spot for every row of the numbers, in both drawings of the page.
  for (const bool narrow : {false, true}) {
    const auto drawing = inline_svg(chart, narrow);
    const auto from = drawing.find("data-spots=\"") + 12;
    const auto spots = drawing.substr(from, drawing.find('"', from) - from);
    EXPECT_EQ(std::ranges::count(spots, ','), 3) << drawing;
  }
}

/// A greyscale of a display that follows its target but for a factor, and clips.
shelf::Item grey_display(const std::string& name, double factor) {
  shelf::Item item;
  item.name = name;
  store::FindingRecord f{.quantity = "eotf_mean_delta_e_itp", .method = "m"};
  for (int i = 1; i <= 10; ++i) {
    const double target = 10.0 * i * i;
    f.series.push_back({{"signal", 0.1 * i},
                        {"target_cdm2", target},
                        {"value_cdm2", target * factor},
                        {"lower95_cdm2", target * (factor - 0.02)},
                        {"upper95_cdm2", target * (factor + 0.02)},
                        {"above_clip", i > 8}});
  }
  item.findings.push_back(f);
  return item;
}

TEST(Chart, CoursesAreOfWhoIsShownAndNumbersSayDeviations) {
  const std::vector<shelf::Item> items{grey_display("A", 1.05), grey_display("B", 0.9)};
  const auto charts = charts_of({.items = items, .shown = {1}}, "tone");
  ASSERT_EQ(charts.size(), 1U);  // no difference, no colour in these series
  EXPECT_EQ(charts.front().id, "eotf");
  ASSERT_EQ(charts.front().numbers.rows.size(), 10U);
  EXPECT_EQ(charts.front().numbers.rows.front(),
            (std::vector<std::string>{"B", "0.1", "\u221210.0", "\u221212.0 to \u22128.0"}));
  const auto both = charts_of({.items = items, .shown = {0, 1}}, "tone");
  EXPECT_EQ(both.front().numbers.rows.size(), 20U);
  EXPECT_THAT(inline_svg(both.front(), false), HasSubstr(">A<"));
}

}  // namespace
}  // namespace provenit::publish
