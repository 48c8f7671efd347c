#include "provenit/forecast/title.h"

#include <tbb/blocked_range.h>
#include <tbb/parallel_for.h>

#include <algorithm>
#include <cmath>
#include <map>
#include <mutex>
#include <numbers>
#include <utility>

#include "provenit/colour/spaces.h"
#include "provenit/colour/transfer_pq.h"
#include "scenarios.h"
#include "zones.h"

namespace provenit::forecast {
namespace {

using programme::FrameRecord;
using programme::kLightBins;

constexpr double kAssumedForm = 0.2;
/// Backlights (or caps) that tables are made for: from 2^-12 to 1, four to an octave.
constexpr int kLevels = 49;
constexpr int kTop = 512;  ///< entries of the drive's table

double level(int i) {
  return std::exp2(-(kLevels - 1 - i) / 4.0);
}
/// Where a backlight lies between the levels.
float place_of(float backlight) {
  const float at = static_cast<float>(kLevels - 1) + 4 * std::log2(std::max(backlight, 1e-6F));
  return std::clamp(at, 0.0F, static_cast<float>(kLevels - 1) - 0.001F);
}

using Bins = std::array<float, kLightBins>;

double cdm2_of(double pq) {
  return colour::pq_eotf(colour::Signal<>{.value = pq}).cdm2;
}

/// Delta E of a row of colours at one backlight.
std::vector<float> delta_of(const PixelModel& model, const std::vector<std::array<float, 3>>& e, float backlight) {
  const std::size_t n = e.size();
  std::vector<float> r(n), g(n), b(n), light(n, backlight), even(n, 1.0F), x(n), y(n), z(n), delta(n);
  for (std::size_t i = 0; i < n; ++i) r[i] = e[i][0], g[i] = e[i][1], b[i] = e[i][2];
  Sums sums;
  measure_row({&model, 1}, {r.data(), g.data(), b.data(), light.data(), even.data(), static_cast<int>(n)},
              {x.data(), y.data(), z.data(), delta.data()}, {&sums, 1});
  return delta;
}

/// Hues that tables are made for, at this distance from D65 in u', v'.
constexpr int kHues = 12;
constexpr double kTint = 0.06, kMostTint = 1.5;
/// Colours beyond a triangle depart by so much of what those at the edge of the next one do. Our own choice.
constexpr float kEdgeShare = 0.3F;
/// Demand that counts as dark when shadows are looked for.
constexpr double kDarkDemand = 2e-3;

/// The luminances of the bins in a hue.
std::vector<std::array<float, 3>> tinted(int hue) {
  const auto white = colour::uv_prime_from_xy(colour::d65_video);
  const double angle = 2 * std::numbers::pi * hue / kHues;
  const auto xy = colour::xy_from_uv_prime(
      colour::UvPrime<>{.u = white.u + kTint * std::cos(angle), .v = white.v + kTint * std::sin(angle)});
  static const auto to_2020 = colour::xyz_to_rgb_matrix(colour::bt2020_primaries);
  std::vector<std::array<float, 3>> out;
  for (int i = 0; i < kLightBins; ++i) {
    const double cdm2 = i == 0 ? 0 : cdm2_of((i + 0.5) / kLightBins);
    const auto rgb = colour::rgb_from_xyz(colour::xyz_from_xy(xy, colour::Luminance<>{.cdm2 = cdm2}), to_2020);
    const auto e = colour::pq_inverse_eotf(colour::AbsoluteRgb<>{.r = std::clamp(rgb.r, 0.0, 10000.0),
                                                                 .g = std::clamp(rgb.g, 0.0, 10000.0),
                                                                 .b = std::clamp(rgb.b, 0.0, 10000.0)});
    out.push_back({static_cast<float>(e.r), static_cast<float>(e.g), static_cast<float>(e.b)});
  }
  return out;
}

std::vector<std::array<float, 3>> greys() {
  std::vector<std::array<float, 3>> out;
  for (int i = 0; i < kLightBins; ++i) {
    // Black is most of the lowest bin.
    const float e = i == 0 ? 0.0F : (static_cast<float>(i) + 0.5F) / kLightBins;
    out.push_back({e, e, e});
  }
  return out;
}

/// Colours of 100 cd/m2 around the edge of a triangle, in BT.2020.
std::vector<std::array<float, 3>> ring(const colour::Primaries<>& edge) {
  std::vector<std::array<float, 3>> out;
  const auto to_2020 = colour::rgb_to_rgb_matrix(edge, colour::bt2020_primaries);
  for (int hue = 0; hue < 12; ++hue) {
    const int from = hue / 4, to = (from + 1) % 3;
    std::array<double, 3> rgb{};
    const double t = (hue % 4) / 4.0;
    rgb[static_cast<std::size_t>(from)] = 1 - t;
    rgb[static_cast<std::size_t>(to)] = t;
    const auto light =
        colour::rgb_from_rgb(colour::AbsoluteRgb<>{.r = 100 * rgb[0], .g = 100 * rgb[1], .b = 100 * rgb[2]}, to_2020);
    const auto e = colour::pq_inverse_eotf(
        colour::AbsoluteRgb<>{.r = std::max(light.r, 0.0), .g = std::max(light.g, 0.0), .b = std::max(light.b, 0.0)});
    out.push_back({static_cast<float>(e.r), static_cast<float>(e.g), static_cast<float>(e.b)});
  }
  return out;
}

float mean(const std::vector<float>& v) {
  double sum = 0;
  for (const float x : v) sum += static_cast<double>(x);
  return static_cast<float>(sum / static_cast<double>(v.size()));
}

}  // namespace

const char* name_of(Cause cause) {
  constexpr const char* names[] = {"clip", "limiter", "black", "halo", "gamut"};
  return names[static_cast<std::size_t>(cause)];
}

struct TitleForecaster::Impl {
  ForecastDisplay display;
  PixelTables tables;
  using Table = std::array<Bins, kLevels>;
  Table delta{}, deviation{};         ///< of each grey, by backlight (by cap without zones)
  std::array<Table, kHues> of_hue{};  ///< of the same luminances in a hue, beyond those of the grey
  int first_clipped = kLightBins, last_shadow = 0;
  float beyond_709 = 0, beyond_p3 = 0;    ///< Delta E of colours there beyond that of a grey
  std::array<float, kLightBins> asked{};  ///< demand of a grey
  std::array<float, kTop + 1> drive{};    ///< by the square root of the demand
  double form = kAssumedForm;
  float least_backlight = 1;
  mutable std::mutex guard;
  mutable std::map<std::pair<int, int>, BacklightMap> maps;  ///< by the blocks of the survey

