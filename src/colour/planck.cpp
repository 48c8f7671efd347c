#include "provenit/colour/planck.h"

#include <fmt/format.h>

#include <array>
#include <cmath>

#include "tables/tables.h"

namespace provenit::colour {
namespace {

/// A sum over the spectrum weighted by x, y, z, with its derivatives by r.
struct Tristimulus {
  double value = 0, first = 0, second = 0;
  void add(double weight, double p, double p1, double p2) {
    value += weight * p;
    first += weight * p1;
    second += weight * p2;
  }
};

/// A ratio n/d of two such sums, with its derivatives.
Tristimulus ratio(const Tristimulus& n, const Tristimulus& d) {
  const double q = n.value / d.value;
  const double q1 = (n.first - q * d.first) / d.value;
  return {q, q1, (n.second - 2 * q1 * d.first - q * d.second) / d.value};
}

}  // namespace

double planck_radiance(Wavelength wavelength, Temperature temperature, double c2_mk) {
  constexpr double h = 6.62607015e-34, c = 299792458.0;
  const double metre = wavelength.nm * 1e-9;
  return 1e-9 * 2 * h * c * c / (std::pow(metre, 5) * std::expm1(c2_mk / (metre * temperature.kelvin)));
}

Result<Spectrum> planck_spectrum(Temperature temperature, double start_nm, double step_nm, int count, double c2_mk) {
  if (!(temperature.kelvin > 0))
    return fail(ErrorCode::out_of_range, fmt::format("a black body cannot have {} K", temperature.kelvin),
                "Give a temperature above 0 K.");
  Spectrum out{start_nm, step_nm, std::vector<double>(static_cast<std::size_t>(count > 0 ? count : 0))};
  for (int i = 0; i < out.size(); ++i)
    out.values[i] = planck_radiance({.nm = out.wavelength_nm(i)}, temperature, c2_mk);
  if (auto valid = validate(out); !valid) return tl::unexpected(valid.error());
  return out;
}

LocusPoint planckian_locus(Temperature temperature) {
  const auto& observer = tables::cie1931_2deg_1nm;
  const double r = 1 / temperature.kelvin;
  Tristimulus u, v, d;  // numerators 4X, 6Y and denominator X + 15Y + 3Z of CIE 1960 u, v
  for (int row = 0; row < observer.rows; ++row) {
    const double um = observer.wavelength_nm(row) * 1e-3;
    const double k = kC2Its90 * 1e6 / um;  // c2/l in kelvin
    const double e = std::expm1(k * r);
    const double p = 1 / (um * um * um * um * um * e);  // Planck's law up to a factor that cancels
    const double p1 = -k * p * (1 + 1 / e);             // dp/dr
    const double p2 = k * k * p * (1 + 1 / e) * (1 + 2 / e);
    const double x = observer.at(row, 0), y = observer.at(row, 1), z = observer.at(row, 2);
    u.add(4 * x, p, p1, p2);
    v.add(6 * y, p, p1, p2);
    d.add(x + 15 * y + 3 * z, p, p1, p2);
  }
  const auto ru = ratio(u, d), rv = ratio(v, d);
  return {{ru.value, rv.value}, ru.first, rv.first, ru.second, rv.second};
}

}  // namespace provenit::colour
