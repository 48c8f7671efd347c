// Against zimg 3.0.4 (WTFPL): 10-bit narrow codes, R'G'B' and Y'CbCr 4:4:4, to linear light in single precision.
#include <gtest/gtest.h>
#include <zimg.h>

#include <array>
#include <cstdint>
#include <cstdlib>
#include <memory>
#include <random>
#include <vector>

#include "outside_library.h"
#include "provenit/colour/quantise.h"
#include "provenit/colour/transfer.h"
#include "provenit/colour/ycbcr.h"

namespace provenit::colour {
namespace {

const std::string library = [] {
  unsigned a = 0, b = 0, c = 0;
  zimg_get_version_info(&a, &b, &c);
  return "zimg " + std::to_string(a) + "." + std::to_string(b) + "." + std::to_string(c);
}();

using Code3 = std::array<std::uint16_t, 3>;
using Light3 = std::array<float, 3>;

std::vector<Code3> drawn_codes(std::size_t count) {
  std::mt19937_64 random(11);
  const auto code = [&] { return static_cast<std::uint16_t>(64 + random() % 877); };
  std::vector<Code3> codes;
  for (std::size_t i = 0; i < count; ++i) codes.push_back({code(), code(), code()});
  return codes;
}

zimg_image_format format_of(unsigned width) {
  zimg_image_format f;
  zimg_image_format_default(&f, ZIMG_API_VERSION);
  f.width = width;
  f.height = 1;
  f.color_family = ZIMG_COLOR_RGB;
  f.matrix_coefficients = ZIMG_MATRIX_RGB;
  f.color_primaries = ZIMG_PRIMARIES_BT2020;
  return f;
}

/// One row of pixels through zimg. Peak 10 000 makes its linear 1.0 that of PQ.
std::vector<Light3> decoded(const std::vector<Code3>& pixels, zimg_transfer_characteristics_e transfer,
                            zimg_matrix_coefficients_e matrix) {
  const auto width = static_cast<unsigned>(pixels.size());
  zimg_image_format from = format_of(width), to = from;
  from.pixel_type = ZIMG_PIXEL_WORD;
  from.depth = 10;
  from.pixel_range = ZIMG_RANGE_LIMITED;
  from.matrix_coefficients = matrix;
  from.color_family = matrix == ZIMG_MATRIX_RGB ? ZIMG_COLOR_RGB : ZIMG_COLOR_YUV;
  from.transfer_characteristics = transfer;
  to.pixel_type = ZIMG_PIXEL_FLOAT;
  to.transfer_characteristics = ZIMG_TRANSFER_LINEAR;
  zimg_graph_builder_params parameters;
  zimg_graph_builder_params_default(&parameters, ZIMG_API_VERSION);
  parameters.nominal_peak_luminance = 10000;
  const std::unique_ptr<zimg_filter_graph, void (*)(zimg_filter_graph*)> graph(
      zimg_filter_graph_build(&from, &to, &parameters), zimg_filter_graph_free);
  if (!graph) {
    ADD_FAILURE() << "zimg could not build its graph";
    return {};
  }

  using Memory = std::unique_ptr<char, void (*)(void*)>;
  const auto aligned = [](std::size_t bytes) {
    return Memory(static_cast<char*>(std::aligned_alloc(64, (bytes + 63) / 64 * 64)), std::free);
  };
  std::size_t scratch_bytes = 0;
  zimg_filter_graph_get_tmp_size(graph.get(), &scratch_bytes);
  const std::size_t stride = (4 * pixels.size() + 63) / 64 * 64;
  const Memory in = aligned(3 * stride), out = aligned(3 * stride), scratch = aligned(scratch_bytes + 64);
  zimg_image_buffer_const source{.version = ZIMG_API_VERSION, .plane = {}};
  zimg_image_buffer target{.version = ZIMG_API_VERSION, .plane = {}};
  for (std::size_t c = 0; c < 3; ++c) {
    auto* row = reinterpret_cast<std::uint16_t*>(in.get() + c * stride);
    for (std::size_t i = 0; i < pixels.size(); ++i) row[i] = pixels[i][c];
    source.plane[c] = {row, static_cast<std::ptrdiff_t>(stride), ZIMG_BUFFER_MAX};
    target.plane[c] = {out.get() + c * stride, static_cast<std::ptrdiff_t>(stride), ZIMG_BUFFER_MAX};
  }
  EXPECT_EQ(zimg_filter_graph_process(graph.get(), &source, &target, scratch.get(), nullptr, nullptr, nullptr, nullptr),
            ZIMG_ERROR_SUCCESS);
  std::vector<Light3> result(pixels.size());
  for (std::size_t c = 0; c < 3; ++c)
    for (std::size_t i = 0; i < pixels.size(); ++i)
      result[i][c] = reinterpret_cast<const float*>(out.get() + c * stride)[i];
  return result;
}

SignalRgb<> signal_of(const Code3& c) {
  return {.r = dequantise({.value = c[0]}).value,
          .g = dequantise({.value = c[1]}).value,
          .b = dequantise({.value = c[2]}).value};
}

/// Compares in cd/m2 where there is light enough for a float of the signal to carry the digits. It goes on above
/// PQ's peak, which ours does not.
void compare(Agreement& agreement, const AbsoluteRgb<>& ours, const Light3& theirs) {
  const double light[3] = {ours.r, ours.g, ours.b};
  for (std::size_t c = 0; c < 3; ++c)
    if (light[c] > 0.1 && light[c] < pq::peak_cdm2)
      agreement.relative(light[c], 10000.0 * static_cast<double>(theirs[c]));
}

TEST(Zimg, Pq) {
  const std::vector<Code3> codes = drawn_codes(2000);
  const std::vector<Light3> theirs = decoded(codes, ZIMG_TRANSFER_ST2084, ZIMG_MATRIX_RGB);
  ASSERT_EQ(theirs.size(), codes.size());
  Agreement agreement("PQ EOTF of 10-bit narrow codes", library, 1e-4);
  for (std::size_t i = 0; i < codes.size(); ++i) compare(agreement, pq_eotf(signal_of(codes[i])), theirs[i]);
}

TEST(Zimg, HlgOfColours) {
  // Its HLG has the OOTF of a 1000 cd/m2 display with black 0.
  const std::vector<Code3> codes = drawn_codes(2000);
  const std::vector<Light3> theirs = decoded(codes, ZIMG_TRANSFER_ARIB_B67, ZIMG_MATRIX_RGB);
  ASSERT_EQ(theirs.size(), codes.size());
  const HlgDisplay<> display = hlg_display(Luminance<>{.cdm2 = 1000}, Luminance<>{.cdm2 = 0});
  Agreement agreement("HLG EOTF of 10-bit narrow codes", library, 2e-6);
  for (std::size_t i = 0; i < codes.size(); ++i) compare(agreement, hlg_eotf(signal_of(codes[i]), display), theirs[i]);
}

TEST(Zimg, YcbcrOfBt2020AndBt709) {
  for (const auto& [ours, name, id] : {std::tuple{YcbcrMatrix::bt2020_ncl, "BT.2020 NCL", ZIMG_MATRIX_BT2020_NCL},
                                       std::tuple{YcbcrMatrix::bt709, "BT.709", ZIMG_MATRIX_BT709}}) {
    std::vector<Code3> codes = drawn_codes(2000);
    for (Code3& c : codes) {
      const YcbcrCodes encoded = quantise(ycbcr_from_rgb(signal_of(c), ours), 10, Range::narrow);
      c = {static_cast<std::uint16_t>(encoded.y.value), static_cast<std::uint16_t>(encoded.cb.value),
           static_cast<std::uint16_t>(encoded.cr.value)};
    }
    const std::vector<Light3> theirs = decoded(codes, ZIMG_TRANSFER_ST2084, id);
    ASSERT_EQ(theirs.size(), codes.size());
    Agreement agreement(std::string("Y'CbCr ") + name + " with PQ", library, 1e-4);
    for (std::size_t i = 0; i < codes.size(); ++i) {
      const YcbcrCodes c{.y = {.value = codes[i][0]}, .cb = {.value = codes[i][1]}, .cr = {.value = codes[i][2]}};
      compare(agreement, pq_eotf(rgb_from_ycbcr(dequantise(c), ours)), theirs[i]);
    }
  }
}

}  // namespace
}  // namespace provenit::colour