  explicit Impl(const ForecastDisplay& d) : display(d), tables(tables_of(d.channels())) {
    const auto& optics = display.optics();
    const PixelModel model = pixel_model(display, tables, colour::bt2020_primaries);
    const auto e = greys();
    for (int l = 0; l < kLevels; ++l) {
      const double cap = optics.zoned() ? 1 : level(l), backlight = optics.zoned() ? level(l) : 1;
      const PixelModel here = limited(model, optics, cap);
      const auto base = delta_of(here, e, static_cast<float>(backlight));
      std::vector<double> variance(e.size());
      // With zones the cap's own error comes through the backlight; the scenarios see a cap that is felt.
      for (const auto& s : scenarios(here, display, optics.zoned() ? 0.99 : cap)) {
        const auto more = delta_of(s.more, e, static_cast<float>(backlight)),
                   less = delta_of(s.less, e, static_cast<float>(backlight));
        for (std::size_t i = 0; i < e.size(); ++i) {
          const double v = 0.5 * (std::abs(more[i] - base[i]) + std::abs(less[i] - base[i]));
          variance[i] += v * v;
        }
      }
      for (std::size_t i = 0; i < e.size(); ++i) {
        delta[static_cast<std::size_t>(l)][i] = base[i];
        deviation[static_cast<std::size_t>(l)][i] = static_cast<float>(std::sqrt(variance[i]));
      }
      for (std::size_t h = 0; h < of_hue.size(); ++h) {
        const auto there = delta_of(here, tinted(static_cast<int>(h)), static_cast<float>(backlight));
        for (std::size_t i = 0; i < e.size(); ++i) of_hue[h][static_cast<std::size_t>(l)][i] = there[i] - base[i];
      }
    }
    for (int i = 0; i < kLightBins; ++i) {
      const double cdm2 = cdm2_of((i + 0.5) / kLightBins);
      if (cdm2 < kShadowBelow) last_shadow = i;
      if (cdm2 > 0.95 * display.peak_cdm2()) first_clipped = std::min(first_clipped, i);
      const auto f = display.channels().of({.r = cdm2, .g = cdm2, .b = cdm2});
      asked[static_cast<std::size_t>(i)] = static_cast<float>(std::max({f[0], f[1], f[2]}));
    }
    for (int i = 0; i <= kTop; ++i) {
      const double q = std::pow(static_cast<double>(i) / kTop, 2);
      drive[static_cast<std::size_t>(i)] =
          static_cast<float>(optics.minimum_drive + (1 - optics.minimum_drive) * std::pow(q, optics.exponent));
    }
    if (optics.zoned()) least_backlight = static_cast<float>(optics.minimum_drive);
    const float grey = delta_of(model, {{0.508F, 0.508F, 0.508F}}, 1)[0];
    const auto full = limited(model, optics, 1);
    beyond_709 = std::max(0.0F, mean(delta_of(full, ring(colour::p3_d65_primaries), 1)) - grey) * kEdgeShare;
    beyond_p3 = std::max(0.0F, mean(delta_of(full, ring(colour::bt2020_primaries), 1)) - grey) * kEdgeShare;
  }

