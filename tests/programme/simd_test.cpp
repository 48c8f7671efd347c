// Real pictures: every instruction set against the tests' reference, and against zimg 3.0.4 (WTFPL), a general-purpose
// conversion library.
#include <fmt/format.h>
#include <gtest/gtest.h>
#include <zimg.h>

#include <algorithm>
#include <cstdlib>
#include <memory>
#include <vector>

#include "kernel_picture.h"
#include "provenit/programme/frame_meter.h"
#include "provenit/programme/reader.h"
#include "reference.h"

namespace provenit::programme {
namespace {

Picture read_picture(const std::string& name, int frame = 0) {
  ReaderOptions options;
  if (name.ends_with(".exr")) options.interpretation.peak_cdm2 = 203;  // the file does not say what its 1.0 is
  auto reader = open_reader(std::string(PROVENIT_SOURCE_DIR) + "/tests/programme/media/" + name, options);
  if (!reader) {
    ADD_FAILURE() << reader.error().text();
    return {};
  }
  for (int i = 0;; ++i) {
    auto picture = (*reader)->next();
    if (!picture || !*picture) {
      ADD_FAILURE() << name << " has no frame " << frame;
      return {};
    }
    if (i == frame) return **picture;
  }
}

FrameRecord measured(const Picture& picture, std::string_view level = {}) {
  auto meter = FrameMeter::make(picture.format, level);
  if (!meter) {
    ADD_FAILURE() << meter.error().text();
    return {};
  }
  auto record = meter->measure(picture);
  if (!record) ADD_FAILURE() << record.error().text();
  return record.value_or(FrameRecord{});
}

class RealPicture : public ::testing::TestWithParam<const char*> {};

TEST_P(RealPicture, EveryLevelAgreesWithTheReference) {
  const Picture picture = read_picture(GetParam());
  const auto reference = testing::measure_reference(picture);
  for (const auto& level : simd_levels()) {
    SCOPED_TRACE(describe(picture.format) + " on " + level);
    testing::expect_agrees(measured(picture, level), reference, picture);
  }
}
INSTANTIATE_TEST_SUITE_P(Media, RealPicture,
                         ::testing::Values("seine_hdr_rec2020.avif", "colors_hdr_p3.avif",
                                           "colors_wcg_hdr_rec2020.avif", "hdr_room.png", "forest_512_dwab.exr",
                                           "hdr10-av1.mp4"),
                         [](const auto& file) {
                           std::string name = file.param;
                           std::replace_if(
                               name.begin(), name.end(), [](char c) { return !std::isalnum(c); }, '_');
                           return name;
                         });

// The declared content light level of this picture (clli 703 / 165) has the mean of the luminance where CTA-861.3-A A.2
// asks for the mean of max(R,G,B): a known trap.
TEST(Declared, AverageOfLuminanceInsteadOfMaxRgb) {
  const auto f = measured(read_picture("seine_hdr_rec2020.avif")).figures;
  EXPECT_NEAR(f.luminance_mean, 165.5, 0.05);
  EXPECT_NEAR(f.max_rgb_mean, 173.4, 0.05);
  EXPECT_NEAR(f.max_rgb_max, 703, 0.02 * 703);  // 714.1 as decoded: declared before coding
}

struct Linear {
  double mean = 0, max = 0;
};

void fill_format(const PictureFormat& f, zimg_image_format& z) {
  z.width = static_cast<unsigned>(f.width);
  z.height = static_cast<unsigned>(f.height);
  z.color_primaries = ZIMG_PRIMARIES_BT2020;
}

/// Mean and largest max(R,G,B) of a PQ picture that zimg makes linear, its 1.0 being the white. It goes on below 0 and
/// above the peak, which a display does not.
Linear linear_by_zimg(const Picture& p, double white_cdm2 = 10000) {
  const PictureFormat& f = p.format;
  zimg_image_format from, to;
  zimg_image_format_default(&from, ZIMG_API_VERSION);
  zimg_image_format_default(&to, ZIMG_API_VERSION);
  fill_format(f, from);
  fill_format(f, to);
  const unsigned halved = f.chroma == Chroma::c420 ? 1 : 0;
  from.subsample_w = from.subsample_h = halved;
  from.pixel_type = ZIMG_PIXEL_WORD;
  from.depth = static_cast<unsigned>(f.bits);
  from.pixel_range = f.range == colour::Range::narrow ? ZIMG_RANGE_LIMITED : ZIMG_RANGE_FULL;
  from.color_family = ZIMG_COLOR_YUV;
  from.matrix_coefficients = ZIMG_MATRIX_BT2020_NCL;
  from.transfer_characteristics = ZIMG_TRANSFER_ST2084;
  from.chroma_location = f.siting == Siting::left ? ZIMG_CHROMA_LEFT : ZIMG_CHROMA_TOP_LEFT;
  to.pixel_type = ZIMG_PIXEL_FLOAT;
  to.color_family = ZIMG_COLOR_RGB;
  to.matrix_coefficients = ZIMG_MATRIX_RGB;
  to.transfer_characteristics = ZIMG_TRANSFER_LINEAR;
  zimg_graph_builder_params parameters;
  zimg_graph_builder_params_default(&parameters, ZIMG_API_VERSION);
  parameters.nominal_peak_luminance = white_cdm2;
  parameters.resample_filter = parameters.resample_filter_uv = ZIMG_RESIZE_BILINEAR;
  const std::unique_ptr<zimg_filter_graph, void (*)(zimg_filter_graph*)> graph(
      zimg_filter_graph_build(&from, &to, &parameters), zimg_filter_graph_free);
  if (!graph) {
    ADD_FAILURE() << "zimg could not build its graph";
    return {};
  }
  using Memory = std::unique_ptr<std::byte, void (*)(void*)>;
  const auto aligned = [](std::size_t bytes) {
    return Memory(static_cast<std::byte*>(std::aligned_alloc(64, (bytes + 63) / 64 * 64)), std::free);
  };
  const std::size_t stride = (4 * static_cast<std::size_t>(f.width) + 63) / 64 * 64;
  const auto rows = static_cast<std::size_t>(f.height);
  std::vector<Memory> in, out;
  zimg_image_buffer_const source{.version = ZIMG_API_VERSION, .plane = {}};
  zimg_image_buffer target{.version = ZIMG_API_VERSION, .plane = {}};
  for (std::size_t c = 0; c < 3; ++c) {
    in.push_back(aligned(stride * rows));
    out.push_back(aligned(stride * rows));
    const Plane& plane = p.planes[c];
    for (int y = 0; y < plane.height; ++y)
      std::memcpy(in[c].get() + y * static_cast<std::ptrdiff_t>(stride), plane.data + y * plane.stride,
                  2 * static_cast<std::size_t>(plane.width));
    source.plane[c] = {in[c].get(), static_cast<std::ptrdiff_t>(stride), ZIMG_BUFFER_MAX};
    target.plane[c] = {out[c].get(), static_cast<std::ptrdiff_t>(stride), ZIMG_BUFFER_MAX};
  }
  std::size_t scratch_bytes = 0;
  zimg_filter_graph_get_tmp_size(graph.get(), &scratch_bytes);
  const Memory scratch = aligned(scratch_bytes + 64);
  EXPECT_EQ(zimg_filter_graph_process(graph.get(), &source, &target, scratch.get(), nullptr, nullptr, nullptr, nullptr),
            ZIMG_ERROR_SUCCESS);
  Linear result;
  for (int y = 0; y < f.height; ++y)
    for (int x = 0; x < f.width; ++x) {
      float m = 0;
      for (std::size_t c = 0; c < 3; ++c) {
        float v = 0;
        std::memcpy(&v, out[c].get() + y * static_cast<std::ptrdiff_t>(stride) + std::ptrdiff_t{4} * x, 4);
        m = std::max(m, v);
      }
      const double light = std::min(white_cdm2 * static_cast<double>(m), 10000.0);
      result.mean += light / (double(f.width) * f.height);
      result.max = std::max(result.max, light);
    }
  return result;
}

// 4:4:4: no filter between, only zimg's single precision.
TEST(OutsideZimg, LinearLightOf444) {
  const Picture picture = read_picture("seine_hdr_rec2020.avif");
  const auto f = measured(picture).figures;
  const Linear z = linear_by_zimg(picture);
  EXPECT_NEAR(f.max_rgb_mean / z.mean, 1, 5e-6);
  EXPECT_NEAR(f.max_rgb_max / z.max, 1, 3e-5);
  RecordProperty("mean_ratio_minus_1", fmt::format("{:.3g}", f.max_rgb_mean / z.mean - 1));
}

// 4:2:0 by the stream's siting, bilinear in both.
TEST(OutsideZimg, LinearLightOf420) {
  const Picture picture = read_picture("hdr10-av1.mp4", 3);
  ASSERT_EQ(picture.format.chroma, Chroma::c420);
  const auto f = measured(picture).figures;
  const Linear z = linear_by_zimg(picture);
  EXPECT_NEAR(f.max_rgb_mean / z.mean, 1, 5e-6);
  EXPECT_NEAR(f.max_rgb_max / z.max, 1, 3e-5);
  RecordProperty("mean_ratio_minus_1", fmt::format("{:.3g}", f.max_rgb_mean / z.mean - 1));
  RecordProperty("max_ratio_minus_1", fmt::format("{:.3g}", f.max_rgb_max / z.max - 1));
}

// A known trap: a library that clips its float planes at 1.0 would lose all light above its white. With its white at
// 203 cd/m2 this one keeps 4000 cd/m2, so that the comparisons above compare whole pictures.
TEST(OutsideZimg, DoesNotClipFloats) {
  const auto picture = testing::make_picture({.width = 16, .height = 16, .chroma = Chroma::c444},
                                             [](int plane, int, int) { return plane == 0 ? 855 : 512; });
  EXPECT_NEAR(linear_by_zimg(picture, 203).max / measured(picture).figures.max_rgb_max, 1, 5e-5);
}

}  // namespace
}  // namespace provenit::programme
