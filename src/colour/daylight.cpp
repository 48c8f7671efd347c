#include "provenit/colour/daylight.h"

#include <fmt/format.h>

#include <cmath>

#include "tables/columns.h"

namespace provenit::colour {
namespace {

double rounded(double value, int decimals) {
  if (decimals < 0) return value;
  const double scale = std::pow(10, decimals);
  return std::round(value * scale) / scale;
}

}  // namespace

Result<Xy<>> daylight_xy(Temperature temperature) {
  const double t = temperature.kelvin;
  if (!(t >= 4000 && t <= 25000))
    return fail(ErrorCode::out_of_range, fmt::format("CIE daylight has no {} K", t), "Give 4000 to 25000 K.");
  const double x = t <= 7000 ? 0.244063 + (0.09911e3 + (2.9678e6 - 4.6070e9 / t) / t) / t
                             : 0.237040 + (0.24748e3 + (1.9018e6 - 2.0064e9 / t) / t) / t;
  return Xy<>{x, -3.000 * x * x + 2.870 * x - 0.275};
}

Result<Spectrum> daylight_spectrum(Temperature temperature, int m_decimals) {
  const auto xy = daylight_xy(temperature);
  if (!xy) return tl::unexpected(xy.error());
  const double m = 0.0241 + 0.2562 * xy->x - 0.7341 * xy->y;
  const double m1 = rounded((-1.3515 - 1.7703 * xy->x + 5.9114 * xy->y) / m, m_decimals);
  const double m2 = rounded((0.0300 - 31.4424 * xy->x + 30.0717 * xy->y) / m, m_decimals);
  const auto& components = tables::daylight_components;
  Spectrum out = tables::spectrum_of(components, 0);
  for (int i = 0; i < out.size(); ++i) out.values[i] += m1 * components.at(i, 1) + m2 * components.at(i, 2);
  return out;
}

}  // namespace provenit::colour
