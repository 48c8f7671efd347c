#include "provenit/simulated/field_camera.h"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <random>
#include <vector>

namespace provenit::simulated {
namespace {

using Rgb = std::array<double, 3>;

constexpr double kPiston = 0.249;  // of the mean square of such waves is their mean over the picture

/// Smooth waves of a length of one to three widths of the picture, their mean over it taken out: what is uneven in a
/// lamp behind a diffuser.
class Waves {
 public:
  Waves(double deviation, std::uint64_t seed) : deviation_(deviation) {
    std::mt19937_64 random(seed);
    std::uniform_real_distribution<double> turn(0, 2 * std::numbers::pi), cycles(0.33, 1);
    for (auto& w : waves_) {
      const double direction = turn(random), n = cycles(random);
      w = {n * std::cos(direction), n * std::sin(direction), turn(random)};
    }
    constexpr int n = 24;
    for (int j = 0; j < n; ++j)
      for (int i = 0; i < n; ++i) mean_ += sum((i + 0.5) / n, (j + 0.5) / n) / (n * n);
  }
  [[nodiscard]] double at(double u, double v) const {
    return deviation_ * (sum(u, v) - mean_) / std::sqrt((1 - kPiston) * static_cast<double>(waves_.size()) / 2);
  }

 private:
  [[nodiscard]] double sum(double u, double v) const {
    double out = 0;
    for (const auto& [x, y, phase] : waves_) out += std::sin(2 * std::numbers::pi * (x * u + y * v) + phase);
    return out;
  }

  double deviation_, mean_ = 0;
  std::array<std::array<double, 3>, 8> waves_{};
};

class Lens {
 public:
  explicit Lens(const FieldCamera& camera) : camera_(camera) {
    std::mt19937_64 random(camera.seed * 77 + 1);
    std::normal_distribution<double> normal;
    for (std::size_t i = 0; i < 3; ++i) {
      double sum = 0;
      for (std::size_t j = 0; j < 3; ++j) {
        mixing_[i][j] = i == j ? 1 : std::fabs(camera.crosstalk * normal(random));
        sum += mixing_[i][j];
      }
      for (double& m : mixing_[i]) m /= sum;
    }
  }
  /// Place on the display that a place of the picture shows.
  [[nodiscard]] std::array<double, 2> display(double x, double y) const {
    const double ratio = static_cast<double>(camera_.width) / camera_.height;
    const double dx = x - 0.5 - camera_.shift[0], dy = (y - 0.5 - camera_.shift[1]) / ratio;
    const double c = std::cos(camera_.turned_rad), s = std::sin(camera_.turned_rad);
    const double w = 1 + camera_.keystone[0] * dx + camera_.keystone[1] * dy;
    return {0.5 + (c * dx + s * dy) / (camera_.size * w),
            0.5 + (c * dy - s * dx) * camera_.aspect / (camera_.size * w)};
  }
  [[nodiscard]] Rgb seen(const Rgb& light) const {
    Rgb out{};
    for (std::size_t i = 0; i < 3; ++i)
      for (std::size_t j = 0; j < 3; ++j) out[i] += mixing_[i][j] * light[j];
    return out;
  }
  [[nodiscard]] double falloff(double x, double y) const {
    return 1 - camera_.vignetting * 2 * (std::pow(x - 0.5, 2) + std::pow(y - 0.5, 2));
  }

 private:
  FieldCamera camera_;
  std::array<Rgb, 3> mixing_{};
};

template <class Light>
Frame expose(const FieldCamera& camera, std::uint64_t seed, Light&& light) {
  Frame out{.width = camera.width, .height = camera.height, .rgb = {}};
  const Lens lens(camera);
  std::mt19937_64 random(seed);
  std::normal_distribution<double> normal;
  for (int y = 0; y < camera.height; ++y)
    for (int x = 0; x < camera.width; ++x) {
      Rgb sum{};
      for (int part = 0; part < 4; ++part) {
        const double px = (x + 0.25 + 0.5 * (part % 2)) / camera.width,
                     py = (y + 0.25 + (part < 2 ? 0 : 0.5)) / camera.height;
        const auto value = light(lens, px, py);
        for (std::size_t c = 0; c < 3; ++c) sum[c] += value[c] / 4;
      }
      const double scale = camera.exposure * lens.falloff((x + 0.5) / camera.width, (y + 0.5) / camera.height);
      for (const double v : sum)
        out.rgb.push_back(std::clamp(scale * v + camera.noise * std::sqrt(scale * v) * normal(random), 0.0, 1.0));
    }
  return out;
}

}  // namespace

Frame field_picture(const FieldLight& light, const FieldCamera& camera, int take) {
  return expose(camera, camera.seed * 1009 + static_cast<std::uint64_t>(take),
                [&](const Lens& lens, double x, double y) {
                  const auto [u, v] = lens.display(x, y);
                  if (u < 0 || u > 1 || v < 0 || v > 1) return Rgb{camera.surround, camera.surround, camera.surround};
                  return lens.seen(light(u, v));
                });
}

Frame flat_picture(const FieldCamera& camera) {
  const Waves waves(camera.flat_error, camera.seed * 31 + 5);
  return expose(camera, camera.seed * 1009 + 999, [&](const Lens&, double x, double y) {
    const double even = std::exp(waves.at(x, y));
    return Rgb{even, even, even};
  });
}

}  // namespace provenit::simulated