  /// The blocks as zones of their own.
  [[nodiscard]] const BacklightMap& map_for(int columns, int rows) const {
    const std::lock_guard lock(guard);
    const auto found = maps.find({columns, rows});
    if (found != maps.end()) return found->second;
    Optics blocks = display.optics();
    for (double& s : blocks.spread_zones) s *= static_cast<double>(rows) / display.optics().rows;
    blocks.columns = columns;
    blocks.rows = rows;
    std::vector<double> x, y;
    for (int i = 0; i < columns; ++i) x.push_back((i + 0.5) / columns);
    for (int i = 0; i < rows; ++i) y.push_back((i + 0.5) / rows);
    return maps.emplace(std::pair{columns, rows}, BacklightMap(blocks, x, y)).first->second;
  }

  struct Behind {
    float dark = 1, bright = 1, cap = 1;  ///< backlight of shadows and of bright parts, without the cap
    float bright_signal = 1;              ///< PQ signal that the bright parts have
  };

  /// Light behind the picture as its blocks say: of each block the mean is known, and of the frame how much brighter
  /// than its brightest block its highlights are; the root of that ratio is taken for all blocks,
  /// a choice of ours: most blocks are more even than the brightest one.
  [[nodiscard]] Behind behind(const FrameRecord& frame, std::vector<double>& drives) const {
    const auto& optics = display.optics();
    Behind out;
    const auto n = static_cast<std::size_t>(frame.block_columns) * static_cast<std::size_t>(frame.block_rows);
    if (!optics.zoned() || n == 0) return out;
    std::uint16_t most = 0;
    for (std::size_t i = 0; i < n; ++i) most = std::max(most, frame.blocks[i]);
    const float high = at_signal(pq_signal(frame.figures.luminance_percentile[5]));  // 99.9 %
    const float brightest = std::max(at_signal(static_cast<float>(most) / 65535), 1e-5F);
    const float ratio = std::sqrt(std::max(high / brightest, 1.0F));
    drives.resize(n);
    double sum = 0;
    const auto share = static_cast<float>(optics.largest_share);
    for (std::size_t i = 0; i < n; ++i) {
      const float q = at_signal(static_cast<float>(frame.blocks[i]) / 65535);
      const float demand = share * std::min(q * ratio, std::max(high, q)) + (1 - share) * q;
      constexpr float to_nearest = 0.5F;
      const float at = std::sqrt(std::clamp(demand, 0.0F, 1.0F)) * kTop + to_nearest;
      drives[i] = static_cast<double>(drive[static_cast<std::size_t>(at)]);
      sum += drives[i];
    }
    out.cap = static_cast<float>(optics.cap_at(sum / static_cast<double>(n)));
    const auto light = map_for(frame.block_columns, frame.block_rows).at(drives);
    double dark = 0, dark_weight = 0, bright = 0, bright_weight = 0, signal = 0;
    for (std::size_t i = 0; i < n; ++i) {
      // Shadows lie in dark blocks, highlights in bright ones.
      const float q = at_signal(static_cast<float>(frame.blocks[i]) / 65535);
      const double w = 1 / (static_cast<double>(q) + kDarkDemand);
      dark += w * static_cast<double>(light[i]);
      dark_weight += w;
      bright += static_cast<double>(q * light[i]);
      bright_weight += static_cast<double>(q);
      signal += static_cast<double>(q) * frame.blocks[i] / 65535;
    }
    out.dark = static_cast<float>(dark / dark_weight);
    out.bright = bright_weight > 0 ? static_cast<float>(bright / bright_weight) : 1.0F;
    out.bright_signal = bright_weight > 0 ? static_cast<float>(signal / bright_weight) : 1.0F;
    return out;
  }

