#include "scenarios.h"

#include <cmath>

#include "provenit/colour/difference.h"
#include "provenit/colour/ictcp.h"
#include "provenit/colour/transfer_pq.h"
#include "provenit/signal/encoding.h"

namespace provenit::forecast {
namespace {

using colour::Matrix3;
using colour::Vector3;

std::array<float, 9> floats(const Matrix3<>& m) {
  std::array<float, 9> out{};
  for (std::size_t i = 0; i < 3; ++i)
    for (std::size_t j = 0; j < 3; ++j) out[3 * i + j] = static_cast<float>(m(i, j));
  return out;
}
std::array<float, 3> floats(const Vector3<>& v) {
  return {static_cast<float>(v[0]), static_cast<float>(v[1]), static_cast<float>(v[2])};
}

const Matrix3<>& lms_from_xyz() {
  static const Matrix3<> m = colour::detail::lms_from_rgb * colour::xyz_to_rgb_matrix(colour::bt2020_primaries);
  return m;
}

/// Delta E ITP of a relative change of light by 1: 75 near 100 cd/m2 (calculated), of which a third differs from place
/// to place; half of the variance of the light that the checks leave is common to all places. Both our own choice.
constexpr double kDeltaPerLight = 25, kCommonLight = 0.7;

/// Multiplies the light that comes through the channels, and what leaks, by these in X, Y, Z.
PixelModel with_gain(PixelModel model, const ForecastDisplay& display, const Vector3<>& gain, bool leak) {
  const auto xyz = colour::diagonal(gain) * display.channels().light;
  model.shown_xyz = floats(xyz);
  model.shown_lms = floats(lms_from_xyz() * xyz);
  if (!leak) return model;
  const auto& o = display.optics();
  const auto leaks = colour::diagonal(gain) * Vector3<>{o.leak_cdm2 * o.leak_colour.X, o.leak_cdm2 * o.leak_colour.Y,
                                                        o.leak_cdm2 * o.leak_colour.Z};
  model.leak_xyz = floats(leaks);
  model.leak_lms = floats(lms_from_xyz() * leaks);
  return model;
}

/// Relative change of X (0) or Z (2) that moves a white of 100 cd/m2 by this much.
double gain_for(std::size_t k, double delta_e_itp) {
  const colour::AbsoluteXyz<> white = colour::xyz_from_xy(colour::d65_video, colour::Luminance<>{.cdm2 = 100});
  constexpr double step = 0.01;
  auto moved = white;
  (k == 0 ? moved.X : moved.Z) *= 1 + step;
  return step * delta_e_itp / colour::itp_difference(white, moved).total;
}

}  // namespace

PixelTables tables_of(const Channels& channels) {
  PixelTables out;
  for (int i = 0; i <= kEotfSteps; ++i)
    out.eotf.push_back(
        static_cast<float>(colour::pq_eotf(colour::Signal<>{.value = static_cast<double>(i) / kEotfSteps}).cdm2));
  for (int i = 0; i < log_table::kSize; ++i) {
    const double light = static_cast<double>(log_table::light(i));
    out.pq.push_back(static_cast<float>(colour::pq_inverse_eotf(colour::Luminance<>{.cdm2 = light}).value));
    for (std::size_t c = 0; c < 3; ++c)
      out.curve[c].push_back(i == 0 ? 0.0F : static_cast<float>(channels.at(c, light)));
  }
  return out;
}

PixelModel pixel_model(const ForecastDisplay& display, const PixelTables& tables, const colour::Primaries<>& gamut) {
  PixelModel m{.eotf = tables.eotf.data(), .pq = tables.pq.data()};
  for (std::size_t c = 0; c < 3; ++c) m.curve[c] = tables.curve[c].data();
  const auto to_xyz = colour::rgb_to_xyz_matrix(gamut);
  m.intended_lms = floats(lms_from_xyz() * to_xyz);
  m.intended_y = floats(to_xyz.row[1]);
  const auto& container = signal::primaries_of(display.encoding().container);
  m.mixing = floats(display.channels().mixing * colour::rgb_to_rgb_matrix(gamut, container));
  m.clip = static_cast<float>(display.channels().clip_cdm2);
  return limited(with_gain(m, display, {1, 1, 1}, true), display.optics(), 1);
}

PixelModel limited(PixelModel model, const Optics& optics, double cap) {
  if (optics.zoned()) {
    model.room = 0;
    model.room_per_backlight = static_cast<float>(optics.headroom);
    model.backlight_gain = static_cast<float>(cap);
  } else {
    model.room = static_cast<float>(cap);
    model.dim = static_cast<float>(optics.dim_at(cap));
  }
  return model;
}

std::vector<Scenario> scenarios(const PixelModel& model, const ForecastDisplay& display, double cap) {
  const auto& u = display.unsure();
  const auto& optics = display.optics();
  std::vector<Scenario> out;
  const auto light = [&](double r, bool leak) {
    const auto by = [&](double s) {
      const double g = std::exp(s * r);
      return with_gain(model, display, {g, g, g}, leak);
    };
    out.push_back({by(1), by(-1)});
  };
  light(u.scale, true);
  light(kCommonLight * u.light, false);
  const auto tint = [&](double x, double z) {
    out.push_back({with_gain(model, display, {std::exp(x), 1, std::exp(z)}, true),
                   with_gain(model, display, {std::exp(-x), 1, std::exp(-z)}, true)});
  };
  // What an error of the white's x and y does to X and Z at the same Y (evaluation/measurement_model.h).
  constexpr auto white = colour::d65_video;
  tint(u.x / white.x, -u.x / (1 - white.x - white.y));
  tint(-u.y / white.y, -u.y / (1 - white.x - white.y) - u.y / white.y);
  tint(gain_for(0, u.colour_delta_e_itp / std::sqrt(2.0)), 0);
  tint(0, gain_for(2, u.colour_delta_e_itp / std::sqrt(2.0)));

  const auto both = [&](auto&& change, bool of_limiter = false) {
    Scenario s{model, model, of_limiter};
    change(s.more, 1.0);
    change(s.less, -1.0);
    out.push_back(s);
  };
  both([&](PixelModel& m, double sign) {
    m.delta_shift = static_cast<float>(sign * std::hypot(u.colour_delta_e_itp, kDeltaPerLight * u.light));
  });
  out.back().of_shares_only = true;
  const auto dark = static_cast<float>(optics.zoned() ? optics.minimum_drive * cap : 1);
  both([&](PixelModel& m, double sign) {  // black, all over the picture
    m.leak_offset += dark * static_cast<float>(std::expm1(sign * u.black));
  });
  if (optics.zoned()) {
    both([&](PixelModel& m, double sign) {  // what is added to black beside light
      m.leak_gain = static_cast<float>(std::exp(sign * u.halo));
      m.leak_offset = dark * (1 - m.leak_gain);
    });
    both([&](PixelModel& m, double sign) { m.room_per_backlight *= static_cast<float>(std::exp(sign * u.headroom)); },
         true);
    if (cap < 0.9999)
      both([&](PixelModel& m, double sign) { m.backlight_gain *= static_cast<float>(std::exp(sign * u.cap)); }, true);
  } else if (cap < 0.9999) {
    const double by = std::min(u.cap, 1 - cap);
    both(
        [&](PixelModel& m, double sign) {
          const double moved = cap * std::exp(sign * by);
          m.room = static_cast<float>(moved);
          m.dim = static_cast<float>(optics.dim_at(moved));
        },
        true);
  }
  return out;
}

}  // namespace provenit::forecast
