#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "provenit/colour/spaces.h"
#include "provenit/instrument/import.h"

namespace provenit::instrument {
namespace {

using ::testing::ElementsAre;
using ::testing::HasSubstr;

ImportReport import(const std::string& text, ImportOptions options = {}) {
  options.file = "r.csv";
  auto report = import_readings(text, options);
  if (!report) throw std::runtime_error(report.error().text());
  return std::move(*report);
}

std::string why(const std::string& text, ImportOptions options = {}) {
  options.file = "r.csv";
  const auto report = import_readings(text, options);
  return report ? "accepted" : report.error().text();
}

/// The refusal of the one row of a file with this heading.
std::string row_why(const std::string& heading, const std::string& row, ImportOptions options = {}) {
  const auto report = import(heading + "\n" + row + "\n", std::move(options));
  return report.refused.empty() ? "accepted" : report.refused.front().text();
}

TEST(ImportCsv, TakesTheThreeFormsOfLight) {
  const auto xyz = import("sample,X (cd/m2),Y (cd/m2),Z (cd/m2)\nwhite,95.0456,100,108.9058\n");
  const auto yxy = import("sample,Y (cd/m2),x,y\nwhite,100,0.3127,0.3290\n");
  const auto yuv = import("sample,Y (mcd/m2),u' (1),v' (1)\nwhite,100000,0.1978300,0.4683199\n");
  for (const auto* r : {&xyz, &yxy, &yuv}) {
    ASSERT_EQ(r->readings.size(), 1U);
    const auto& m = r->readings[0].measurement;
    EXPECT_NEAR(m.xyz.X, 95.0456, 1e-3);
    EXPECT_NEAR(m.xyz.Y, 100, 1e-9);
    EXPECT_NEAR(m.xyz.Z, 108.9058, 1e-3);
    EXPECT_EQ(r->readings[0].step, "white");
    EXPECT_EQ(r->readings[0].scale, "cd/m2");
    EXPECT_EQ(r->readings[0].line, 2);
  }
  EXPECT_EQ(xyz.readings[0].measurement.raw_reply, "white,95.0456,100,108.9058");
}

TEST(ImportCsv, EverySeparatorQuoteEndingAndDecimalMarkGivesTheSame) {
  for (const char* text :
       {"sample,Y (cd/m2),x,y\nwhite,203.5,0.3127,0.329\nblack,0.25,0.31,0.33\n",
        "sample;Y (cd/m2);x;y\r\nwhite;203,5;0,3127;0,329\r\nblack;0,25;0,31;0,33",
        "\xEF\xBB\xBFsample\tY (cd/m2)\tx\ty\rwhite\t203.5\t0.3127\t0.329\rblack\t0.25\t0.31\t0.33\r",
        "# taken in the dark\n\n\"sample\",\"Y (cd/m2)\", \"x\" ,\"y\"\n\"white\",\"203.5\",0.3127,\"0.329\"\n\n black "
        ",0.25,0.31,0.33\n",
        "sample,Y,x,y\n,cd/m2,1,1\nwhite,203.5,0.3127,0.329\nblack,0.25,0.31,0.33\n"}) {
    const auto r = import(text);
    ASSERT_EQ(r.readings.size(), 2U) << text;
    EXPECT_TRUE(r.refused.empty());
    EXPECT_TRUE(r.remarks.empty());
    EXPECT_EQ(r.rows, 2U);
    EXPECT_EQ(r.readings[0].sample, "white");
    EXPECT_DOUBLE_EQ(r.readings[0].measurement.xyz.Y, 203.5);
    EXPECT_EQ(r.readings[1].step, "black");
    EXPECT_NEAR(colour::xy_from_xyz(r.readings[1].measurement.xyz).x, 0.31, 1e-12);
  }
}

TEST(ImportCsv, QuotedCellsMayHoldAnythingAndLinesAreCounted) {
  const auto r = import("sample,Y (cd/m2),x,y\n\"a, \"\"b\"\"\nc\",1,0.3,0.3\nlast,x,0.3,0.3\n");
  ASSERT_EQ(r.readings.size(), 1U);
  EXPECT_EQ(r.readings[0].sample, "a, \"b\"\nc");
  ASSERT_EQ(r.refused.size(), 1U);
  EXPECT_EQ(r.refused[0].where.line, 4);
}

TEST(ImportCsv, CodesTimeIntegrationStepAndRepeats) {
  const auto r = import(
      "name,step,R (code),G (code),B (code),time,integration (ms),Y (cd/m2),x,y\n"
      "p1,grey_512,512,512,512,2026-11-25T09:30:00Z,500,92,0.31,0.33\n"
      "p2,grey_512,512,512,512,,,93,0.31,0.33\n"
      "p3,,,,,,,94,0.31,0.33\n");
  ASSERT_EQ(r.readings.size(), 3U);
  EXPECT_THAT(r.readings[0].code->code, ElementsAre(512, 512, 512));
  EXPECT_DOUBLE_EQ(r.readings[0].taken->unix_s, 1795599000.0);
  EXPECT_EQ(r.readings[0].measurement.integration, Seconds{0.5});
  EXPECT_EQ(r.readings[0].repeat, 0);
  EXPECT_EQ(r.readings[1].repeat, 1);
  EXPECT_FALSE(r.readings[1].taken);
  EXPECT_FALSE(r.readings[2].code);
  EXPECT_EQ(r.readings[2].step, "p3");
}

TEST(ImportCsv, MappingGivesStepsAndCodes) {
  ImportOptions o;
  o.mapping = {*parse_mapping("Sample 4=white:940,940,940"), *parse_mapping("a = b=red")};
  auto r = import("sample,Y (cd/m2),x,y\nsample 4,1,0.3,0.3\na = b,1,0.3,0.3\nRed,1,0.3,0.3\n", o);
  ASSERT_EQ(r.readings.size(), 3U);
  EXPECT_EQ(r.readings[0].step, "white");
  EXPECT_THAT(r.readings[0].code->code, ElementsAre(940, 940, 940));
  EXPECT_EQ(r.readings[1].step, "red");
  EXPECT_EQ(r.readings[2].step, "red");
  EXPECT_EQ(r.readings[2].repeat, 1);
  EXPECT_FALSE(r.readings[2].code) << "without an encoding no code is assumed";
  o.encoding = signal::Encoding{};  // PQ, BT.2020, 10-bit narrow
  r = import("sample,Y (cd/m2),x,y\nred,1,0.3,0.3\nGREEN,1,0.3,0.3\nblack,0,0.3,0.3\ngrey,1,0.3,0.3\n", o);
  EXPECT_THAT(r.readings[0].code->code, ElementsAre(940, 64, 64));  // BT.2100-3: narrow range, black 64, peak 940
  EXPECT_THAT(r.readings[1].code->code, ElementsAre(64, 940, 64));
  EXPECT_THAT(r.readings[2].code->code, ElementsAre(64, 64, 64));
  EXPECT_FALSE(r.readings[3].code);
  for (const char* bad : {"", "a", "=b", "a=", "a=b:1,2", "a=b:1,2,x", "a=b:1,2,70000", "a=b:1,2,-1"})
    EXPECT_FALSE(parse_mapping(bad)) << bad;
}

TEST(ImportCsv, MissingUnitsAreRefusedWithWhatToWrite) {
  EXPECT_EQ(why("sample,Y,x,y\nw,1,0.3,0.3\n"),
            "r.csv:1 (Y): the column states no unit. Write 'Y (cd/m2)' in the heading, with one of: cd/m2, mcd/m2, fL, "
            "relative.");
  EXPECT_THAT(why("sample,Y (lux),x,y\n"), HasSubstr("'lux' is no unit of this column"));
  EXPECT_THAT(why("sample,Y (cd/m2),x (cd/m2),y\n"), HasSubstr("(x (cd/m2))"));
  EXPECT_THAT(why("sample,R,G,B,Y (cd/m2),x,y\n"), HasSubstr("Write 'R (code)'"));
  EXPECT_THAT(why("sample,380 nm,390 nm\n"), HasSubstr("Write '380 nm (W/(sr m2 nm))'"));
  EXPECT_THAT(why("sample,integration,Y (cd/m2),x,y\n"), HasSubstr("Write 'integration (s)'"));
  EXPECT_THAT(why("wavelength,red (relative)\n380,1\n"), HasSubstr("Write 'wavelength (nm)'"));
  ImportOptions absolute;
  absolute.scale = ValueScale::absolute;
  EXPECT_EQ(why("sample,Y,x,y\nw,1,0.3,0.3\n", absolute), "accepted");
  EXPECT_THAT(why("sample,Y (relative),x,y\nw,1,0.3,0.3\n", absolute), HasSubstr("the options state 'cd/m2'"));
}

TEST(ImportCsv, RelativeValuesNeedTheLuminanceOfWhite) {
  const std::string text =
      "sample,X (relative),Y (relative),Z (relative)\nwhite,95,100,109\nwhite,95,102,109\nred,41,21,2\n";
  EXPECT_THAT(why(text), HasSubstr("nothing states what white stands for"));
  ImportOptions o;
  o.relative_white = RelativeWhite{.cdm2 = 202};
  auto r = import(text, o);
  ASSERT_EQ(r.readings.size(), 3U);
  EXPECT_DOUBLE_EQ(r.readings[0].measurement.xyz.Y, 200);  // mean of 100 and 102 stands for 202
  EXPECT_DOUBLE_EQ(r.readings[2].measurement.xyz.X, 82);
  EXPECT_EQ(r.readings[2].scale, "relative: mean Y of white = 202 cd/m2, as stated");
  o.relative_white = RelativeWhite{.cdm2 = 250, .step = "", .value = 100};
  r = import(text, o);
  EXPECT_DOUBLE_EQ(r.readings[2].measurement.xyz.Y, 52.5);
  o.relative_white = RelativeWhite{.cdm2 = 250, .step = "peak"};
  EXPECT_THAT(why(text, o), HasSubstr("no usable row is the step 'peak'"));
  o.relative_white = RelativeWhite{.cdm2 = -1};
  EXPECT_THAT(why(text, o), HasSubstr("cannot be the luminance of white"));
}

TEST(ImportCsv, SpectraInRowsOrColumnsBecomeXyzOfTheStatedObserver) {
  std::string rows = "sample", columns = "wavelength (nm),white (mW/(sr m2 nm))\n", values = "\nwhite";
  for (int nm = 380; nm <= 780; nm += 5) {
    rows += "," + std::to_string(nm) + " nm (mW/(sr m2 nm))";
    values += ",10";
    columns += std::to_string(nm) + ",10\n";
  }
  rows += values + "\n";
  EXPECT_THAT(why(rows), HasSubstr("spectra need an observer"));
  ImportOptions o;
  o.observer = colour::Observer::cie1931_2deg;
  for (const auto& text : {rows, columns}) {
    const auto r = import(text, o);
    ASSERT_EQ(r.readings.size(), 1U);
    const auto& m = r.readings[0].measurement;
    ASSERT_TRUE(m.spectrum);
    EXPECT_EQ(m.spectrum->start_nm, 380);
    EXPECT_EQ(m.spectrum->step_nm, 5);
    EXPECT_DOUBLE_EQ(m.spectrum->radiance.back(), 0.01);
    EXPECT_NEAR(m.xyz.Y, 683 * 0.01 * 5 * 21.3714, 0.01);  // as in line_instrument_test
    EXPECT_EQ(r.readings[0].derived, "XYZ by CIE 1931 2deg from 380-780 nm, step 5 nm, native sum");
    EXPECT_EQ(r.readings[0].step, "white");
  }
  o.observer = colour::Observer::cie1964_10deg;
  EXPECT_GT(import(rows, o).readings[0].measurement.xyz.Y, 730 * 1.05);  // sum of y10: 23.3 at 5 nm (CIE 15, memory)
}

TEST(ImportCsv, BadSpectraAreRefused) {
  ImportOptions o;
  o.observer = colour::Observer::cie1931_2deg;
  EXPECT_THAT(why("sample,380 nm (relative),390 nm (relative),410 nm (relative)\nw,1,1,1\n", o),
              HasSubstr("equal steps"));
  EXPECT_THAT(why("wavelength (nm),a (relative),b (W/(sr m2 nm))\n380,1,1\n385,1,1\n", o),
              HasSubstr("different units"));
  EXPECT_THAT(why("wavelength (nm),a (relative)\n380,1\n385\n", o), HasSubstr("r.csv:3: the line has 1 cells"));
  EXPECT_THAT(why("wavelength (nm),a (relative)\nx,1\n", o), HasSubstr("'x' is no wavelength"));
  EXPECT_THAT(why("wavelength (nm)\n380\n385\n", o), HasSubstr("no sample"));
  const auto r = import("wavelength (nm),a (W/(sr m2 nm)),b (W/(sr m2 nm))\n500,1,1\n600,1,x\n", o);
  ASSERT_EQ(r.refused.size(), 2U);
  EXPECT_THAT(r.refused[0].text(), HasSubstr("leaves out"));
  EXPECT_THAT(r.refused[1].text(), HasSubstr("r.csv:3 (600 nm): 'x' is not a number"));
}

TEST(ImportCsv, EachBadRowIsRefusedWithLineFieldAndReason) {
  const std::string h = "sample,Y (cd/m2),x,y";
  EXPECT_EQ(
      row_why(h, "w,abc,0.3,0.3"),
      "r.csv:2 (Y (cd/m2)): 'abc' is not a number. Write digits with one decimal mark and no thousands separators, or "
      "leave the row out.");
  EXPECT_THAT(row_why(h, "w,,0.3,0.3"), HasSubstr("the value is missing"));
  EXPECT_THAT(row_why(h, "w,1,0.3"), HasSubstr("has 3 cells, the heading 4"));
  EXPECT_THAT(row_why(h, "w,1,0.3,0.3,5"), HasSubstr("has 5 cells"));
  EXPECT_THAT(row_why(h, "w,\"1,5\",0.3,0.3"), HasSubstr("decimal comma where commas part the columns"));
  EXPECT_THAT(row_why(h, "w,1,0.9,0.3"), HasSubstr("(x): no light has the chromaticity"));
  EXPECT_THAT(row_why(h, "w,-5,0.3,0.3"), HasSubstr("more negative"));
  EXPECT_THAT(row_why(h, "w,\"1\"5,0.3,0.3"), HasSubstr("text follows a closing quote"));
  EXPECT_THAT(row_why(h, "w,NaN,0.3,0.3"), HasSubstr("not a number"));
  EXPECT_THAT(row_why(h + ",time", "w,1,0.3,0.3,yesterday"), HasSubstr("(time): 'yesterday' is not a date"));
  EXPECT_THAT(row_why(h + ",R (code),G (code),B (code)", "w,1,0.3,0.3,1.5,2,3"), HasSubstr("1.5 is no code value"));
  ImportOptions o;
  o.encoding = signal::Encoding{};
  EXPECT_THAT(row_why(h + ",R (code),G (code),B (code)", "w,1,0.3,0.3,1024,2,3", o), HasSubstr("does not fit 10 bits"));
  EXPECT_THAT(row_why("sample;Y (cd/m2);x;y", "w;1.234,5;0,3;0,3"), HasSubstr("not a number"));
  EXPECT_EQ(row_why(h, "w,-0.05,0.3,0.3"), "accepted");
}

TEST(ImportCsv, OneDecimalMarkForTheWholeFile) {
  const auto r = import("sample;Y (cd/m2);x;y\na;1,5;0,3;0,3\nb;1.5;0,3;0,3\nc;2;0,3;0,3\n");
  EXPECT_EQ(r.readings.size(), 2U);
  ASSERT_EQ(r.refused.size(), 1U);
  EXPECT_THAT(r.refused[0].text(), HasSubstr("r.csv:3 (Y (cd/m2)): '1.5' has another decimal mark"));
}

TEST(ImportCsv, ColumnsThatCannotBeUsedAreRemarkedOnOrRefused) {
  const auto r = import("sample,Y (cd/m2),x,y,CCT (K)\nw,1,0.3,0.3,6500\n");
  ASSERT_EQ(r.remarks.size(), 1U);
  EXPECT_EQ(r.remarks[0].where.field, "CCT (K)");
  EXPECT_THAT(why("sample,Y (cd/m2),x,y,y\n"), HasSubstr("is there twice"));
  EXPECT_THAT(why("sample,Y (cd/m2),x\n"), HasSubstr("give no light"));
  EXPECT_THAT(why("sample,X (cd/m2),Y (relative),Z (cd/m2)\n"), HasSubstr("side by side"));
  EXPECT_THAT(why("sample,R (code),Y (cd/m2),x,y\n"), HasSubstr("only some of the code values"));
}

TEST(ImportCsv, SpectrumThatContradictsItsXyzIsRemarkedOn) {
  std::string heading = "sample,X (cd/m2),Y (cd/m2),Z (cd/m2)", row = "\nw,729.8,729.8,729.8", bad = "\nv,700,700,700";
  for (int nm = 380; nm <= 780; nm += 5) {
    heading += "," + std::to_string(nm) + " nm (W/(sr m2 nm))";
    row += ",0.01";
    bad += ",0.01";
  }
  ImportOptions o;
  o.observer = colour::Observer::cie1931_2deg;
  const auto r = import(heading + row + bad + "\n", o);
  ASSERT_EQ(r.readings.size(), 2U);
  EXPECT_EQ(r.readings[1].measurement.xyz.Y, 700);
  ASSERT_EQ(r.remarks.size(), 1U);
  EXPECT_EQ(r.remarks[0].where.line, 3);
}

TEST(ImportCsv, FilesThatAreNoTextOrHaveNoHeadingAreRefusedWhole) {
  EXPECT_THAT(why(""), HasSubstr("holds no heading"));
  EXPECT_THAT(why("\n\n# only a remark"), HasSubstr("holds no heading"));
  EXPECT_THAT(why("sample,Y (cd/m2),x,y\nM\xfcller,1,0.3,0.3\n"), HasSubstr("r.csv:2: the file is not UTF-8 text"));
  EXPECT_THAT(why(std::string("a\0b", 3)), HasSubstr("not UTF-8"));
  EXPECT_THAT(why("sample,Y (cd/m2),x,y\n\"w,1,0.3,0.3\n"), HasSubstr("r.csv:2: a quote is opened and never closed"));
  ImportOptions o;
  o.separator = '|';
  EXPECT_THAT(why("sample\n", o), HasSubstr("separator"));
  EXPECT_FALSE(import_file("/does/not/exist.csv", {}));
}

}  // namespace
}  // namespace provenit::instrument