  [[nodiscard]] static float pq_signal(double cdm2) {
    return static_cast<float>(colour::pq_inverse_eotf(colour::Luminance<>{.cdm2 = cdm2}).value);
  }
  /// Demand of a grey of this PQ signal.
  [[nodiscard]] float at_signal(float e) const {
    const float at = std::clamp(e * kLightBins - 0.5F, 0.0F, static_cast<float>(kLightBins) - 1.001F);
    const auto i = static_cast<std::size_t>(at);
    return asked[i] + (at - static_cast<float>(i)) * (asked[i + 1] - asked[i]);
  }

  /// Sum over bins [from, to) of counts times a table between its levels.
  [[nodiscard]] static float weighed(const std::array<Bins, kLevels>& table, float place, const float* share, int from,
                                     int to) {
    const auto l = static_cast<std::size_t>(place);
    const float t = place - static_cast<float>(l);
    const auto &a = table[l], &b = table[l + 1];
    float sum = 0;
    for (int i = from; i < to; ++i) {
      const auto k = static_cast<std::size_t>(i);
      sum += share[k] * (a[k] + t * (b[k] - a[k]));
    }
    return sum;
  }

  /// How the frame's mean colour lies: a hue's table and how much of it counts.
  struct Tint {
    const Table* table = nullptr;
    float share = 0;
  };
  [[nodiscard]] Tint tint_of(const programme::FrameFigures& f) const {
    if (f.mean_v_prime <= 0) return {&of_hue[0], 0};
    static const auto white = colour::uv_prime_from_xy(colour::d65_video);
    const double u = f.mean_u_prime - white.u, v = f.mean_v_prime - white.v;
    const double turn = std::atan2(v, u) / (2 * std::numbers::pi) * kHues;
    const auto hue = static_cast<std::size_t>((static_cast<int>(std::lround(turn)) + kHues) % kHues);
    return {&of_hue[hue], static_cast<float>(std::min(std::hypot(u, v) / kTint, kMostTint))};
  }

