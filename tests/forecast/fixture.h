#pragma once
// Measured displays and pictures that the tests of forecasts share.
#include <gtest/gtest.h>

#include <map>
#include <string>

#include "forecast_loan.h"
#include "provenit/forecast/display.h"
#include "provenit/forecast/frame.h"
#include "provenit/programme/picture.h"

namespace provenit::forecast::testing {

inline constexpr int kWidth = 640, kHeight = 352;  ///< of pictures

/// One loan of each display, read once for all tests.
struct Measured {
  bench::ForecastLoan loan;
  Evidence evidence;
  ForecastDisplay display;
  explicit Measured(const std::string& kind)
      : loan(kind, 11), evidence(loan.evidence()), display(ForecastDisplay::fit(evidence).value()) {}
};
inline Measured& measured(const std::string& kind) {
  static std::map<std::string, std::unique_ptr<Measured>> made;
  auto& m = made[kind];
  if (!m) m = std::make_unique<Measured>(kind);
  return *m;
}

/// R'G'B' codes, 10-bit narrow PQ, in planes.
inline programme::Picture picture_of(int width, int height, std::vector<std::uint16_t> planar) {
  auto samples = std::make_shared<std::vector<std::uint16_t>>(std::move(planar));
  programme::Picture out{.format = {.width = width,
                                    .height = height,
                                    .bits = 10,
                                    .chroma = programme::Chroma::rgb,
                                    .matrix = programme::Matrix::rgb}};
  const auto n = static_cast<std::size_t>(width) * static_cast<std::size_t>(height);
  for (std::size_t c = 0; c < 3; ++c)
    out.planes[c] = {.data = reinterpret_cast<const std::byte*>(samples->data() + c * n),
                     .stride = static_cast<std::ptrdiff_t>(2 * width),
                     .width = width,
                     .height = height};
  out.owner = samples;
  return out;
}

/// A centred window of this share of width and height.
inline programme::Picture window(int width, int height, double side, std::uint16_t patch, std::uint16_t surround) {
  std::vector<std::uint16_t> plane;
  for (int y = 0; y < height; ++y)
    for (int x = 0; x < width; ++x) {
      const double u = (x + 0.5) / width - 0.5, v = (y + 0.5) / height - 0.5;
      plane.push_back(std::abs(u) < side / 2 && std::abs(v) < side / 2 ? patch : surround);
    }
  auto all = plane;
  for (int c = 1; c < 3; ++c) all.insert(all.end(), plane.begin(), plane.end());
  return picture_of(width, height, std::move(all));
}

/// Smooth waves of different colours over a wide range of light, black at the bottom.
inline programme::Picture waves(int width, int height) {
  std::vector<std::uint16_t> all;
  for (int c = 0; c < 3; ++c)
    for (int y = 0; y < height; ++y)
      for (int x = 0; x < width; ++x) {
        const double e =
            0.42 + 0.3 * std::sin(0.021 * x + c) * std::cos(0.017 * y + 0.4 * c) + 0.01 * std::sin(0.9 * x);
        all.push_back(y > 0.85 * height ? 64 : static_cast<std::uint16_t>(64 + 876 * std::clamp(e, 0.0, 1.0)));
      }
  return picture_of(width, height, std::move(all));
}

}  // namespace provenit::forecast::testing
