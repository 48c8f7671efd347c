#pragma once
// Invented titles with known changes: moving textures of several sizes with noise, flashes, fades and dissolves, as the
// block maps and histograms that a survey would store.
#include <algorithm>
#include <array>
#include <cmath>
#include <cstdint>
#include <random>
#include <vector>

#include "provenit/colour/transfer_pq.h"
#include "provenit/programme/scenes.h"

namespace provenit::programme::invented {

inline constexpr int kWidth = 3840, kHeight = 2160, kColumns = 15, kRows = 9;
inline constexpr double kRate = 24;
using Map = std::array<double, kColumns * kRows>;  // PQ signal

/// A texture that moves: waves of random direction and length over a gradient.
struct Texture {
  struct Wave {
    double fx, fy, phase, size;
  };
  std::vector<Wave> waves;
  double base = 0.3, slope_x = 0, slope_y = 0, speed_x = 0, speed_y = 0, drift = 0;

  static Texture random(std::mt19937& random) {
    const auto between = [&](double a, double b) { return std::uniform_real_distribution<>(a, b)(random); };
    Texture t;
    t.base = between(0.12, 0.55);
    const double contrast = between(0.2, 0.6) * t.base;
    for (int i = 0; i < 7; ++i)
      t.waves.push_back({between(-1.8, 1.8), between(-1.8, 1.8), between(0, 6.28), contrast * between(0.15, 0.5)});
    t.slope_x = between(-0.01, 0.01), t.slope_y = between(-0.015, 0.015);
    const double fast = between(0, 1) < 0.25 ? 0.3 : 0.06;  // blocks per frame
    t.speed_x = between(-fast, fast), t.speed_y = between(-fast, fast) / 2;
    t.drift = between(-0.0006, 0.0006);
    return t;
  }
  [[nodiscard]] Map at(int frame, std::mt19937& random) const {
    std::normal_distribution<> noise(0, 0.0004);
    Map map{};
    for (int y = 0; y < kRows; ++y)
      for (int x = 0; x < kColumns; ++x) {
        double v = base + drift * frame + slope_x * (x - 7) + slope_y * (y - 4);
        for (const auto& w : waves) {
          // Mean of the wave over the block, so that fine waves fade out as they do in a real map.
          const double blur = std::exp(-(w.fx * w.fx + w.fy * w.fy) / 6);
          v += w.size * blur * std::sin(w.fx * (x + speed_x * frame) + w.fy * (y + speed_y * frame) + w.phase);
        }
        map[static_cast<std::size_t>(y * kColumns + x)] = std::clamp(v + noise(random), 0.0, 0.92);
      }
    return map;
  }
};

inline Map mixed(const Map& a, const Map& b, double k) {
  Map m{};
  for (std::size_t i = 0; i < m.size(); ++i) m[i] = (1 - k) * a[i] + k * b[i];
  return m;
}
inline Map field(double level) {
  Map m{};
  m.fill(level);
  return m;
}

inline FrameRecord record(const Map& map, std::int64_t index, double rate = kRate) {
  FrameRecord r;
  r.figures.index = index;
  r.figures.time_s = static_cast<double>(index) / rate;
  r.figures.active = {0, 0, kWidth, kHeight};
  r.block_columns = kColumns, r.block_rows = kRows;
  for (std::size_t i = 0; i < map.size(); ++i) {
    r.blocks[i] = static_cast<std::uint16_t>(std::lround(65535 * std::clamp(map[i], 0.0, 1.0)));
    r.light[static_cast<std::size_t>(std::min(127.0, 128 * map[i]))] += 61440;
  }
  return r;
}

struct Truth {
  ChangeKind kind;
  std::size_t first, last, start;
};
struct Title {
  std::vector<FrameRecord> frames;
  std::vector<Truth> truth;
  void add(const Map& map) { frames.push_back(record(map, static_cast<std::int64_t>(frames.size()))); }
};

/// `scenes` textures one after the other. Some have a flash of 1 to 4 frames in them; some follow by a fade through
/// black or white, some by a dissolve.
inline Title title(unsigned seed, int scenes) {
  std::mt19937 random(seed);
  const auto chance = [&](double p) { return std::uniform_real_distribution<>(0, 1)(random) < p; };
  const auto whole = [&](int a, int b) { return std::uniform_int_distribution<>(a, b)(random); };
  Title t;
  Texture now = Texture::random(random);
  for (int s = 0; s < scenes; ++s) {
    const int length = whole(16, 90);
    const int flash_at = chance(0.3) && length > 30 ? whole(10, length - 12) : -1, flash_long = whole(1, 4);
    const double flash_up = std::uniform_real_distribution<>(0.1, 0.4)(random);
    int frame = 0;
    for (; frame < length; ++frame) {
      Map m = now.at(frame, random);
      if (flash_at >= 0 && frame >= flash_at && frame < flash_at + flash_long)
        m = mixed(m, field(0.75), flash_up + (frame == flash_at ? 0.4 : 0.0));
      t.add(m);
    }
    if (s + 1 == scenes) break;
    const Texture next = Texture::random(random);
    const std::size_t first = t.frames.size();
    if (chance(0.15)) {
      const int down = whole(8, 24), blank = whole(2, 20), up = whole(8, 24);
      const double level = chance(0.8) ? 0.0 : 0.7;
      for (int i = 1; i <= down; ++i) t.add(mixed(now.at(frame++, random), field(level), i / (down + 1.0)));
      for (int i = 0; i < blank; ++i) t.add(field(level));
      const std::size_t start = t.frames.size();
      for (int i = 1; i <= up; ++i) t.add(mixed(next.at(i - up - 1, random), field(level), 1 - i / (up + 1.0)));
      t.truth.push_back({ChangeKind::fade, first, t.frames.size() - 1, start});
    } else if (chance(0.12)) {
      const int long_ = whole(10, 40);
      for (int i = 1; i <= long_; ++i)
        t.add(mixed(now.at(frame++, random), next.at(i - long_ - 1, random), i / (long_ + 1.0)));
      t.truth.push_back(
          {ChangeKind::dissolve, first, t.frames.size() - 1, first + static_cast<std::size_t>(long_) / 2});
    } else {
      t.truth.push_back({ChangeKind::cut, first, first, first});
    }
    now = next;
  }
  return t;
}

}  // namespace provenit::programme::invented
