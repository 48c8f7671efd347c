// What is wrong with a table is named by file, line and field, and the sound rows still run.
#include <gtest/gtest.h>

#include "provenit/selfcheck/selfcheck.h"

namespace provenit::selfcheck {
namespace {

struct Broken {
  const char* row;    ///< fields before the source
  const char* field;  ///< where the error points
  const char* says;   ///< part of the message
};

class BrokenRow : public testing::TestWithParam<Broken> {};

TEST_P(BrokenRow, IsNamedAndTheOthersRun) {
  const auto& broken = GetParam();
  const std::string table = "# comment\nid,quantity,inputs,expected,tolerance,source\nfirst,pq_eotf,E=0,0,abs:0,s\n" +
                            std::string(broken.row) + ",s\nlast,pq_eotf,E=1,10000,abs:1e-9,s\n";
  const auto report = check_table(table, "mine.csv").value();
  ASSERT_EQ(report.errors.size(), 1U) << text_of(report);
  const auto& error = report.errors[0];
  EXPECT_EQ(error.where.file, "mine.csv");
  EXPECT_EQ(error.where.line, 4);
  EXPECT_EQ(error.where.field, broken.field) << error.text();
  EXPECT_NE(error.message.find(broken.says), std::string::npos) << error.text();
  EXPECT_FALSE(error.advice.empty());
  EXPECT_EQ(error.message.find("row x: "), error.message.rfind("row x: ")) << "named once: " << error.text();
  EXPECT_EQ(report.count(Verdict::pass), 2);
  EXPECT_FALSE(report.all_pass());
}

const Broken kBroken[] = {
    // the row itself
    {"x,pq_eotf,E=1,1", "", "5 fields, the header names 6"},
    {"x,pq_eotf,E=1,1,abs:0,too,many", "", "8 fields"},
    {"\"x,pq_eotf,E=1,1,abs:0", "", "quote is left open"},
    {",pq_eotf,E=1,1,abs:0", "id", "no id"},
    {"first,pq_eotf,E=1,1,abs:0", "id", "already that of line 3"},
    {"x,pq_eoft,E=1,1,abs:0", "quantity", "'pq_eoft' is no quantity"},
    {"x,,E=1,1,abs:0", "quantity", "is no quantity"},
    {"x,pq_eotf,E=\xE9,1,abs:0", "", "not UTF-8"},
    {"x,pq_eotf,E=\xF4\x98\x9A\x8A,1,abs:0", "", "not UTF-8"},
    // expected and tolerance
    {"x,pq_eotf,E=1,ten,abs:0", "expected", "'ten' is not a list of numbers"},
    {"x,pq_eotf,E=1,,abs:0", "expected", "is not a list of numbers"},
    {"x,pq_eotf,E=1,1 2,abs:0", "expected", "2 components where the quantity has 1"},
    {"x,cielab,XYZ=1 2 3; XYZ_n=4 5 6,1 2,abs:0", "expected", "2 components where the quantity has 3"},
    {"x,pq_eotf,E=1,nan,abs:0", "expected", "is not a list of numbers"},
    {"x,pq_eotf,E=1,1,1e-9", "tolerance", "'1e-9' is no tolerance"},
    {"x,pq_eotf,E=1,1,abs:-1", "tolerance", "is no tolerance"},
    {"x,pq_eotf,E=1,1,rel:", "tolerance", "is no tolerance"},
    {"x,pq_eotf,E=1,1,", "tolerance", "is no tolerance"},
    // inputs
    {"x,pq_eotf,,1,abs:0", "E", "the input 'E' is missing"},
    {"x,pq_eotf,E 1,1,abs:0", "E", "is missing"},
    {"x,pq_eotf,E=,1,abs:0", "E", "is not a list of numbers"},
    {"x,pq_eotf,E=1/0,1,abs:0", "E", "is not a list of numbers"},
    {"x,pq_eotf,E=1 2,1,abs:0", "E", "2 numbers where 1 are needed"},
    {"x,pq_eotf,E=1; F=2,1,abs:0", "F", "no input 'F'"},
    {"x,pq_eotf,E=1; E=2,1,abs:0", "inputs", "'E' is given twice"},
    {"x,pq_eotf,E=1; roughly,1,abs:0", "inputs", "'roughly' has no '='"},
    {"x,pq_eotf,as nobody,1,abs:0", "inputs", "'as nobody' names no row"},
    {"x,pq_eotf,as x,1,abs:0", "inputs", "circle"},
    {"x,pq_eotf,as first; as last,1,abs:0", "inputs", "'as' is given twice"},
    {"x,cielab,XYZ=1 2; XYZ_n=4 5 6,1 2 3,abs:0", "XYZ", "2 numbers where 3"},
    {"x,cielab,XYZ=1 2 3,1 2 3,abs:0", "XYZ_n", "is missing"},
    {"x,cielab,XYZ=1 2 3; XYZ_n=0 0 0,1 2 3,abs:0", "inputs", "no finite value"},
    {"x,hlg_eotf,RGB_signal=0 0 0; L_W=0; L_B=0; gamma=1.2,0 0 0,abs:0", "L_W", "0 is not above 0"},
    {"x,hlg_eotf,RGB_signal=0 0 0; L_W=1000; L_B=2000; gamma=1.2,0 0 0,abs:0", "L_B", "not below L_W"},
    {"x,hlg_eotf,RGB_signal=0 0 0; L_W=1000; L_B=0; gamma=by hand,0 0 0,abs:0", "gamma", "'by hand'"},
    {"x,bt1886_eotf,V=1; L_W=100; L_B=-1,0,abs:0", "L_B", "-1 is below 0"},
    {"x,pq_codes,L_cdm2=1; order=10bits_narrow,1,exact", "order", "'10bits_narrow' is no form of code"},
    {"x,pq_codes,L_cdm2=1; order=7bit_full,1,exact", "order", "is no form of code"},
    {"x,pq_code_to_luminance,code=1024; bits=10; range=full,1,abs:0", "code", "1024 is no code of 10 bits"},
    {"x,pq_code_to_luminance,code=10.5; bits=10; range=full,1,abs:0", "code", "10.5 is no code"},
    {"x,pq_code_to_luminance,code=10; bits=20; range=full,1,abs:0", "bits", "20 is not a whole number from 8 to 16"},
    {"x,pq_code_to_luminance,code=10; bits=10; range=legal,1,abs:0", "range", "'legal' is not known"},
    {"x,cct,u=0.2,5000,abs:1", "v", "is missing"},
    {"x,cct,u=0.6; v=0.1,5000,abs:1", "inputs", "CCT"},
    {"x,cie_daylight_xy,T=3000,0 0,abs:1", "T", "3000 K"},
    {"x,gamut_area,plane=uv; primaries=0.64 0.33 0.3 0.6 0.15 0.06,1,abs:0", "plane", "'uv' is not known"},
    {"x,gamut_area,plane=xy; primaries=0.64 0.33 0.3 0.6 0.15,1,abs:0", "primaries", "is no set of primaries"},
    {"x,gamut_coverage,plane=xy; test=P4; reference=P3,1,abs:0", "test", "'P4' is no set of primaries"},
    {"x,rgb_to_xyz_matrix,primaries_xy_RGB=0.64 0.33 0.3 0.6 0.15 0,1 2 3 4 5 6 7 8 9,abs:0", "primaries_xy_RGB",
     "y = 0"},
    {"x,chromatic_adaptation,transform=CAT97; XYZ=1 1 1; white_from_xy=0.3 0.3; white_to_xy=0.3 0.3,1 1 1,abs:0",
     "transform", "'CAT97' is not known"},
    {"x,chromatic_adaptation,transform=CAT16; XYZ=1 1 1; white_from_xy=0.3 0.3; white_to_xy=0.3 0.3; partial "
     "adaptation,1 1 "
     "1,abs:0",
     "inputs", "'partial adaptation'"},
    {"x,xyz_from_reflectance,sample=TCS15; illuminant=A; observer=CIE 1931 2deg; 5 nm summation 380-780 nm,1 1 1,abs:0",
     "sample", "'TCS15'"},
    {"x,xyz_from_reflectance,sample=TCS01; illuminant=B; observer=CIE 1931 2deg; 5 nm summation 380-780 nm,1 1 1,abs:0",
     "illuminant", "'B'"},
    {"x,xyz_from_reflectance,sample=TCS01; illuminant=A; observer=CIE 1931; 5 nm summation 380-780 nm,1 1 1,abs:0",
     "observer", "'CIE 1931' is not known"},
    {"x,xyz_from_reflectance,sample=TCS01; illuminant=A; observer=CIE 1931 2deg,1 1 1,abs:0", "inputs", "how to sum"},
    {"x,xyz_from_reflectance,sample=TCS01; illuminant=A; observer=CIE 1931 2deg; 3 nm summation 380-779 nm,1 1 1,abs:0",
     "inputs", "no sample at 383 nm"},
    {"x,xyz_from_reflectance,sample=TCS01; illuminant=A; observer=CIE 1931 2deg; 5 nm summation blue nm,1 1 1,abs:0",
     "inputs", "'blue'"},
    {"x,xyz_from_spectral_radiance,observer=CIE 1931 2deg; sum at 1 nm over the CMF range; S(l)=(0.1 500),1 1 1,abs:0",
     "S(l)", "(0.1 500)"},
    {"x,xyz_from_spectral_radiance,observer=CIE 1931 2deg; sum at 1 nm over the CMF range; S(l)=(0.1 500 0),1 1 "
     "1,abs:0",
     "S(l)", "(0.1 500 0)"},
    {"x,xyz_from_spectral_radiance,observer=CIE 1931 2deg; sum at 1 nm over the CMF range; S(l)=a box: (1 500 9),1 1 "
     "1,abs:0",
     "S(l)", "'a box'"},
    {"x,maxcll_maxfall_cdm2,encoding=PQ RGB; bits=10; range=full; frame1=1 2,1 1,abs:0", "frame1",
     "'1 2' is not a pixel"},
    {"x,maxcll_maxfall_cdm2,encoding=PQ RGB; bits=10; range=full; frame1=1 2 3; frame3=1 2 3,1 1,abs:0", "frame3",
     "no input 'frame3'"},
    {"x,maxcll_maxfall_cdm2,encoding=PQ YCbCr; bits=10; range=full; frame1=1 2 3,1 1,abs:0", "encoding", "'PQ YCbCr'"},
    {"x,xy_standard_uncertainty,XYZ=1 1 1; u_XYZ=1 1 1; r_XY r_XZ r_YZ=0 0 2,1 1 1,abs:0", "r_XY r_XZ r_YZ",
     "2 is no correlation"},
    {"x,xy_standard_uncertainty,XYZ=1 1 1; u_XYZ=1 1 1; r_XY r_XZ r_YZ=0 0 0; output=u_z,1,abs:0", "output", "'u_z'"},
    {"x,bt2111_709_bar_codes,bar=pink; system=PQ 58 % display referred; bits=10; range=narrow,1 1 1,exact", "bar",
     "'pink'"},
    {"x,bt2111_709_bar_codes,bar=red; system=PQ display referred; bits=10; range=narrow,1 1 1,exact", "system",
     "is no bar system"},
};

INSTANTIATE_TEST_SUITE_P(Kinds, BrokenRow, testing::ValuesIn(kBroken));

Error refused(std::string_view table) {
  const auto report = check_table(table, "mine.csv");
  EXPECT_FALSE(report);
  return report ? Error{} : report.error();
}

TEST(BrokenTable, WithoutAHeaderRowIsRefused) {
  EXPECT_NE(refused("").message.find("no header row"), std::string::npos);
  EXPECT_NE(refused("# only comments\n\n").message.find("no header row"), std::string::npos);
  const auto no_header = refused("pq-1,pq_eotf,E=1,10000,abs:1,s\n");
  EXPECT_NE(no_header.message.find("'pq-1' is no column"), std::string::npos);
  EXPECT_EQ(no_header.where.file, "mine.csv");
  EXPECT_EQ(no_header.where.line, 1);
}

TEST(BrokenTable, WithAWrongHeaderRowIsRefused) {
  EXPECT_EQ(refused("id,quantity,inputs,expected,source\n").where.field, "tolerance");
  EXPECT_NE(refused("id,quantity,inputs,expected,tolerance,source,source\n").message.find("twice"), std::string::npos);
  EXPECT_NE(refused("\"id,quantity,inputs,expected,tolerance,source\n").message.find("open quote"), std::string::npos);
}

TEST(BrokenTable, ACircleOfTwoRowsIsFound) {
  const auto report =
      check_table("id,quantity,inputs,expected,tolerance,source\na,pq_eotf,as b,1,abs:0,s\nb,pq_eotf,as a,1,abs:0,s\n",
                  "t.csv")
          .value();
  EXPECT_EQ(report.errors.size(), 2U);
  EXPECT_TRUE(report.rows.empty());
}

TEST(BrokenTable, ErrorsStandInTheOrderOfTheLines) {
  const auto report = check_table(
                          "id,quantity,inputs,expected,tolerance,source\na,nothing,,1,abs:0,s\nb,short\n"
                          "c,pq_eotf,E=x,1,abs:0,s\n",
                          "t.csv")
                          .value();
  ASSERT_EQ(report.errors.size(), 3U);
  for (int i = 0; i < 3; ++i) EXPECT_EQ(report.errors[static_cast<std::size_t>(i)].where.line, i + 2);
}

}  // namespace
}  // namespace provenit::selfcheck
