// CGATS.17 / ISO 28178 text. Outside check: Little CMS's IT8/CGATS parser reads the same bytes.
#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <lcms2.h>

#include <memory>

#include "provenit/base/text.h"
#include "provenit/colour/spaces.h"
#include "provenit/instrument/import.h"

namespace provenit::instrument {
namespace {

using ::testing::ElementsAre;
using ::testing::HasSubstr;

ImportOptions absolute() {
  ImportOptions o;
  o.file = "r.txt";
  o.scale = ValueScale::absolute;
  return o;
}

const std::string kHead =
    "CGATS.17\nORIGINATOR \"a laboratory\"\nCREATED \"2026-11-25\"\nKEYWORD \"SAMPLE_NAME\"\n# a "
    "remark\nNUMBER_OF_FIELDS 5\n"
    "BEGIN_DATA_FORMAT\nSAMPLE_ID SAMPLE_NAME XYZ_X XYZ_Y XYZ_Z\nEND_DATA_FORMAT\n";
const std::string kXyz =
    kHead +
    "NUMBER_OF_SETS 3\nBEGIN_DATA\n1 \"red\" 41.24 21.26 1.93\n2\t\"Sample 2\"\t35.76\t71.52\t11.92\n"
    "3 blue 18.05 7.22 95.05 # last\nEND_DATA\n";

ImportReport import(const std::string& text, const ImportOptions& options = absolute()) {
  auto report = import_readings(text, options);
  if (!report) throw std::runtime_error(report.error().text());
  return std::move(*report);
}
std::string why(const std::string& text, const ImportOptions& options = absolute()) {
  const auto report = import_readings(text, options);
  return report ? "accepted" : report.error().text();
}

struct It8 {
  explicit It8(const std::string& text)
      : handle(cmsIT8LoadFromMem(nullptr, text.data(), static_cast<cmsUInt32Number>(text.size()))) {}
  ~It8() {
    if (handle) cmsIT8Free(handle);
  }
  It8(const It8&) = delete;
  It8& operator=(const It8&) = delete;
  [[nodiscard]] double number(int row, const char* field) const {
    return cmsIT8GetDataRowColDbl(handle, row, cmsIT8FindDataFormat(handle, field));
  }
  cmsHANDLE handle;
};

TEST(ImportCgats, ReadsTheSameValuesAsLittleCms) {
  const auto r = import(kXyz);
  EXPECT_EQ(r.format, ImportFormat::cgats);
  ASSERT_EQ(r.readings.size(), 3U);
  EXPECT_TRUE(r.refused.empty());
  EXPECT_TRUE(r.remarks.empty());
  const It8 it8(kXyz);
  ASSERT_TRUE(it8.handle);
  ASSERT_EQ(cmsIT8GetPropertyDbl(it8.handle, "NUMBER_OF_SETS"), 3);
  for (int row = 0; row < 3;
       ++row) {  // 4 units in the last place: Little CMS does not round a decimal number correctly
    const auto& reading = r.readings[static_cast<std::size_t>(row)];
    EXPECT_DOUBLE_EQ(reading.measurement.xyz.X, it8.number(row, "XYZ_X"));
    EXPECT_DOUBLE_EQ(reading.measurement.xyz.Y, it8.number(row, "XYZ_Y"));
    EXPECT_DOUBLE_EQ(reading.measurement.xyz.Z, it8.number(row, "XYZ_Z"));
    EXPECT_EQ(reading.sample, cmsIT8GetDataRowCol(it8.handle, row, cmsIT8FindDataFormat(it8.handle, "SAMPLE_NAME")));
  }
  EXPECT_EQ(r.readings[0].step, "red");
  EXPECT_EQ(r.readings[1].line, 13);
}

// The other way: what Little CMS writes, we read.
TEST(ImportCgats, ReadsWhatLittleCmsWrites) {
  const std::shared_ptr<void> it8(cmsIT8Alloc(nullptr), cmsIT8Free);
  const std::vector<const char*> fields{"SAMPLE_NAME", "XYY_X", "XYY_Y", "XYY_CAPY", "SPECTRAL_380", "SPECTRAL_390"};
  cmsIT8SetSheetType(it8.get(), "CGATS.17");
  cmsIT8SetPropertyStr(it8.get(), "ORIGINATOR", "a laboratory");
  cmsIT8SetPropertyDbl(it8.get(), "NUMBER_OF_FIELDS", static_cast<double>(fields.size()));
  cmsIT8SetPropertyDbl(it8.get(), "NUMBER_OF_SETS", 2);
  for (std::size_t i = 0; i < fields.size(); ++i) cmsIT8SetDataFormat(it8.get(), static_cast<int>(i), fields[i]);
  const double values[2][5] = {{0.64, 0.33, 21.5, 0.001, 0.002}, {0.3, 0.6, 71.25, 0.003, 0.004}};
  for (int row = 0; row < 2; ++row) {
    cmsIT8SetDataRowCol(it8.get(), row, 0, row == 0 ? "red patch" : "green");
    for (int column = 0; column < 5; ++column) cmsIT8SetDataRowColDbl(it8.get(), row, column + 1, values[row][column]);
  }
  cmsUInt32Number size = 0;
  ASSERT_TRUE(cmsIT8SaveToMem(it8.get(), nullptr, &size));
  std::string text(size, '\0');
  ASSERT_TRUE(cmsIT8SaveToMem(it8.get(), text.data(), &size));
  text.resize(text.find_last_not_of('\0') + 1);
  auto o = absolute();
  o.spectral_unit = SpectralUnit::mw_per_sr_m2_nm;
  const auto r = import(text, o);
  ASSERT_EQ(r.readings.size(), 2U) << text;
  for (std::size_t row = 0; row < 2; ++row) {
    const auto& m = r.readings[row].measurement;
    const auto xy = colour::xy_from_xyz(m.xyz);
    EXPECT_NEAR(xy.x, values[row][0], 1e-9);
    EXPECT_NEAR(xy.y, values[row][1], 1e-9);
    EXPECT_NEAR(m.xyz.Y, values[row][2], 1e-9);
    EXPECT_NEAR(m.spectrum->radiance[1], values[row][4] / 1000, 1e-12);
  }
  EXPECT_EQ(r.readings[0].sample, "red patch");
}

TEST(ImportCgats, ScaleAndSpectralUnitMustBeStated) {
  auto o = absolute();
  o.scale = ValueScale::unstated;
  EXPECT_THAT(why(kXyz, o), HasSubstr("r.txt:7 (XYZ_X): a CGATS file cannot state whether its values are cd/m2"));
  o.scale = ValueScale::relative;
  EXPECT_THAT(why(kXyz, o), HasSubstr("nothing states what white stands for"));
  o.relative_white = RelativeWhite{.cdm2 = 1000, .step = "", .value = 100};
  EXPECT_DOUBLE_EQ(import(kXyz, o).readings[0].measurement.xyz.Y, 212.6);
}

std::string spectral(const std::string& prefix) {
  std::string format, row;
  for (int nm = 380; nm <= 780; nm += 10) format += " " + prefix + std::to_string(nm), row += " 0.01";
  return "CGATS.17\nBEGIN_DATA_FORMAT\nSAMPLE_NAME" + format +
         "\nEND_DATA_FORMAT\nNUMBER_OF_SETS 1\nBEGIN_DATA\nwhite" + row + "\nEND_DATA\n";
}

TEST(ImportCgats, SpectralFieldsInTheWaysTheyAreWritten) {
  auto o = absolute();
  o.spectral_unit = SpectralUnit::w_per_sr_m2_nm;
  o.observer = colour::Observer::cie1931_2deg;
  for (const char* prefix : {"SPECTRAL_", "SPECTRAL_NM", "SPECTRAL_NM_", "nm", "NM_", "spectral_"}) {
    const auto r = import(spectral(prefix), o);
    ASSERT_EQ(r.readings.size(), 1U) << prefix;
    EXPECT_NEAR(r.readings[0].measurement.xyz.Y, 683 * 0.01 * 106.857, 0.5) << prefix;
    EXPECT_EQ(r.readings[0].measurement.spectrum->step_nm, 10);
  }
  o.spectral_unit = SpectralUnit::unstated;
  EXPECT_THAT(why(spectral("nm"), o), HasSubstr("give no light"));
}

TEST(ImportCgats, FieldsLeftUnusedAreRemarkedOnOnce) {
  const std::string text =
      "CGATS.17\nBEGIN_DATA_FORMAT\nSAMPLE_ID RGB_R RGB_G RGB_B XYZ_X XYZ_Y XYZ_Z LAB_L nm380 nm390\nEND_DATA_FORMAT\n"
      "BEGIN_DATA\nA1 940 940 940 95 100 109 100 1 1\nEND_DATA\n";
  auto r = import(text);
  ASSERT_EQ(r.readings.size(), 1U);
  EXPECT_EQ(r.readings[0].sample, "A1");
  EXPECT_FALSE(r.readings[0].code);
  ASSERT_EQ(r.remarks.size(), 5U);  // two counts missing, LAB_L, RGB, spectral
  auto o = absolute();
  o.rgb_fields_are_codes = true;
  r = import(text, o);
  EXPECT_THAT(r.readings[0].code->code, ElementsAre(940, 940, 940));
}

TEST(ImportCgats, CountsAreChecked) {
  EXPECT_THAT(why(kHead + "NUMBER_OF_SETS 2\nBEGIN_DATA\n1 a 1 1 1\nEND_DATA\n"),
              HasSubstr("r.txt:10 (NUMBER_OF_SETS): says 2, but 1 stand between"));
  EXPECT_THAT(why("CGATS.17\nNUMBER_OF_FIELDS 4\nBEGIN_DATA_FORMAT\nXYZ_X XYZ_Y "
                  "XYZ_Z\nEND_DATA_FORMAT\nBEGIN_DATA\nEND_DATA\n"),
              HasSubstr("r.txt:2 (NUMBER_OF_FIELDS): says 4, but the data format names 3"));
  EXPECT_THAT(why(kHead + "NUMBER_OF_SETS x\nBEGIN_DATA\nEND_DATA\n"), HasSubstr("is no count"));
}

TEST(ImportCgats, FilesCutOffAreRefusedWhole) {
  const auto cut = [](const char* at) { return why(kXyz.substr(0, kXyz.find(at))); };
  EXPECT_THAT(cut("END_DATA\n"), HasSubstr("(END_DATA): is missing: the file may be cut off"));
  EXPECT_THAT(cut("END_DATA_FORMAT"), HasSubstr("(END_DATA_FORMAT): is missing"));
  EXPECT_THAT(cut("BEGIN_DATA\n"), HasSubstr("holds no data"));
  for (std::size_t n = kXyz.find("NUMBER_OF_FIELDS"); n < kXyz.size() - 10; ++n) {
    auto o = absolute();
    o.format = ImportFormat::cgats;
    EXPECT_FALSE(import_readings(kXyz.substr(0, n), o)) << n;
  }
}

TEST(ImportCgats, RowsThatDoNotFitAreRefusedAndTheOthersKept) {
  const auto r =
      import(kHead + "NUMBER_OF_SETS 4\nBEGIN_DATA\n1 a 1 1 1\n2 two words 1 1 1\n3 c x 1 1\n4 d 1 1\nEND_DATA\n");
  EXPECT_EQ(r.readings.size(), 1U);
  EXPECT_EQ(r.rows, 4U);
  ASSERT_EQ(r.refused.size(), 3U);
  EXPECT_THAT(r.refused[0].text(), HasSubstr("r.txt:13: the line has 6 values, the data format 5"));
  EXPECT_THAT(r.refused[1].text(), HasSubstr("r.txt:14 (XYZ_X): 'x' is not a number"));
}

// One value too few in one line and one too many in the next must not shift into each other.
TEST(ImportCgats, SetsMayRunOverLinesButNeverShift) {
  auto r = import(kHead + "NUMBER_OF_SETS 2\nBEGIN_DATA\n1 a 1\n2 3\n2 b 4 5\n6\nEND_DATA\n");
  ASSERT_EQ(r.readings.size(), 2U);
  EXPECT_EQ(r.readings[0].measurement.xyz.Z, 3);
  EXPECT_EQ(r.readings[1].measurement.xyz.X, 4);
  EXPECT_EQ(r.readings[1].line, 14);
  r = import(kHead + "NUMBER_OF_SETS 2\nBEGIN_DATA\n1 a 1 2\n2 b 4 5 6 7\nEND_DATA\n");
  EXPECT_EQ(r.readings.size(), 0U);
  EXPECT_EQ(r.refused.size(), 2U);
}

TEST(ImportCgats, DecimalCommasLineEndingsAndSeveralTables) {
  std::string text = kHead + "NUMBER_OF_SETS 1\nBEGIN_DATA\n1 white 95,04 100,0 108,9\nEND_DATA\n" +
                     "NUMBER_OF_FIELDS 4\nBEGIN_DATA_FORMAT\nSAMPLE_NAME XYY_X XYY_Y XYY_CAPY\nEND_DATA_FORMAT\n" +
                     "NUMBER_OF_SETS 1\nBEGIN_DATA\nwhite 0.31 0.33 50\nEND_DATA\n";
  for (std::size_t at = 0; (at = text.find('\n', at)) != std::string::npos; at += 2) text.replace(at, 1, "\r\n");
  const auto r = import(text);
  ASSERT_EQ(r.readings.size(), 2U);
  EXPECT_DOUBLE_EQ(r.readings[0].measurement.xyz.X, 95.04);
  EXPECT_DOUBLE_EQ(r.readings[1].measurement.xyz.Y, 50);
  EXPECT_EQ(r.readings[1].repeat, 1);
}

}  // namespace
}  // namespace provenit::instrument
