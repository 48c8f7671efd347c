// Edge rise, modulation transfer and alias share of pictures scaled by zimg 3.0.4 (WTFPL), against what its kernels'
// formulas give. source of the formulas: Mitchell, Netravali, SIGGRAPH 22 (1988) 221 (two-parameter cubics; from
// memory); Lanczos: sinc windowed by its own main lobe.
#include <gtest/gtest.h>
#include <zimg.h>

#include <complex>
#include <cstdlib>
#include <functional>
#include <memory>
#include <numbers>

#include "simulated_frames.h"

namespace provenit::evaluation {
namespace {

struct Filter {
  const char* name;
  zimg_resample_filter_e filter;
  double a, b;  ///< zimg's parameters
  std::function<double(double)> kernel;
};

double cubic(double b, double c, double x) {
  x = std::fabs(x);
  if (x < 1) return ((12 - 9 * b - 6 * c) * x * x * x + (-18 + 12 * b + 6 * c) * x * x + 6 - 2 * b) / 6;
  if (x < 2) return ((-b - 6 * c) * x * x * x + (6 * b + 30 * c) * x * x + (-12 * b - 48 * c) * x + 8 * b + 24 * c) / 6;
  return 0;
}
double lanczos(double x) {
  const double p = std::numbers::pi * x;
  return std::fabs(x) < 1e-9 ? 1 : std::fabs(x) < 3 ? 3 * std::sin(p) * std::sin(p / 3) / (p * p) : 0;
}

const Filter kFilters[] = {
    {"bilinear", ZIMG_RESIZE_BILINEAR, 0, 0, [](double x) { return std::max(0.0, 1 - std::fabs(x)); }},
    {"Mitchell", ZIMG_RESIZE_BICUBIC, 1 / 3.0, 1 / 3.0, [](double x) { return cubic(1 / 3.0, 1 / 3.0, x); }},
    {"Catmull-Rom", ZIMG_RESIZE_BICUBIC, 0, 0.5, [](double x) { return cubic(0, 0.5, x); }},
    {"Lanczos", ZIMG_RESIZE_LANCZOS, 3, 0, lanczos}};

/// One grey plane of floats through zimg.
CapturedFrame scaled(const signal::TestPicture& picture, int width, int height, const Filter& f) {
  const auto in = simulated::frame_of(picture);
  zimg_image_format from;
  zimg_image_format_default(&from, ZIMG_API_VERSION);
  from.width = static_cast<unsigned>(in.width);
  from.height = static_cast<unsigned>(in.height);
  from.pixel_type = ZIMG_PIXEL_FLOAT;
  from.color_family = ZIMG_COLOR_GREY;
  auto to = from;
  to.width = static_cast<unsigned>(width);
  to.height = static_cast<unsigned>(height);
  zimg_graph_builder_params parameters;
  zimg_graph_builder_params_default(&parameters, ZIMG_API_VERSION);
  parameters.resample_filter = f.filter;
  if (f.filter == ZIMG_RESIZE_BICUBIC || f.filter == ZIMG_RESIZE_LANCZOS) parameters.filter_param_a = f.a;
  if (f.filter == ZIMG_RESIZE_BICUBIC) parameters.filter_param_b = f.b;
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
  const auto stride = [](int pixels) { return (4 * static_cast<std::size_t>(pixels) + 63) / 64 * 64; };
  std::size_t scratch_bytes = 0;
  zimg_filter_graph_get_tmp_size(graph.get(), &scratch_bytes);
  const Memory source = aligned(stride(in.width) * static_cast<std::size_t>(in.height)),
               target = aligned(stride(width) * static_cast<std::size_t>(height)),
               scratch = aligned(scratch_bytes + 64);
  const auto row = [](char* plane, std::size_t bytes, int y) {
    return reinterpret_cast<float*>(plane + bytes * static_cast<std::size_t>(y));
  };
  for (int y = 0; y < in.height; ++y)
    for (int x = 0; x < in.width; ++x)
      row(source.get(), stride(in.width), y)[x] =
          static_cast<float>(in.rgb[3 * (static_cast<std::size_t>(y) * in.width + static_cast<std::size_t>(x))]);
  zimg_image_buffer_const read{.version = ZIMG_API_VERSION, .plane = {}};
  zimg_image_buffer write{.version = ZIMG_API_VERSION, .plane = {}};
  read.plane[0] = {source.get(), static_cast<std::ptrdiff_t>(stride(in.width)), ZIMG_BUFFER_MAX};
  write.plane[0] = {target.get(), static_cast<std::ptrdiff_t>(stride(width)), ZIMG_BUFFER_MAX};
  EXPECT_EQ(zimg_filter_graph_process(graph.get(), &read, &write, scratch.get(), nullptr, nullptr, nullptr, nullptr),
            ZIMG_ERROR_SUCCESS);
  CapturedFrame out{.width = width, .height = height, .rgb = {}};
  for (int y = 0; y < height; ++y)
    for (int x = 0; x < width; ++x) out.rgb.insert(out.rgb.end(), 3, row(target.get(), stride(width), y)[x]);
  return out;
}

/// Mean response of a kernel at the pixels of an enlargement (factor >= 1) or of a reduction (factor < 1), at f cycles
/// per source pixel.
double response(const Filter& filter, double factor, double f) {
  std::complex<double> sum = 0;
  double all = 0;
  const auto add = [&](double place, double weight) {
    sum += weight * std::polar(1.0, -2 * std::numbers::pi * f * place);
    all += weight;
  };
  if (factor >= 1)
    for (int i = -32; i < 32; ++i) {
      const double place = (i + 0.5) / factor - 0.5;
      add(place, filter.kernel(place));
    }
  else
    for (int j = -32; j < 32; ++j) add(j + 0.5, filter.kernel((j + 0.5) * factor));
  return std::abs(sum) / all;
}

TEST(OutsideZimg, EdgesHaveTheKernelsResponse) {
  const auto shown = signal::TestPicture::make({.key = "scaling_set", .encoding = {}, .size = {640, 360}}).value();
  for (const auto& f : kFilters) {
    const auto found = measure_edges(scaled(shown, 1280, 720, f), shown);
    ASSERT_TRUE(found) << found.error().text();
    for (const auto& e : *found) {
      EXPECT_NEAR(e.half_percent.value, 100 * response(f, 2, 0.25), 0.3) << f.name;
      EXPECT_NEAR(e.full_percent.value, 100 * response(f, 2, 0.5), 0.6) << f.name;
      ASSERT_TRUE(e.mtf50);
      EXPECT_NEAR(response(f, 2, e.mtf50->value), 0.5, 0.007) << f.name;
    }
  }
}

TEST(OutsideZimg, EnlargedWavesHaveTheKernelsImages) {
  const auto shown = signal::TestPicture::make({.key = "zone_plate", .encoding = {}, .size = {640, 360}}).value();
  for (const auto& f : kFilters) {
    const auto found = measure_alias(scaled(shown, 1280, 720, f), shown);
    ASSERT_TRUE(found) << found.error().text();
    for (const auto& a : *found) {
      double image = 0;
      constexpr int steps = 200;
      for (int i = 0; i < steps; ++i)
        image += std::pow(response(f, 2, a.from + (i + 0.5) * (a.to - a.from) / steps - 1), 2) * 100 / steps;
      EXPECT_NEAR(a.percent.value, image, 0.012 * image + 0.0015) << f.name << ' ' << a.from;
    }
  }
}

TEST(OutsideZimg, ReducedByPointAllThatCannotBeCarriedComesBack) {
  const auto shown = signal::TestPicture::make({.key = "zone_plate", .encoding = {}, .size = {1280, 720}}).value();
  const Filter point{"point", ZIMG_RESIZE_POINT, 0, 0, {}};
  const auto all = measure_alias(scaled(shown, 640, 360, point), shown).value();
  const auto little = measure_alias(scaled(shown, 640, 360, kFilters[3]), shown).value();
  ASSERT_EQ(all.size(), 4u);
  for (std::size_t i = 0; i < 4; ++i) {
    if (all[i].from < 0.2) {
      EXPECT_LT(all[i].percent.value, 0.1);  // below half of the frame's own limit nothing is lost
      continue;
    }
    EXPECT_NEAR(all[i].percent.value, 100, 3);
    double left = 0;
    constexpr int steps = 200;
    for (int k = 0; k < steps; ++k)  // what is read lies a guard of 0.04 above the frame's limit of 0.25
      left += std::pow(response(kFilters[3], 0.5, 0.29 + (k + 0.5) * 0.16 / steps), 2) * 100 / steps;
    EXPECT_NEAR(little[i].percent.value, left, 0.15 * left);  // steep at the guard
  }
}

}  // namespace
}  // namespace provenit::evaluation
