#include "light.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "provenit/colour/spaces.h"

namespace provenit::instrument {
namespace {

Result<void> check_luminance(double Y, double dim_cdm2) {
  if (!std::isfinite(Y))
    return fail(ErrorCode::invalid_input, "the luminance is not a finite number", {}, {.field = "Y"});
  if (Y < -dim_cdm2)
    return fail(
        ErrorCode::out_of_range,
        fmt::format("luminance {} cd/m2 is more negative than dark subtraction explains ({} cd/m2)", Y, -dim_cdm2),
        "Check the instrument's zero and the unit.", {.field = "Y"});
  return {};
}

}  // namespace

Result<void> check_chromaticity(const colour::Xy<>& c) {
  const bool fits = c.x >= -0.02 && c.x <= 0.80 && c.y > 0 && c.y <= 0.90 && c.x + c.y <= 1.02;
  if (fits) return {};
  return fail(ErrorCode::out_of_range, fmt::format("no light has the chromaticity x {}, y {}", c.x, c.y),
              "Check the order of the values and which quantities they are.",
              {.field = c.y > 0 && c.y <= 0.90 ? "x" : "y"});
}

Result<void> check_xyz(const colour::AbsoluteXyz<>& xyz, double dim_cdm2) {
  const double size = std::abs(xyz.X) + std::abs(xyz.Y) + std::abs(xyz.Z);
  if (!std::isfinite(size)) return fail(ErrorCode::invalid_input, "X, Y or Z is not a finite number");
  if (auto luminance = check_luminance(xyz.Y, dim_cdm2); !luminance) return luminance;
  if (size < 3 * dim_cdm2) return {};
  return check_chromaticity(colour::xy_from_xyz(xyz));
}

Result<colour::AbsoluteXyz<>> xyz_from_Yxy(double Y, const colour::Xy<>& c, double dim_cdm2) {
  if (auto luminance = check_luminance(Y, dim_cdm2); !luminance) return tl::unexpected(luminance.error());
  if (auto chromaticity = check_chromaticity(c); !chromaticity) return tl::unexpected(chromaticity.error());
  return colour::xyz_from_xy(c, colour::Luminance<>{.cdm2 = Y});
}

Result<colour::AbsoluteXyz<>> xyz_from_Yuv(double Y, const colour::UvPrime<>& c, double dim_cdm2) {
  // The denominator is positive for every u'v' of real light; outside, x and y would be refused with odd numbers.
  if (!(c.u >= -0.02 && c.u <= 0.70 && c.v > 0 && c.v <= 0.65))
    return fail(ErrorCode::out_of_range, fmt::format("no light has the chromaticity u' {}, v' {}", c.u, c.v),
                "Check the order of the values and which quantities they are.",
                {.field = c.v > 0 && c.v <= 0.65 ? "u'" : "v'"});
  return xyz_from_Yxy(Y, colour::xy_from_uv_prime(c), dim_cdm2);
}

Result<colour::AbsoluteXyz<>> xyz_from_spectrum(const SpectralReading& spectrum, const colour::XyzMethod& method) {
  const auto xyz = colour::xyz_from_radiance(
      {.start_nm = spectrum.start_nm, .step_nm = spectrum.step_nm, .values = spectrum.radiance}, method);
  if (!xyz) return tl::unexpected(xyz.error());
  const double missing = std::max({xyz->missing.x, xyz->missing.y, xyz->missing.z});
  if (missing > kMissingShareLimit)
    return fail(
        ErrorCode::out_of_range,
        fmt::format("a spectrum from {} nm to {} nm leaves out {:.1f} % of a matching function", spectrum.start_nm,
                    spectrum.start_nm + spectrum.step_nm * static_cast<double>(spectrum.radiance.size() - 1),
                    100 * missing),
        "Give at least 400 nm to 700 nm.", {.field = "spectrum"});
  return xyz->xyz;
}

Result<WavelengthGrid> grid_of(const std::vector<double>& wavelengths_nm) {
  if (wavelengths_nm.size() < 2) return fail(ErrorCode::invalid_input, "a spectrum needs at least two wavelengths");
  const double start = wavelengths_nm.front();
  const double step = (wavelengths_nm.back() - start) / static_cast<double>(wavelengths_nm.size() - 1);
  for (std::size_t i = 0; i < wavelengths_nm.size(); ++i) {
    const double expected = start + step * static_cast<double>(i);
    if (!(step > 0) || !(std::abs(wavelengths_nm[i] - expected) <= 0.01 * step))
      return fail(ErrorCode::invalid_input,
                  fmt::format("the wavelengths do not rise by equal steps: {} nm stands where {} nm would",
                              wavelengths_nm[i], expected),
                  "Give every wavelength, in rising order and at one step.", {.field = "wavelength"});
  }
  return WavelengthGrid{start, step};
}

}  // namespace provenit::instrument
