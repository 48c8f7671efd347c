#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "light.h"
#include "provenit/instrument/instrument_description.h"

namespace provenit::instrument {
namespace {

/// SCPI-1999 stands 9.9E37 for infinity and 9.91E37 for not-a-number; no light comes near either.
constexpr double kOverrange = 9.8e37;

std::optional<double> one(const ReplyFields& fields, const char* name) {
  const auto found = fields.numbers.find(name);
  if (found == fields.numbers.end() || found->second.empty()) return std::nullopt;
  return found->second.front();
}

Result<void> check_overrange(const ReplyFields& fields) {
  for (const auto& [name, values] : fields.numbers)
    for (const double value : values)
      if (std::abs(value) >= kOverrange)
        return fail(ErrorCode::instrument, fmt::format("the instrument marks {} as out of its range ({})", name, value),
                    "Check that the light suits its range.", {.field = name});
  return {};
}

/// Readings darker than this have no chromaticity worth judging.
double dim_limit(const Capabilities& capabilities) {
  return std::max({capabilities.minimum_cdm2, 10 * capabilities.noise_floor_cdm2, 1e-6});
}

Result<SpectralReading> spectrum_from(const ReplyFields& fields) {
  SpectralReading out;
  out.radiance = fields.numbers.at("radiance");
  if (const auto wavelengths = fields.numbers.find("wavelength"); wavelengths != fields.numbers.end()) {
    if (wavelengths->second.size() != out.radiance.size())
      return fail(ErrorCode::invalid_input, fmt::format("{} wavelengths came with {} radiances",
                                                        wavelengths->second.size(), out.radiance.size()));
    const auto grid = grid_of(wavelengths->second);
    if (!grid) return tl::unexpected(grid.error());
    out.start_nm = grid->start_nm;
    out.step_nm = grid->step_nm;
  } else {
    out.start_nm = one(fields, "start").value_or(0);
    out.step_nm = one(fields, "step").value_or(0);
  }
  if (const auto count = one(fields, "count"); count && *count != static_cast<double>(out.radiance.size()))
    return fail(ErrorCode::invalid_input,
                fmt::format("the reply announces {} values, {} came", *count, out.radiance.size()));
  // Any instrument for light that is seen lies well inside; a step or start outside is a mix-up of units.
  if (!(out.start_nm >= 100 && out.start_nm <= 2000 && out.step_nm >= 0.01 && out.step_nm <= 100))
    return fail(ErrorCode::out_of_range,
                fmt::format("a spectrum cannot start at {} nm with a step of {} nm", out.start_nm, out.step_nm));
  return out;
}

Result<colour::AbsoluteXyz<>> light_from(const ReplyFields& fields, const InstrumentDescription& d) {
  const double dim = dim_limit(d.capabilities);
  const auto X = one(fields, "X"), Y = one(fields, "Y"), Z = one(fields, "Z");
  const auto x = one(fields, "x"), y = one(fields, "y"), u = one(fields, "u'"), v = one(fields, "v'");
  if (X && Y && Z) {
    const colour::AbsoluteXyz<> xyz{.X = *X, .Y = *Y, .Z = *Z};
    if (auto checked = check_xyz(xyz, dim); !checked) return tl::unexpected(checked.error());
    return xyz;
  }
  const bool none = (x && y && *x == 0 && *y == 0) || (u && v && *u == 0 && *v == 0);
  if (Y && none && *Y <= dim && d.dark_chromaticity) return xyz_from_Yxy(*Y, *d.dark_chromaticity, dim);
  if (Y && x && y) return xyz_from_Yxy(*Y, {.x = *x, .y = *y}, dim);
  if (Y && u && v) return xyz_from_Yuv(*Y, {.u = *u, .v = *v}, dim);
  return fail(ErrorCode::invalid_input, "the reply gives no colour");
}

}  // namespace

Result<Measurement> measurement_from(const ReplyFields& fields, const InstrumentDescription& d) {
  if (auto checked = check_overrange(fields); !checked) return tl::unexpected(checked.error());
  Measurement out;
  if (fields.numbers.contains("radiance")) {
    auto spectrum = spectrum_from(fields);
    if (!spectrum) return tl::unexpected(spectrum.error());
    out.spectrum = std::move(*spectrum);
  }
  // The instrument's own XYZ is preferred: it may know its bandwidth and stray light better than a sum does.
  auto light = light_from(fields, d);
  if (!light && out.spectrum && !fields.numbers.contains("Y")) {
    light = xyz_from_spectrum(*out.spectrum, d.spectral);
    if (light)
      if (auto checked = check_xyz(*light, dim_limit(d.capabilities)); !checked) return tl::unexpected(checked.error());
  }
  if (!light) return tl::unexpected(light.error());
  out.xyz = *light;
  if (const auto integration = one(fields, "integration")) {
    if (!(*integration >= 0 && *integration <= 86400))
      return fail(ErrorCode::out_of_range, fmt::format("an integration cannot last {} s", *integration));
    out.integration = Seconds{*integration};
  }
  out.saturated = out.xyz.Y > d.capabilities.maximum_cdm2;
  out.below_range = out.xyz.Y < d.capabilities.minimum_cdm2;
  return out;
}

}  // namespace provenit::instrument