  [[nodiscard]] FrameOutlook outlook(const FrameRecord& frame, std::vector<double>& drives) const {
    FrameOutlook out{.index = frame.figures.index, .time_s = frame.figures.time_s, .delta_e = {}};
    std::uint64_t pixels = 0;
    for (const auto n : frame.light) pixels += n;
    if (pixels == 0) return out;
    Bins share;
    for (std::size_t i = 0; i < share.size(); ++i)
      share[i] = static_cast<float>(frame.light[i]) / static_cast<float>(pixels);
    const int shadow = last_shadow + 1, clip = std::max(first_clipped, shadow);
    const auto& optics = display.optics();
    const Tint tint = tint_of(frame.figures);
    const auto departure = [&](float place, int from, int to) {
      return weighed(delta, place, share.data(), from, to) +
             tint.share * weighed(*tint.table, place, share.data(), from, to);
    };
    float low, low_alone, high, high_free, sure;
    if (optics.zoned()) {
      const Behind b = behind(frame, drives);
      // Between shadows and bright parts the light behind goes with the signal.
      const auto along = [&](float scale, auto&& of) {
        constexpr int chunk = 8;
        const float dark = place_of(b.dark * scale), bright = place_of(b.bright * scale);
        const float from_signal = static_cast<float>(shadow) / kLightBins;
        const float span = std::max(b.bright_signal - from_signal, 0.01F);
        float sum = 0;
        for (int from = shadow; from < kLightBins; from += chunk) {
          const int to = std::min(from + chunk, kLightBins);
          const float t = (static_cast<float>(from + to) / (2 * kLightBins) - from_signal) / span;
          sum += of(dark + std::clamp(t, 0.0F, 1.0F) * (bright - dark), from, to);
        }
        return sum;
      };
      const float dark = place_of(b.dark * b.cap);
      low = departure(dark, 0, shadow);
      low_alone = departure(place_of(least_backlight), 0, shadow);
      high = along(b.cap, departure);
      high_free = b.cap < 0.9999F ? along(1, departure) : high;
      sure = weighed(deviation, dark, share.data(), 0, shadow) + along(b.cap, [&](float place, int from, int to) {
               return weighed(deviation, place, share.data(), from, to);
             });
      out.by_cause[0] = departure(place_of(b.bright), clip, kLightBins);
    } else {
      double load = 0;
      for (std::size_t i = 0; i < share.size(); ++i) load += static_cast<double>(share[i] * asked[i]);
      const float cap = place_of(static_cast<float>(optics.cap_at(load))), free = place_of(1);
      low = departure(cap, 0, shadow);
      low_alone = low;
      high = departure(cap, shadow, kLightBins);
      high_free = departure(free, shadow, kLightBins);
      sure = weighed(deviation, cap, share.data(), 0, kLightBins);
      out.by_cause[0] = departure(free, clip, kLightBins);
    }
    const auto p3 = static_cast<float>(frame.figures.share_outside_p3),
               bt709 = static_cast<float>(frame.figures.share_outside_bt709);
    const float gamut = p3 * beyond_p3 + std::max(bt709 - p3, 0.0F) * beyond_709;
    out.by_cause[1] = std::max(high - high_free, 0.0F);
    out.by_cause[2] = std::min(low_alone, low);
    out.by_cause[3] = std::max(low - low_alone, 0.0F);
    out.by_cause[4] = gamut;
    const double value = static_cast<double>(low + high + gamut);
    const double reach = kNinety * std::hypot(static_cast<double>(sure), form * value);
    out.delta_e = {value, std::max(0.0, value - reach), value + reach};
    return out;
  }
};

TitleForecaster::TitleForecaster(const ForecastDisplay& display) : impl_(std::make_unique<Impl>(display)) {}
TitleForecaster::TitleForecaster(TitleForecaster&&) noexcept = default;
TitleForecaster& TitleForecaster::operator=(TitleForecaster&&) noexcept = default;
TitleForecaster::~TitleForecaster() = default;

std::vector<FrameOutlook> TitleForecaster::forecast(std::span<const FrameRecord> frames) const {
  std::vector<FrameOutlook> out(frames.size());
  tbb::parallel_for(tbb::blocked_range<std::size_t>(0, frames.size(), 512), [&](const auto& range) {
    std::vector<double> drives;
    for (auto i = range.begin(); i != range.end(); ++i) out[i] = impl_->outlook(frames[i], drives);
  });
  return out;
}

double TitleForecaster::form() const {
  return impl_->form;
}

void TitleForecaster::set_form(std::span<const double> fast_delta_e, std::span<const double> full_delta_e) {
  double sum = 0;
  std::size_t n = 0;
  for (std::size_t i = 0; i < std::min(fast_delta_e.size(), full_delta_e.size()); ++i)
    if (fast_delta_e[i] > 0 && full_delta_e[i] > 0) {
      sum += std::pow(fast_delta_e[i] / full_delta_e[i] - 1, 2);
      ++n;
    }
  if (n >= 5) impl_->form = std::sqrt(sum / static_cast<double>(n));
}

namespace {

template <class Worth>
std::vector<Moment> worst(std::span<const FrameOutlook> frames, std::size_t count, double apart_s, Worth&& worth) {
  std::vector<std::size_t> order(frames.size());
  for (std::size_t i = 0; i < order.size(); ++i) order[i] = i;
  std::ranges::stable_sort(order, [&](auto a, auto b) { return worth(frames[a]) > worth(frames[b]); });
  std::vector<Moment> out;
  for (const auto i : order) {
    if (out.size() == count || !(worth(frames[i]) > 0)) break;
    const auto near = [&](const Moment& m) { return std::abs(m.frame.time_s - frames[i].time_s) < apart_s; };
    if (std::ranges::none_of(out, near)) out.push_back({.frame = frames[i]});
  }
  return out;
}

}  // namespace

std::vector<Moment> worst_moments(std::span<const FrameOutlook> frames, std::size_t count, double apart_s) {
  auto out = worst(frames, count, apart_s, [](const FrameOutlook& f) { return f.delta_e.value; });
  for (auto& m : out)
    m.cause = static_cast<Cause>(std::ranges::max_element(m.frame.by_cause) - m.frame.by_cause.begin());
  return out;
}

std::vector<Moment> worst_moments(std::span<const FrameOutlook> frames, Cause cause, std::size_t count,
                                  double apart_s) {
  auto out = worst(frames, count, apart_s,
                   [cause](const FrameOutlook& f) { return f.by_cause[static_cast<std::size_t>(cause)]; });
  for (auto& m : out) m.cause = cause;
  return out;
}

}  // namespace provenit::forecast
