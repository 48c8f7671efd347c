// The compiled-in tables are the CSV files of data/reference, number by number.
#include <gtest/gtest.h>

#include <cmath>

#include "provenit/base/text.h"
#include "provenit/colour/daylight.h"
#include "provenit/colour/illuminant.h"
#include "provenit/colour/observer.h"
#include "provenit/colour/reflectance.h"

namespace provenit::colour {
namespace {

struct Csv {
  std::vector<std::string> names;
  std::vector<std::vector<double>> rows;
};

Csv read_reference(const std::string& name) {
  const auto text = read_file(std::string(PROVENIT_SOURCE_DIR) + "/data/reference/" + name + ".csv").value();
  Csv csv;
  for (const auto line : split(text, '\n')) {
    if (line.empty() || line.front() == '#') continue;
    const auto cells = split(line, ',');
    if (csv.names.empty()) {
      csv.names.assign(cells.begin(), cells.end());
      continue;
    }
    csv.rows.emplace_back();
    for (const auto cell : cells) csv.rows.back().push_back(parse_double(cell).value());
  }
  return csv;
}

/// Each column of the file against what the library gives for the column's name at the row's wavelength.
template <class Value>
void expect_equal(const std::string& file, std::size_t rows, Value value) {
  const auto csv = read_reference(file);
  ASSERT_EQ(csv.rows.size(), rows) << file;
  for (const auto& row : csv.rows)
    for (std::size_t c = 1; c < row.size(); ++c)
      EXPECT_EQ(value(csv.names[c], c - 1, Wavelength{row[0]}), row[c]) << file << " " << csv.names[c] << " " << row[0];
}

double at(const Spectrum& s, Wavelength w) {
  const double position = (w.nm - s.start_nm) / s.step_nm;
  EXPECT_EQ(position, std::floor(position));
  return s.values.at(static_cast<std::size_t>(position));
}

TEST(SpectrumTables, ObserversEqualTheirFiles) {
  const struct {
    Observer observer;
    const char* file;
    std::size_t rows;
  } observers[] = {{Observer::cie1931_2deg, "cie1931_2deg_1nm", 471},
                   {Observer::cie1964_10deg, "cie1964_10deg_1nm", 471},
                   {Observer::cie2015_2deg, "cie2015_2deg_1nm", 441},
                   {Observer::cie2015_10deg, "cie2015_10deg_1nm", 441}};
  for (const auto& o : observers)
    expect_equal(o.file, o.rows, [&](const std::string&, std::size_t column, Wavelength w) {
      const auto m = matching_functions(o.observer, w);
      return column == 0 ? m.x : column == 1 ? m.y : m.z;
    });
}

TEST(SpectrumTables, ConeFundamentalsEqualTheirFile) {
  expect_equal("cie2006_lms_2deg_1nm", 441, [](const std::string&, std::size_t column, Wavelength w) {
    const auto c = cone_fundamentals(w);
    return column == 0 ? c.l : column == 1 ? c.m : c.s;
  });
}

TEST(SpectrumTables, LuminousEfficiencyEqualsItsFile) {
  expect_equal("luminous_efficiency_1nm", 401, [](const std::string&, std::size_t column, Wavelength w) {
    return column == 0 ? photopic_efficiency(w) : scotopic_efficiency(w);
  });
}

TEST(SpectrumTables, IlluminantsEqualTheirFiles) {
  const auto by_name = [](const std::string& name, std::size_t, Wavelength w) {
    return at(illuminant(name).value(), w);
  };
  expect_equal("illuminants_other", 97, by_name);
  expect_equal("illuminants_led_fl", 81, by_name);
  expect_equal("illuminant_d65", 97,
               [](const std::string&, std::size_t, Wavelength w) { return at(illuminant("D65").value(), w); });
  expect_equal("illuminant_d65_1nm", 531,
               [](const std::string&, std::size_t, Wavelength w) { return at(illuminant_d65_1nm(), w); });
  EXPECT_EQ(illuminant_names().size(), 17U);
}

TEST(SpectrumTables, TestColourSamplesEqualTheirFile) {
  expect_equal("cie_tcs", 95, [](const std::string& name, std::size_t, Wavelength w) {
    return at(test_colour_sample(name).value(), w);
  });
  EXPECT_EQ(test_colour_sample_names().size(), 14U);
}

TEST(SpectrumTables, UnknownNamesAreNamedWithTheKnownOnes) {
  const auto unknown = illuminant("D93");
  ASSERT_FALSE(unknown);
  EXPECT_EQ(unknown.error().code, ErrorCode::not_found);
  EXPECT_NE(unknown.error().message.find("D93"), std::string::npos);
  EXPECT_NE(unknown.error().advice.find("LED-RGB1"), std::string::npos);
  EXPECT_FALSE(test_colour_sample("TCS15"));
}

// ISO/CIE 11664-2 gives the formula of A; the table is printed to six digits.
TEST(SpectrumTables, IlluminantAFollowsItsFormula) {
  const auto a = illuminant("A").value();
  for (int i = 0; i < a.size(); ++i)
    EXPECT_NEAR(illuminant_a_power({a.wavelength_nm(i)}) / a.values[i], 1, 6e-6) << a.wavelength_nm(i);
}

}  // namespace
}  // namespace provenit::colour
