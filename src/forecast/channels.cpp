#include "channels.h"

#include <algorithm>
#include <cmath>

#include "provenit/colour/difference.h"
#include "provenit/colour/primaries.h"
#include "provenit/colour/transfer_pq.h"
#include "provenit/signal/encoding.h"

namespace provenit::forecast {
namespace {

using colour::Vector3;

double pq_of(double cdm2) {
  return colour::pq_inverse_eotf(colour::Luminance<>{.cdm2 = std::max(cdm2, 0.0)}).value;
}
double light_of(double pq) {
  return colour::pq_eotf(colour::Signal<>{.value = pq}).cdm2;
}
Vector3<> vector_of(const colour::AbsoluteXyz<>& c) {
  return {c.X, c.Y, c.Z};
}
Vector3<> without(const colour::AbsoluteXyz<>& c, const colour::AbsoluteXyz<>& behind) {
  return {c.X - behind.X, c.Y - behind.Y, c.Z - behind.Z};
}

/// The light d at which a channel's curve reaches f; between the steps as Channels::at.
double inverse_of(const std::vector<double>& curve, double f) {
  const auto above = std::ranges::lower_bound(curve, f);
  if (above == curve.begin()) return 0;
  if (above == curve.end()) return light_of(1);
  const auto i = static_cast<double>(above - curve.begin());
  const double step = *above - *(above - 1), t = step > 0 ? (f - *(above - 1)) / step : 1;
  return light_of((i - 1 + t) / Channels::kSteps);
}

struct Colour {
  colour::SignalRgb<> signal;
  Vector3<> light;  ///< of the container
};

/// Colours inside P3, some pale and some strong, at levels where no channel clips.
std::vector<Colour> colours(const colour::Primaries<>& container, double peak) {
  std::vector<Colour> out;
  const auto to_container = colour::rgb_to_rgb_matrix(colour::p3_d65_primaries, container);
  for (const double share : {0.003, 0.03, 0.15, 0.35})
    for (const double strength : {0.35, 0.7, 0.95})
      for (int hue = 0; hue < 6; ++hue) {
        // Red, yellow, green, cyan, blue, magenta.
        colour::AbsoluteRgb<> p3;
        double* part[] = {&p3.r, &p3.g, &p3.b};
        for (int c = 0; c < 3; ++c) {
          const bool on = hue == 2 * c || hue == (2 * c + 1) % 6 || hue == (2 * c + 5) % 6;
          *part[c] = share * peak * (on ? 1 : 1 - strength);
        }
        auto light = colour::rgb_from_rgb(p3, to_container);
        light = {.r = std::max(light.r, 0.0), .g = std::max(light.g, 0.0), .b = std::max(light.b, 0.0)};
        out.push_back({colour::pq_inverse_eotf(light), {light.r, light.g, light.b}});
      }
  return out;
}

/// Row of A for one channel by least squares: asked ~ row . light with the row's sum 1.
Vector3<> row_of(const std::vector<Colour>& from, const std::vector<double>& asked, const std::vector<bool>& use) {
  double saa = 0, sab = 0, sbb = 0, sa = 0, sb = 0;
  for (std::size_t i = 0; i < from.size(); ++i) {
    if (!use[i]) continue;
    const auto& l = from[i].light;
    const double scale = 1 / std::max({l[0], l[1], l[2]});
    const double a = (l[0] - l[2]) * scale, b = (l[1] - l[2]) * scale, y = (asked[i] - l[2]) * scale;
    saa += a * a, sab += a * b, sbb += b * b, sa += a * y, sb += b * y;
  }
  const double det = saa * sbb - sab * sab;
  if (!(det > 1e-12)) return {1. / 3, 1. / 3, 1. / 3};
  const double r = (sa * sbb - sb * sab) / det, g = (sb * saa - sa * sab) / det;
  return {r, g, 1 - r - g};
}

}  // namespace

double Channels::at(std::size_t channel, double d_cdm2) const {
  if (!(d_cdm2 > 0)) return 0;
  const double x = std::min(pq_of(d_cdm2), 1.0) * kSteps;
  const auto i = std::min(static_cast<std::size_t>(x), static_cast<std::size_t>(kSteps - 1));
  const auto& c = curve[channel];
  return c[i] + (x - static_cast<double>(i)) * (c[i + 1] - c[i]);
}

std::array<double, 3> Channels::of(const colour::AbsoluteRgb<>& container) const {
  const Vector3<> asked{std::min(container.r, clip_cdm2), std::min(container.g, clip_cdm2),
                        std::min(container.b, clip_cdm2)};
  const auto d = mixing * asked;
  return {at(0, d[0]), at(1, d[1]), at(2, d[2])};
}

Channels channels_of(const correct::DisplayModel& model, const BehindGrey& behind) {
  Channels out;
  const auto white = model.light({.r = 1, .g = 1, .b = 1});
  const auto primaries = model.primaries();
  for (std::size_t c = 0; c < 3; ++c) {
    const auto& p = primaries[c];
    out.light(0, c) = p.x / p.y;
    out.light(1, c) = 1;
    out.light(2, c) = (1 - p.x - p.y) / p.y;
  }
  const auto gain = colour::inverse(out.light) * without(white, behind(1));
  out.light = out.light * colour::diagonal(gain);
  const auto to_channels = colour::inverse(out.light);

  for (auto& c : out.curve) c.assign(Channels::kSteps + 1, 0.0);
  for (int i = 0; i <= Channels::kSteps; ++i) {
    const double x = static_cast<double>(i) / Channels::kSteps;
    const auto read = model.light({.r = x, .g = x, .b = x});
    const auto f = to_channels * without(read, behind(std::clamp(read.Y / white.Y, 0.0, 1.0)));
    for (std::size_t c = 0; c < 3; ++c) {
      auto& curve = out.curve[c];
      const auto k = static_cast<std::size_t>(i);
      curve[k] = std::max(i == 0 ? 0.0 : curve[k - 1], i == 0 ? 0.0 : std::min(f[c], 1.0));
    }
  }
  const auto full = [&](std::size_t i) {
    return std::ranges::all_of(out.curve, [i](const auto& c) { return c[i] >= 0.998; });
  };
  std::size_t top = 0;
  while (top < Channels::kSteps && !full(top)) ++top;
  out.clip_cdm2 = light_of(static_cast<double>(top) / Channels::kSteps);

  const auto& container = signal::primaries_of(model.encoding().container);
  const auto from = colours(container, white.Y);
  std::vector<std::array<double, 3>> shares;
  for (const auto& c : from) {
    const auto read = model.light(c.signal);
    // The backlight follows the brightest channel.
    double most = 0;
    for (const double v : to_channels* vector_of(read)) most = std::max(most, v);
    const auto f = to_channels * without(read, behind(std::clamp(most, 0.0, 1.0)));
    shares.push_back({f[0], f[1], f[2]});
  }
  for (std::size_t c = 0; c < 3; ++c) {
    std::vector<double> asked;
    std::vector<bool> use;
    for (const auto& f : shares) {
      asked.push_back(inverse_of(out.curve[c], f[c]));
      use.push_back(f[c] > 0.001 && f[c] < 0.9);
    }
    out.mixing.row[c] = row_of(from, asked, use);
  }

  double sum = 0;
  for (const auto& c : from) {
    const auto f = out.of({.r = c.light[0], .g = c.light[1], .b = c.light[2]});
    const auto b = behind(std::max({f[0], f[1], f[2]}));
    const auto v = out.light * Vector3<>{f[0], f[1], f[2]};
    const double d = colour::itp_difference(model.light(c.signal),
                                            colour::AbsoluteXyz<>{.X = v[0] + b.X, .Y = v[1] + b.Y, .Z = v[2] + b.Z})
                         .total;
    sum += d * d / static_cast<double>(from.size());
  }
  out.misfit_delta_e_itp = std::sqrt(sum);
  return out;
}

colour::AbsoluteRgb<> container_light(const signal::Encoding& encoding, const signal::CodeRgb& code) {
  return colour::pq_eotf(signal::signal_of(encoding, code));
}

}  // namespace provenit::forecast
