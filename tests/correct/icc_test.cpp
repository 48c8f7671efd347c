// ICC profiles against lcms2 2.14 (MIT), which applies them by itself.
#include <gmock/gmock.h>
#include <lcms2.h>

#include "files.h"
#include "provenit/colour/primaries.h"
#include "provenit/colour/transfer.h"
#include "provenit/correct/lut_files.h"
#include "tables.h"

namespace provenit::correct {
namespace {

using testing::HasSubstr;
using Icc = Files;
const Timestamp kCreated{1764063000.0};  // 2025-11-25T09:30:00Z

std::vector<Lut> luts() {
  Lut1d unbent = bent_1d(256);
  return {lut_of({bent_1d(1024)}),
          lut_of({rough_3d(17, 1)}),
          lut_of({bent_1d(64), rough_3d(9, 2)}),
          lut_of({rough_3d(9, 3), bent_1d(64)}),
          lut_of({bent_1d(512), rough_3d(5, 4), bent_1d(33)}),
          lut_of({bent_1d(256), Affine{.matrix = some_matrix().matrix}, unbent})};
}

struct Handle {
  explicit Handle(const std::string& bytes)
      : profile(cmsOpenProfileFromMem(bytes.data(), static_cast<cmsUInt32Number>(bytes.size()))) {}
  Handle(const Handle&) = delete;
  Handle& operator=(const Handle&) = delete;
  ~Handle() { cmsCloseProfile(profile); }
  cmsHPROFILE profile;
};

TEST_F(Icc, Lcms2AppliesTheLinkAsWeMeanIt) {
  for (const Lut& lut : luts()) {
    const auto bytes = icc_link_bytes(lut, kCreated);
    ASSERT_TRUE(bytes) << bytes.error().text();
    Handle link(*bytes);
    ASSERT_NE(link.profile, nullptr);
    cmsHPROFILE profiles[] = {link.profile};
    cmsHTRANSFORM transform = cmsCreateMultiprofileTransform(profiles, 1, TYPE_RGB_FLT, TYPE_RGB_FLT,
                                                             INTENT_RELATIVE_COLORIMETRIC, cmsFLAGS_NOOPTIMIZE);
    ASSERT_NE(transform, nullptr);
    const Lut sixteen = rounded(lut, 16);
    double worst = 0;
    for (const Triple& v : Draw(51).triples(2000)) {
      const float in[3] = {static_cast<float>(v[0]), static_cast<float>(v[1]), static_cast<float>(v[2])};
      float out[3];
      cmsDoTransform(transform, in, out, 1);
      worst = std::max(worst, largest_difference(evaluate(sixteen, v), {out[0], out[1], out[2]}));
    }
    cmsDeleteTransform(transform);
    // lcms2 carries 16 bits between stages: half a step in each of three channels, times the steepest slope that
    // follows (size - 1 for nodes without rule), and its matrices are in steps of 2^-16.
    int steepest = 2;
    for (const Stage& stage : lut.stages)
      if (const auto* lattice = std::get_if<Lut3d>(&stage)) steepest = lattice->size - 1;
    EXPECT_LE(worst, (2.0 * steepest + 4) / 65535);
    RecordProperty("link", std::to_string(worst));
  }
}

TEST_F(Icc, LinkReadBack) {
  for (Lut lut : luts()) {
    lut.input = Values{.scale = Scale::code};
    lut.output = Values{};
    const std::string file = path("a.icc");
    ASSERT_TRUE(write_lut(lut, file, kCreated));
    const auto back = read_lut(file);
    ASSERT_TRUE(back) << back.error().text();
    EXPECT_EQ(back->title, lut.title);
    EXPECT_EQ(back->input, lut.input);
    EXPECT_EQ(back->output, lut.output);
    ASSERT_EQ(back->stages.size(), lut.stages.size());
    const Lut sixteen = rounded(lut, 16);
    for (const Triple& v : Draw(52).triples(300))
      EXPECT_LE(largest_difference(evaluate(sixteen, v), evaluate(*back, v)), 3e-5);
  }
}

TEST_F(Icc, TheSameTwiceAndTheDateIsTheOneGiven) {
  const Lut lut = lut_of({bent_1d(32)});
  const std::string bytes = icc_link_bytes(lut, kCreated).value();
  EXPECT_EQ(bytes, icc_link_bytes(lut, kCreated).value());
  // ICC.1:2022 7.2.1 and 7.2.13: version 4.4 at byte 8, date at byte 24.
  EXPECT_EQ(bytes.substr(8, 2), std::string("\x04\x40", 2));
  EXPECT_EQ(bytes.substr(24, 12), std::string("\x07\xE9\0\x0B\0\x19\0\x09\0\x1E\0\0", 12));
}

TEST_F(Icc, WhatALinkCannotHold) {
  EXPECT_EQ(icc_link_bytes(lut_of({some_matrix()}), kCreated).error().code, ErrorCode::unsupported);
  Lut1d high = bent_1d(8);
  high.channel[0][7] = 1.01;
  EXPECT_EQ(icc_link_bytes(lut_of({high}), kCreated).error().code, ErrorCode::out_of_range);
  EXPECT_THAT(lut_from_icc_link("not a profile", "bad.icc").error().text(),
              HasSubstr("bad.icc: is not an ICC profile"));
  const std::string display = icc_display_bytes({.title = "a", .values = {}, .peak = {.cdm2 = 1000}}, kCreated).value();
  EXPECT_THAT(lut_from_icc_link(display, "bad.icc").error().text(), HasSubstr("no device link"));
  const std::string whole = icc_link_bytes(lut_of({rough_3d(3, 1)}), kCreated).value();
  for (std::size_t cut = 0; cut + 4 < whole.size(); cut += 31)
    EXPECT_FALSE(lut_from_icc_link(whole.substr(0, cut), "cut")) << cut;
}

TEST_F(Icc, DisplayProfileSaysWhatTheDisplayShows) {
  const Values values{.encoding = {.transfer = signal::Transfer::pq, .container = signal::Container::p3_d65}};
  const auto bytes = icc_display_bytes({.title = "Corrected", .values = values, .peak = {.cdm2 = 1000}}, kCreated);
  ASSERT_TRUE(bytes);
  // ICC.1:2022: cicpType is 'cicp', four zeros, then the H.273 code points: P3-D65 12, ST 2084 16, RGB 0, full range 1.
  EXPECT_NE(bytes->find(std::string("cicp\0\0\0\0\x0C\x10\0\x01", 12)), std::string::npos);
  Handle profile(*bytes);
  ASSERT_NE(profile.profile, nullptr);
  const auto* luminance = static_cast<const cmsCIEXYZ*>(cmsReadTag(profile.profile, cmsSigLuminanceTag));
  ASSERT_NE(luminance, nullptr);
  EXPECT_DOUBLE_EQ(luminance->Y, 1000);
  Handle xyz([] {
    cmsHPROFILE made = cmsCreateXYZProfile();
    cmsUInt32Number size = 0;
    cmsSaveProfileToMem(made, nullptr, &size);
    std::string out(size, '\0');
    cmsSaveProfileToMem(made, out.data(), &size);
    cmsCloseProfile(made);
    return out;
  }());
  // Absolute: the adaptation to D50 is undone, so the chromaticities are those of SMPTE ST 2113 again.
  const double adapted = cmsSetAdaptationState(0);
  cmsHTRANSFORM transform = cmsCreateTransform(profile.profile, TYPE_RGB_DBL, xyz.profile, TYPE_XYZ_DBL,
                                               INTENT_ABSOLUTE_COLORIMETRIC, cmsFLAGS_NOOPTIMIZE);
  cmsSetAdaptationState(adapted);
  ASSERT_NE(transform, nullptr);
  const auto shown = [&](double r, double g, double b) {
    const double in[3] = {r, g, b};
    cmsCIEXYZ out;
    cmsDoTransform(transform, in, &out, 1);
    return out;
  };
  const double top = colour::pq_inverse_eotf(colour::Luminance<>{.cdm2 = 1000}).value;
  const std::pair<Triple, colour::Xy<>> expected[] = {{{top, top, top}, colour::d65_video},
                                                      {{top, 0, 0}, colour::p3_d65_primaries.red},
                                                      {{0, top, 0}, colour::p3_d65_primaries.green},
                                                      {{0, 0, top}, colour::p3_d65_primaries.blue}};
  for (const auto& [rgb, xy] : expected) {
    const cmsCIEXYZ c = shown(rgb[0], rgb[1], rgb[2]);
    EXPECT_NEAR(c.X / (c.X + c.Y + c.Z), xy.x, 2e-4);
    EXPECT_NEAR(c.Y / (c.X + c.Y + c.Z), xy.y, 2e-4);
  }
  for (const double e : {0.3, 0.5, 0.7})
    EXPECT_NEAR(shown(e, e, e).Y * 1000, colour::pq_eotf(colour::Signal<>{.value = e}).cdm2, 0.05);
  cmsDeleteTransform(transform);
}

TEST_F(Icc, DisplayProfilesThatCannotBe) {
  const Values hlg{.encoding = {.transfer = signal::Transfer::hlg}};
  EXPECT_EQ(icc_display_bytes({.title = "", .values = hlg, .peak = {.cdm2 = 1000}}, kCreated).error().code,
            ErrorCode::unsupported);
  EXPECT_EQ(icc_display_bytes({.title = "", .values = {}, .peak = {.cdm2 = 0}}, kCreated).error().code,
            ErrorCode::out_of_range);
}

}  // namespace
}  // namespace provenit::correct
