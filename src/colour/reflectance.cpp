#include "provenit/colour/reflectance.h"

#include <fmt/format.h>

#include <cmath>

#include "tables/columns.h"

namespace provenit::colour {
namespace {

/// The table at the summed wavelengths, one value each.
Result<std::vector<double>> at_summed_wavelengths(const Spectrum& table, const ReflectanceSum& sum, int count,
                                                  std::optional<Interpolation> method, const char* what) {
  if (auto valid = validate(table); !valid) return tl::unexpected(valid.error());
  if (method == Interpolation::sprague && table.size() < 6)
    return fail(ErrorCode::invalid_input, fmt::format("{}: Sprague interpolation needs six samples", what),
                "Use linear interpolation.");
  std::vector<double> values(static_cast<std::size_t>(count), 0.0);
  for (int j = 0; j < count; ++j) {
    const double nm = sum.first_nm + j * sum.step_nm;
    const double position = (nm - table.start_nm) / table.step_nm;
    const bool inside = position > -1e-9 && position < table.size() - 1 + 1e-9;
    if (!inside && method) continue;
    const auto taps = interpolation_taps(table.size(), inside ? position : 0, method.value_or(Interpolation::linear));
    if (!inside || (taps.count != 1 && !method))
      return fail(ErrorCode::out_of_range,
                  fmt::format("the {} has no sample at {} nm: it has {} to {} nm at {} nm", what, nm, table.start_nm,
                              table.end_nm(), table.step_nm),
                  "Sum where it has samples, or name an interpolation.");
    for (int k = 0; k < taps.count; ++k) values[j] += taps.weight[k] * table.values[taps.first + k];
  }
  return values;
}

Result<int> count_of(const ReflectanceSum& sum) {
  const double steps = (sum.last_nm - sum.first_nm) / sum.step_nm;
  if (!(sum.step_nm > 0) || !(steps >= 0) || steps > 1e5 || std::abs(steps - std::round(steps)) > 1e-9)
    return fail(
        ErrorCode::out_of_range,
        fmt::format("{} to {} nm is not a whole number of steps of {} nm", sum.first_nm, sum.last_nm, sum.step_nm),
        "Give a range that the step divides, for example 380 to 780 nm at 5 nm.");
  return static_cast<int>(std::lround(steps)) + 1;
}

}  // namespace

Result<RelativeXyz<>> xyz_from_reflectance(const Spectrum& reflectance, const Spectrum& illuminant, Observer observer,
                                           const ReflectanceSum& sum) {
  const auto count = count_of(sum);
  if (!count) return tl::unexpected(count.error());
  const auto r = at_summed_wavelengths(reflectance, sum, *count, sum.reflectance_interpolation, "reflectance");
  if (!r) return tl::unexpected(r.error());
  const auto s = at_summed_wavelengths(illuminant, sum, *count, sum.illuminant_interpolation, "illuminant");
  if (!s) return tl::unexpected(s.error());
  RelativeXyz<> xyz;
  double white = 0;
  for (int j = 0; j < *count; ++j) {
    const auto m = matching_functions(observer, {.nm = sum.first_nm + j * sum.step_nm});
    xyz.X += (*r)[j] * (*s)[j] * m.x;
    xyz.Y += (*r)[j] * (*s)[j] * m.y;
    xyz.Z += (*r)[j] * (*s)[j] * m.z;
    white += (*s)[j] * m.y;
  }
  if (!(white > 0))
    return fail(ErrorCode::invalid_input, "the illuminant has no light in the summed range", "Check its samples.");
  return RelativeXyz<>{xyz.X / white, xyz.Y / white, xyz.Z / white};
}

Result<RelativeXyz<>> xyz_of_illuminant(const Spectrum& illuminant, Observer observer, const ReflectanceSum& sum) {
  const Spectrum diffuser{sum.first_nm, sum.last_nm - sum.first_nm, {1, 1}};
  ReflectanceSum with_diffuser = sum;
  with_diffuser.reflectance_interpolation = Interpolation::linear;
  return xyz_from_reflectance(diffuser, illuminant, observer, with_diffuser);
}

Result<Spectrum> test_colour_sample(std::string_view name) {
  if (const int column = tables::cie_tcs.column(name); column >= 0) return tables::spectrum_of(tables::cie_tcs, column);
  return tables::no_such_column("test colour sample", name, test_colour_sample_names());
}

std::vector<std::string_view> test_colour_sample_names() {
  return {tables::cie_tcs.names, tables::cie_tcs.names + tables::cie_tcs.columns};
}

}  // namespace provenit::colour
