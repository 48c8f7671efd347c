#include "provenit/simulated/walk_film.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <random>

#include "provenit/colour/transfer_sdr.h"

namespace provenit::simulated {
namespace {

constexpr int kBands = 6;        // of rows that are read out at one moment
constexpr double kFaint = 1e-4;  // of a zone's light: less is left out
constexpr double kFlare = 0.02;  // of white, that the box throws over its neighbourhood in the lens

/// What one zone gives to the pixels around it.
struct Spot {
  int left = 0, top = 0, width = 0, height = 0;
  std::vector<float> light;
};

}  // namespace

class WalkFilm::Impl {
 public:
  Impl(const DisplayPhysics& physics, const BoxWalk& walk, FilmCamera camera)
      : physics_(physics),
        walk_(walk),
        camera_(std::move(camera)),
        random_(camera_.seed),
        levels_(walk_levels(physics, walk)) {
    const auto& zones = *physics.zones;
    brightest_ = zone_light_at(physics, 0, 0, 0.5 / zones.columns, 0.5 / zones.rows);
    spots_.resize(static_cast<std::size_t>(zones.columns) * static_cast<std::size_t>(zones.rows));
    for (int code = 0; code < 4096; ++code)
      curve_.push_back(static_cast<std::uint8_t>(
          std::lround(255 * colour::bt709_oetf(colour::Relative<>{.value = code / 4095.0}).value)));
  }

  [[nodiscard]] int frames() const {
    return static_cast<int>(walk_.seconds() * camera_.rate_hz * (1 + camera_.rate_error));
  }

  std::vector<std::uint8_t> next() {
    const double begun = frame_++ / (camera_.rate_hz * (1 + camera_.rate_error));
    std::vector<float> light(static_cast<std::size_t>(camera_.width) * static_cast<std::size_t>(camera_.height));
    for (int band = 0; band < kBands; ++band) {
      const double t = begun + camera_.readout_s * band / kBands;
      const int from = camera_.height * band / kBands, to = camera_.height * (band + 1) / kBands;
      expose(light, from, to, t);
    }
    std::normal_distribution<float> normal(0, static_cast<float>(camera_.noise));
    std::vector<std::uint8_t> codes;
    codes.reserve(light.size());
    for (const float v : light)
      codes.push_back(curve_[static_cast<std::size_t>(std::clamp(v + normal(random_), 0.F, 1.F) * 4095)]);
    return codes;
  }

 private:
  [[nodiscard]] double display_x(double x) const {
    return (x / camera_.width - camera_.margin) / (1 - 2 * camera_.margin);
  }
  [[nodiscard]] double display_y(double y) const {
    return (y / camera_.height - camera_.margin) / (1 - 2 * camera_.margin);
  }

  [[nodiscard]] Spot spot(int column, int row) const {
    Spot out{.width = camera_.width, .height = camera_.height, .light = {}};
    std::array<int, 4> used{camera_.width, camera_.height, 0, 0};  // left, top, right, bottom
    std::vector<float> all;
    for (int y = 0; y < camera_.height; ++y)
      for (int x = 0; x < camera_.width; ++x) {
        const double u = display_x(x + 0.5), v = display_y(y + 0.5);
        const bool inside = u > 0 && u < 1 && v > 0 && v < 1;
        const double share = inside ? zone_light_at(physics_, column, row, u, v) / brightest_ : 0;
        all.push_back(static_cast<float>(share * camera_.zone_light));
        if (share < 0.003) continue;
        used = {std::min(used[0], x), std::min(used[1], y), std::max(used[2], x + 1), std::max(used[3], y + 1)};
      }
    out.left = used[0], out.top = used[1];
    out.width = std::max(0, used[2] - used[0]), out.height = std::max(0, used[3] - used[1]);
    for (int y = out.top; y < out.top + out.height; ++y)
      for (int x = out.left; x < out.left + out.width; ++x)
        out.light.push_back(
            all[static_cast<std::size_t>(y) * static_cast<std::size_t>(camera_.width) + static_cast<std::size_t>(x)]);
    return out;
  }

