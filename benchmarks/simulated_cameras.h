#pragma once
// Simulated clips of a walking box and camera pictures of a field, with what is true of them, for the coverage
// benchmark and the tests.
#include <algorithm>
#include <cmath>
#include <random>
#include <vector>

#include "provenit/colour/transfer_sdr.h"
#include "provenit/evaluation/field_picture.h"
#include "provenit/evaluation/zone_clip.h"
#include "provenit/simulated/field_camera.h"
#include "provenit/simulated/walk_film.h"
#include "walk_path.h"

namespace provenit::bench {

class Chance {
 public:
  explicit Chance(std::uint64_t seed) : random_(seed) {}
  double between(double a, double b) { return a + (b - a) * (static_cast<double>(random_() >> 11) * 0x1p-53); }
  double normal() { return normal_(random_); }
  std::uint64_t seed() { return random_(); }

 private:
  std::mt19937_64 random_;
  std::normal_distribution<double> normal_;
};

/// Light of the places of a film, as the loan reads it of a clip: pixels that are bright in some frame are left out.
/// `lost`: share of the camera's frames that do not arrive.
inline evaluation::WalkClip clip_of(simulated::WalkFilm film, const simulated::FilmCamera& camera, double lost,
                                    Chance& chance) {
  constexpr int columns = 16, rows = 9;
  evaluation::WalkClip out{.places = columns * rows, .time_s = {}, .light = {}};
  std::vector<std::vector<std::uint8_t>> frames;
  std::vector<std::uint8_t> highest(static_cast<std::size_t>(camera.width) * static_cast<std::size_t>(camera.height),
                                    0);
  for (int k = 0; k < film.frames(); ++k) {
    frames.push_back(film.next());
    for (std::size_t i = 0; i < highest.size(); ++i) highest[i] = std::max(highest[i], frames.back()[i]);
  }
  std::vector<float> light;
  for (int code = 0; code < 256; ++code)
    light.push_back(static_cast<float>(colour::bt709_inverse_oetf(colour::Signal<>{.value = code / 255.0}).value));
  const int around = std::max(1, camera.width / 60);
  std::vector<int> place(highest.size());
  for (int y = 0; y < camera.height; ++y)
    for (int x = 0; x < camera.width; ++x) {
      bool bright = false;
      for (int v = std::max(0, y - around); v <= std::min(camera.height - 1, y + around); ++v)
        for (int u = std::max(0, x - around); u <= std::min(camera.width - 1, x + around); ++u)
          bright = bright || light[highest[static_cast<std::size_t>(v) * static_cast<std::size_t>(camera.width) +
                                           static_cast<std::size_t>(u)]] >= 0.85F;
      place[static_cast<std::size_t>(y) * static_cast<std::size_t>(camera.width) + static_cast<std::size_t>(x)] =
          bright ? -1 : y * rows / camera.height * columns + x * columns / camera.width;
    }
  for (std::size_t k = 0; k < frames.size(); ++k) {
    if (chance.between(0, 1) < lost) continue;
    std::vector<float> sum(static_cast<std::size_t>(out.places), 0.F);
    for (std::size_t i = 0; i < place.size(); ++i)
      if (place[i] >= 0) sum[static_cast<std::size_t>(place[i])] += light[frames[k][i]];
    out.light.insert(out.light.end(), sum.begin(), sum.end());
    out.time_s.push_back(static_cast<double>(k) / camera.rate_hz);
  }
  return out;
}

struct SimulatedClip {
  evaluation::WalkClip clip;
  evaluation::WalkPath path;
  int zones = 0;  ///< the truth
};

/// 12 to 40 zones along; sharp and smooth dimming; 48 to 120 frames a second before a walk of 24; noise from a
/// 150th to a quarter of a zone's light at one of the few pixels; now and then lost frames.
inline SimulatedClip simulated_clip(std::uint64_t seed) {
  Chance chance(seed * 7907 + 13);
  auto physics = *simulated::built_in_physics("tern-32");
  auto& zones = *physics.zones;
  SimulatedClip out;
  out.zones = static_cast<int>(chance.between(12, 41));
  const bool down = chance.between(0, 1) < 0.5;
  (down ? zones.rows : zones.columns) = out.zones;
  (down ? zones.columns : zones.rows) = std::max(4, static_cast<int>(out.zones * chance.between(0.5, 0.6)));
  zones.maximum_share = chance.between(0.4, 1);
  zones.neighbour_share = chance.between(0, 1) < 0.5 ? 0 : chance.between(0.1, 0.6);
  zones.rise_s = chance.between(0.01, 0.08);
  zones.fall_s = chance.between(0.02, 0.15);
  zones.spread_zones = chance.between(0.5, 1);
  const simulated::BoxWalk walk{.step = down ? 2 : 4, .along = 8, .across = 16, .down = down};
  simulated::FilmCamera camera{.width = 128, .height = 72, .rate_hz = chance.between(48, 120)};
  camera.rate_error = 1e-4 * chance.normal();
  camera.readout_s = 0.8 / camera.rate_hz * chance.between(0.2, 1);
  camera.zone_light = chance.between(0.05, 0.3);
  camera.noise = camera.zone_light * std::exp(chance.between(-5, -1.3));
  camera.seed = chance.seed();
  const double lost = chance.between(0, 1) < 0.2 ? 0.01 : 0;
  out.clip = clip_of(simulated::WalkFilm(physics, walk, camera), camera, lost, chance);
  out.path = path_of(walk);
  return out;
}

inline evaluation::LinearPicture as_linear(const simulated::Frame& frame) {
  return {
      .width = frame.width, .height = frame.height, .rgb = {frame.rgb.begin(), frame.rgb.end()}, .saturates = 0.999F};
}

struct SimulatedField {
  evaluation::LinearPicture field, again, flat;
  simulated::FieldLight light;
  evaluation::FieldOptions options;
  /// 100 % x (1 - Lmin / Lmax) over the middles of as many equal parts.
  [[nodiscard]] double nonuniformity(int columns, int rows) const {
    double least = 1e9, most = 0;
    for (int j = 0; j < rows; ++j)
      for (int i = 0; i < columns; ++i) {
        const auto c = light((i + 0.5) / columns, (j + 0.5) / rows);
        const double y = options.weights[0] * c[0] + options.weights[1] * c[1] + options.weights[2] * c[2];
        least = std::min(least, y);
        most = std::max(most, y);
      }
    return 100 * (1 - least / most);
  }
};

/// A display that falls off and is tinted by a few percent, a camera askew whose channels are no observer, and a flat
/// field wrong by half a percent to two.
inline SimulatedField simulated_field(std::uint64_t seed) {
  Chance chance(seed * 6271 + 19);
  std::array<std::array<double, 6>, 3> k{};
  for (std::size_t j = 0; j < 6; ++j) {
    const double common = (j == 4 ? -0.08 : 0) + 0.04 * chance.normal();
    for (auto& channel : k) channel[j] = common + 0.012 * chance.normal();
  }
  SimulatedField out;
  out.light = [k](double u, double v) {
    const double x = 2 * u - 1, y = 2 * v - 1;
    std::array<double, 3> c{};
    for (std::size_t i = 0; i < 3; ++i)
      c[i] = std::exp(k[i][0] * x + k[i][1] * y + k[i][2] * x * y + k[i][3] * (x * x - y * y) +
                      k[i][4] * (x * x + y * y) + k[i][5] * std::cos(2 * x + y) - k[i][5]);
    return c;
  };
  simulated::FieldCamera camera;
  camera.turned_rad = 0.02 * chance.normal();
  camera.keystone = {0.04 * chance.normal(), 0.04 * chance.normal()};
  camera.crosstalk = chance.between(0.05, 0.3);
  camera.noise = chance.between(0.003, 0.03);
  camera.flat_error = out.options.flat_relative = chance.between(0.005, 0.02);
  camera.seed = chance.seed() >> 20;
  out.field = as_linear(simulated::field_picture(out.light, camera, 0));
  out.again = as_linear(simulated::field_picture(out.light, camera, 1));
  out.flat = as_linear(simulated::flat_picture(camera));
  out.options.seed = seed;
  return out;
}

}  // namespace provenit::bench
