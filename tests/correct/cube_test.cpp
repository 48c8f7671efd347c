// .cube against OpenColorIO 2.1.2 (BSD-3-Clause) and FFmpeg 5.1 (its lut3d filter); both in single precision.
#include <gmock/gmock.h>

#include <cstdlib>
#include <fstream>

#include "files.h"
#include "ocio.h"
#include "provenit/correct/lut_files.h"
#include "tables.h"

namespace provenit::correct {
namespace {

using testing::HasSubstr;
using Cube = Files;

const Affine kDomain{.matrix = colour::diagonal(Triple{1 / 1.2, 1 / 1.1, 1.0}), .offset = {0.1 / 1.2, 0.05 / 1.1, 0}};

std::vector<Lut> luts() {
  std::vector<Lut> all{lut_of({rough_3d(17, 1)}), lut_of({bent_1d(1024)}), lut_of({bent_1d(64), rough_3d(9, 2)})};
  const std::size_t count = all.size();
  for (std::size_t i = 0; i < count; ++i)
    for (const int bits : {10, 12}) all.push_back(rounded(all[i], bits));
  all.push_back(lut_of({kDomain, rough_3d(5, 3)}));
  return all;
}

TEST_F(Cube, OpenColorIoReadsWhatWeMean) {
  int i = 0;
  for (const Lut& lut : luts()) {
    const std::string file = path(std::to_string(++i) + ".cube");
    ASSERT_TRUE(write_lut(lut, file, {}));
    const auto theirs = file_processor(file);
    double worst = 0;
    for (const Triple& v : Draw(41).triples(2000))
      worst = std::max(worst, largest_difference(evaluate(lut, v), applied(theirs, v)));
    EXPECT_LE(worst, 4e-6) << i;
  }
}

/// Colours through FFmpeg's lut3d filter, tetrahedral, in planes of 32-bit floats (G, B, R).
std::vector<Triple> through_ffmpeg(const std::string& cube, const std::string& raw,
                                   const std::vector<Triple>& colours) {
  {
    std::ofstream out(raw, std::ios::binary);
    for (const std::size_t c : {1U, 2U, 0U})
      for (const Triple& v : colours) {
        const float f = static_cast<float>(v[c]);
        out.write(reinterpret_cast<const char*>(&f), sizeof f);
      }
  }
  const std::string format = " -f rawvideo -pix_fmt gbrpf32le ";
  const std::string command = "ffmpeg -nostdin -v error -y" + format + "-s " + std::to_string(colours.size()) +
                              "x1 -i " + raw + " -vf lut3d=file=" + cube + ":interp=tetrahedral" + format + raw +
                              ".out";
  EXPECT_EQ(std::system(command.c_str()), 0) << command;
  const std::string bytes = read_file(raw + ".out").value();
  EXPECT_EQ(bytes.size(), 12 * colours.size());
  std::vector<Triple> result(colours.size());
  std::size_t at = 0;
  for (const std::size_t c : {1U, 2U, 0U})
    for (Triple& v : result) {
      float f = 0;
      bytes.copy(reinterpret_cast<char*>(&f), sizeof f, at);
      at += sizeof f;
      v[c] = f;
    }
  return result;
}

TEST_F(Cube, FfmpegAppliesWhatWeMean) {
  const auto colours = Draw(42).triples(4000);
  // FFmpeg 5.1 takes the width of a domain into account and not where it begins.
  const Affine from_zero{.matrix = kDomain.matrix};
  for (const Lut& lut :
       {lut_of({rough_3d(17, 5)}), rounded(lut_of({rough_3d(33, 6)}), 10), lut_of({from_zero, rough_3d(9, 7)})}) {
    const std::string file = path("a.cube");
    ASSERT_TRUE(write_lut(lut, file, {}));
    const auto theirs = through_ffmpeg(file, path("a.raw"), colours);
    double worst = 0;
    for (std::size_t i = 0; i < colours.size(); ++i)
      worst = std::max(worst, largest_difference(evaluate(lut, colours[i]), theirs[i]));
    EXPECT_LE(worst, 8e-6);
  }
}

TEST_F(Cube, ReadBack) {
  for (Lut lut : luts()) {
    lut.input = Values{};
    lut.output = Values{.encoding = {.transfer = signal::Transfer::hlg}, .scale = Scale::code};
    const auto back = lut_from_cube(cube_text(lut).value(), "back.cube");
    ASSERT_TRUE(back) << back.error().text();
    EXPECT_EQ(back->title, lut.title);
    EXPECT_EQ(back->input, lut.input);
    EXPECT_EQ(back->output, lut.output);
    ASSERT_EQ(back->stages.size(), lut.stages.size());
    const auto* lattice = std::get_if<Lut3d>(&lut.stages.back());
    const bool coded = lattice != nullptr && lattice->entry_bits != 0;
    if (coded) {
      EXPECT_EQ(std::get<Lut3d>(back->stages.back()).nodes, lattice->nodes);
    }
    for (const Triple& v : Draw(43).triples(200))
      EXPECT_LE(largest_difference(evaluate(lut, v), evaluate(*back, v)), coded ? 0 : 1e-6);
  }
}

TEST_F(Cube, WhatDoesNotFitIsRefused) {
  for (const Lut& lut : {lut_of({}), lut_of({some_matrix(), rough_3d(3, 1)}),
                         lut_of({bent_1d(4), some_matrix(), bent_1d(4)}), lut_of({rough_3d(3, 1), bent_1d(4)})})
    EXPECT_EQ(cube_text(lut).error().code, ErrorCode::unsupported);
}

TEST_F(Cube, FaultsSayWhere) {
  const auto fault = [](const std::string& text) {
    const auto lut = lut_from_cube(text, "bad.cube");
    return lut ? std::string("none") : lut.error().text();
  };
  EXPECT_EQ(fault("LUT_1D_SIZE 2\r\n0 0 0\r\n1 1 1\r\n"), "none");
  EXPECT_THAT(fault("LUT_1D_SIZE 2\n0 0 0\n"), HasSubstr("the file ends after 1 of 2 entries"));
  EXPECT_THAT(fault("LUT_1D_SIZE 2\n0 0 0\n1 1 1\n1 1 1\n"), HasSubstr("bad.cube:4: there are more than the 2"));
  EXPECT_THAT(fault("LUT_1D_SIZE 2\n0 0\n"), HasSubstr("bad.cube:2: an entry has three numbers, this one 2"));
  EXPECT_THAT(fault("LUT_1D_SIZE 2\n0 x 0\n"), HasSubstr("bad.cube:2: 'x' is not a finite number"));
  EXPECT_THAT(fault("LUT_1D_SIZE 2\n0 nan 0\n"), HasSubstr("bad.cube:2: 'nan'"));
  EXPECT_THAT(fault("0 0 0\n"), HasSubstr("bad.cube:1: an entry stands before"));
  EXPECT_THAT(fault("LUT_3D_SIZE 500\n"), HasSubstr("LUT_3D_SIZE is 500, where 2 to 129"));
  EXPECT_THAT(fault("LUT_3D_SIZE 2\nLUT_3D_SIZE 2\n"), HasSubstr("bad.cube:2: LUT_3D_SIZE stands there twice"));
  EXPECT_THAT(fault("\nLUT_9D_SIZE 2\n"), HasSubstr("bad.cube:2: 'LUT_9D_SIZE' is no keyword"));
  EXPECT_THAT(fault("DOMAIN_MIN 0 0\n"), HasSubstr("DOMAIN_MIN needs 3 numbers"));
  EXPECT_THAT(fault("LUT_1D_SIZE 2\nDOMAIN_MIN 1 1 1\n0 0 0\n1 1 1\n"), HasSubstr("not below its maximum"));
  EXPECT_THAT(fault("LUT_1D_SIZE 2\nDOMAIN_MIN 0 0 0\nLUT_1D_INPUT_RANGE 0 1\n0 0 0\n1 1 1\n"),
              HasSubstr("both are there"));
  EXPECT_THAT(fault("TITLE a\n"), HasSubstr("TITLE has no text in quotes"));
  EXPECT_THAT(fault(""), HasSubstr("neither LUT_1D_SIZE nor LUT_3D_SIZE"));
}

}  // namespace
}  // namespace provenit::correct