  void expose(std::vector<float>& light, int from, int to, double t) {
    const auto factor = static_cast<float>(camera_.exposure ? camera_.exposure(t) : 1);
    for (int y = from; y < to; ++y)
      for (int x = 0; x < camera_.width; ++x) {
        const double u = display_x(x + 0.5), v = display_y(y + 0.5);
        if (u > 0 && u < 1 && v > 0 && v < 1) continue;
        light[static_cast<std::size_t>(y) * static_cast<std::size_t>(camera_.width) + static_cast<std::size_t>(x)] =
            factor * static_cast<float>(camera_.room_light * (1 + (x / 6 + y / 6) % 2));
      }
    const auto levels = levels_(t);
    for (std::size_t i = 0; i < spots_.size(); ++i) {
      const auto level = static_cast<float>(levels[i] - physics_.zones->minimum_drive);
      if (level < kFaint) continue;
      auto& s = spots_[i];
      const int columns = physics_.zones->columns;
      if (s.light.empty()) s = spot(static_cast<int>(i) % columns, static_cast<int>(i) / columns);
      for (int y = std::max(from, s.top); y < std::min(to, s.top + s.height); ++y)
        for (int x = 0; x < s.width; ++x)
          light[static_cast<std::size_t>(y) * static_cast<std::size_t>(camera_.width) +
                static_cast<std::size_t>(s.left + x)] +=
              factor * level *
              s.light[static_cast<std::size_t>(y - s.top) * static_cast<std::size_t>(s.width) +
                      static_cast<std::size_t>(x)];
    }
    add_box(light, from, to, t, factor);
  }

  /// The box itself, far brighter than white, with the lens's flare close around it.
  void add_box(std::vector<float>& light, int from, int to, double t, float factor) {
    const auto frame = static_cast<int>(std::floor((t - walk_.black_before_s) / walk_.frame_s));
    if (t < walk_.black_before_s || frame >= walk_.frames()) return;
    const double along = frame * static_cast<double>(walk_.step) + 0.5 * walk_.along;
    const double u = (walk_.down ? 0.5 * walk_.across : along) / walk_.width;
    const double v = (walk_.down ? along : 0.5 * walk_.across) / walk_.height;
    const double x0 = camera_.width * (camera_.margin + u * (1 - 2 * camera_.margin));
    const double y0 = camera_.height * (camera_.margin + v * (1 - 2 * camera_.margin));
    const int reach = static_cast<int>(std::ceil(4 * camera_.blur + 2));
    for (int y = std::max(from, static_cast<int>(y0) - reach); y < std::min(to, static_cast<int>(y0) + reach + 1); ++y)
      for (int x = std::max(0, static_cast<int>(x0) - reach);
           x < std::min(camera_.width, static_cast<int>(x0) + reach + 1); ++x) {
        const double d = std::hypot(x + 0.5 - x0, y + 0.5 - y0);
        light[static_cast<std::size_t>(y) * static_cast<std::size_t>(camera_.width) + static_cast<std::size_t>(x)] +=
            factor * static_cast<float>(3 * std::exp(-0.5 * std::pow(d / camera_.blur, 2)) + kFlare * std::exp(-d / 2));
      }
  }

  DisplayPhysics physics_;
  BoxWalk walk_;
  FilmCamera camera_;
  std::mt19937_64 random_;
  std::function<std::vector<double>(double)> levels_;
  double brightest_ = 1;
  std::vector<Spot> spots_;
  std::vector<std::uint8_t> curve_;
  int frame_ = 0;
};

WalkFilm::WalkFilm(const DisplayPhysics& physics, const BoxWalk& walk, FilmCamera camera)
    : impl_(std::make_unique<Impl>(physics, walk, std::move(camera))) {}
WalkFilm::~WalkFilm() = default;
WalkFilm::WalkFilm(WalkFilm&&) noexcept = default;
WalkFilm& WalkFilm::operator=(WalkFilm&&) noexcept = default;
int WalkFilm::frames() const {
  return impl_->frames();
}
std::vector<std::uint8_t> WalkFilm::next() {
  return impl_->next();
}

}  // namespace provenit::simulated
