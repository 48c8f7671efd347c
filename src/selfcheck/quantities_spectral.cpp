// From spectra: radiance of a display, reflectance under an illuminant.
#include <fmt/format.h>

#include <cmath>

#include "provenit/base/text.h"
#include "provenit/colour/reflectance.h"
#include "provenit/colour/spaces.h"
#include "provenit/colour/spectrum_xyz.h"
#include "quantity.h"

namespace provenit::selfcheck {
namespace {

using namespace colour;

/// a exp(-4 ln2 ((l - mean) / fwhm)^2)
struct Bell {
  double a = 0, mean_nm = 0, fwhm_nm = 1;
  [[nodiscard]] double at(double nm) const {
    const double x = (nm - mean_nm) / fwhm_nm;
    return a * std::exp(-4 * std::log(2.0) * x * x);
  }
};

/// "sum of a*exp(...) ... with (a mu fwhm): (0.01 455 20) + (0.004 530 30)": what stands behind the colon, or all of
/// it.
std::vector<Bell> bells_of(Reader& in) {
  constexpr std::string_view key = "S(l)", form = "a*exp(-4 ln2 ((l-mu)/fwhm)^2)";
  const auto whole = in.text(key);
  auto text = whole;
  const auto bad = [&](std::string_view what) {
    in.fail(key, fmt::format("'{}' is not understood", what),
            "Write the bells as (a mu fwhm) + (a mu fwhm), with fwhm above 0.");
    return std::vector<Bell>{};
  };
  if (const auto colon = text.find(':'); colon != std::string_view::npos) {
    if (text.substr(0, colon).find(form) == std::string_view::npos) return bad(text.substr(0, colon));
    text = text.substr(colon + 1);
  }
  std::vector<Bell> bells;
  while (!(text = trim(text)).empty()) {
    if (text.front() == '+' && !bells.empty()) {
      text = trim(text.substr(1));
      if (text.empty()) return bad("+");
    }
    const auto close = text.find(')');
    if (text.empty() || text.front() != '(' || close == std::string_view::npos) return bad(text);
    const auto v = parse_numbers(text.substr(1, close - 1));
    if (!v || v->size() != 3 || !((*v)[2] > 0)) return bad(text.substr(0, close + 1));
    bells.push_back({(*v)[0], (*v)[1], (*v)[2]});
    text = text.substr(close + 1);
  }
  return bells.empty() ? bad(whole) : bells;
}

AbsoluteXyz<> spectral_xyz(Reader& in) {
  const auto observer = in.observer();
  const double km = in.has("Km") ? in.positive("Km") : kMaximumLuminousEfficacy;
  const auto sum = in.summation();
  const auto own = range_of(observer);
  const auto [first, last] = sum.range_nm.value_or(std::pair{own.first_nm, own.last_nm});
  const auto bells = bells_of(in);
  if (!(last > first) || !(first > 0) || (last - first) / sum.step_nm > 1e5) {
    in.fail("inputs", fmt::format("cannot sum {} to {} nm at {} nm", first, last, sum.step_nm), "Give a range in nm.");
    return {};
  }
  Spectrum s{first, sum.step_nm, {}};
  for (double nm = first; nm <= last + 1e-9; nm = s.wavelength_nm(s.size())) {
    double value = 0;
    for (const auto& bell : bells) value += bell.at(nm);
    s.values.push_back(value);
  }
  const auto result = xyz_from_radiance(s, {.observer = observer, .summation = Summation::native, .km_lm_per_w = km});
  if (!result) in.fail("S(l)", result.error());
  return result ? result->xyz : AbsoluteXyz<>{};
}

Values xyz_of_spectrum(Reader& in) {
  const auto c = spectral_xyz(in);
  return {c.X, c.Y, c.Z};
}
Values xy_of_spectrum(Reader& in) {
  const auto c = xy_from_xyz(spectral_xyz(in));
  return {c.x, c.y};
}

/// The row's sum; with interpolation the reflectance is smooth and the illuminant follows its standard.
ReflectanceSum sum_of(Reader& in) {
  const auto note = in.summation();
  ReflectanceSum sum;
  sum.step_nm = note.step_nm;
  if (note.range_nm) std::tie(sum.first_nm, sum.last_nm) = *note.range_nm;
  if (note.interpolated) {
    sum.reflectance_interpolation = kOneNanometreSum.reflectance_interpolation;
    sum.illuminant_interpolation = kOneNanometreSum.illuminant_interpolation;
  }
  return sum;
}

/// "Y=100 for the perfect diffuser": the number; 100 if the row does not say.
double scale_of(Reader& in) {
  if (!in.has("Y")) return 100;
  const auto text = in.text("Y");
  const auto value = parse_double(text.substr(0, text.find(' ')));
  if (!value)
    in.fail("Y", fmt::format("'{}' does not start with a number", text), "Write Y=100 for the perfect diffuser.");
  return value.value_or(100);
}

Values surface(Reader& in, std::string_view key) {
  const auto c = xyz_from_reflectance(in.reflectance(key), in.illuminant(), in.observer(), sum_of(in));
  if (!c) in.fail("inputs", c.error());
  const double scale = scale_of(in);
  return c ? Values{scale * c->X, scale * c->Y, scale * c->Z} : Values{0, 0, 0};
}
Values from_reflectance(Reader& in) {
  return surface(in, in.has("reflectance") ? "reflectance" : "sample");
}
Values by_e308(Reader& in) {
  return surface(in, in.has("sample") ? "sample" : "reflectance");
}

Values illuminant_xy(Reader& in) {
  const auto c = xyz_of_illuminant(in.illuminant(), in.observer(), sum_of(in));
  if (!c) in.fail("inputs", c.error());
  const auto xy = xy_from_xyz(c.value_or(RelativeXyz<>{1, 1, 1}));
  return {xy.x, xy.y};
}

constexpr Quantity kSpectralQuantities[] = {
    {"xyz_from_spectral_radiance", xyz_of_spectrum},
    {"xy_from_spectral_radiance", xy_of_spectrum},
    {"xyz_from_reflectance", from_reflectance},
    {"illuminant_xy", illuminant_xy},
    {"xyz_astm_e308", by_e308},
};

}  // namespace

std::span<const Quantity> spectral_quantities() {
  return kSpectralQuantities;
}

}  // namespace provenit::selfcheck
