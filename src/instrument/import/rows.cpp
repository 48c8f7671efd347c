// Rows of text to readings, the same for every format.
#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <map>
#include <optional>

#include "import/table.h"
#include "light.h"
#include "number.h"
#include "provenit/base/text.h"
#include "provenit/instrument/raw_text.h"

namespace provenit::instrument {
namespace {

/// Imported luminances more negative than this are refused: no dark subtraction errs by so much. Our choice.
constexpr double kDimCdm2 = 0.1;
/// XYZ and spectrum of one row that differ by more are remarked on. Our choice.
constexpr double kDisagreement = 0.02;

std::string lower(std::string_view text) {
  std::string out(text);
  for (auto& c : out)
    if (c >= 'A' && c <= 'Z') c = static_cast<char>(c - 'A' + 'a');
  return out;
}

/// Where the columns of each role are.
struct Layout {
  std::map<Role, std::size_t> at;  ///< roles that occur once
  std::vector<std::size_t> spectral;
  WavelengthGrid grid;
  bool relative = false;

  [[nodiscard]] bool has(Role role) const { return at.contains(role); }
  [[nodiscard]] bool xyz() const { return has(Role::X) && has(Role::Y) && has(Role::Z); }
  [[nodiscard]] bool yxy() const { return has(Role::Y) && has(Role::x) && has(Role::y); }
  [[nodiscard]] bool yuv() const { return has(Role::Y) && has(Role::u_prime) && has(Role::v_prime); }
  [[nodiscard]] bool tristimulus() const { return xyz() || yxy() || yuv(); }
};

Result<void> check_layout(const Layout& layout, const ImportOptions& o, int line) {
  if (!layout.tristimulus() && layout.spectral.empty())
    return bad_file(o, line, "", "the columns give no light",
                    "Give X, Y, Z; or Y, x, y; or Y, u', v'; or spectral values, each with its unit.");
  const int codes = layout.has(Role::r_code) + layout.has(Role::g_code) + layout.has(Role::b_code);
  if (codes != 0 && codes != 3)
    return bad_file(o, line, "R, G, B", "only some of the code values are there", "Give all three.");
  if (!layout.tristimulus() && !o.observer)
    return bad_file(o, line, "spectrum", "spectra need an observer to become XYZ", "State it, e.g. CIE 1931 2deg.");
  return {};
}

Result<Layout> layout_of(const TextTable& table, const ImportOptions& o, int line) {
  Layout layout;
  std::vector<double> wavelengths;
  std::optional<bool> relative;
  for (std::size_t i = 0; i < table.columns.size(); ++i) {
    const auto& c = table.columns[i];
    if (c.role == Role::unused) continue;
    const bool scaled = c.role == Role::X || c.role == Role::Y || c.role == Role::Z || c.role == Role::spectral;
    if (scaled && relative && *relative != c.relative)
      return bad_file(o, line, c.heading, "absolute and relative values stand side by side",
                      "Leave one kind out of the file, or give both in one scale.");
    if (scaled) relative = c.relative;
    if (c.role == Role::spectral) {
      layout.spectral.push_back(i);
      wavelengths.push_back(c.wavelength_nm);
    } else if (!layout.at.emplace(c.role, i).second) {
      return bad_file(o, line, c.heading, "the column is there twice", "Leave one out.");
    }
  }
  layout.relative = relative.value_or(false);
  if (!layout.spectral.empty()) {
    const auto grid = grid_of(wavelengths);
    if (!grid) return bad_file(o, line, "wavelength", grid.error().message, grid.error().advice);
    layout.grid = *grid;
  }
  if (auto checked = check_layout(layout, o, line); !checked) return tl::unexpected(checked.error());
  return layout;
}

class RowReader {
 public:
  RowReader(const TextTable& table, const Layout& layout, const ImportOptions& o, std::vector<Error>& remarks)
      : table_(table), layout_(layout), o_(o), remarks_(remarks) {}

  Result<ImportedReading> read(const Row& row) {
    ImportedReading out;
    out.line = row.line;
    out.measurement.raw_reply = row.raw;
    name(row, out);
    if (auto r = codes(row, out); !r) return tl::unexpected(r.error());
    if (auto r = times(row, out); !r) return tl::unexpected(r.error());
    if (auto r = spectrum(row, out); !r) return tl::unexpected(r.error());
    if (auto r = light(row, out); !r) return tl::unexpected(r.error());
    return out;
  }

 private:
  tl::unexpected<Error> refuse(int line, const std::string& field, ErrorCode code, std::string message,
                               std::string advice) const {
    return fail(code, std::move(message), std::move(advice), {.file = o_.file, .line = line, .field = field});
  }
  tl::unexpected<Error> refuse(const Row& row, Error error) const {
    error.where.file = o_.file;
    error.where.line = row.line;
    return tl::unexpected(std::move(error));
  }
  [[nodiscard]] const Cell* cell(const Row& row, Role role) const {
    const auto found = layout_.at.find(role);
    return found == layout_.at.end() || row.cells[found->second].text.empty() ? nullptr : &row.cells[found->second];
  }

  Result<double> number(const Row& row, std::size_t index) {
    const auto& cell = row.cells[index];
    const auto& column = table_.columns[index];
    const auto value = parse_cell(cell.text);
    if (!value)
      return refuse(cell.line, column.heading, ErrorCode::invalid_input,
                    cell.text.empty() ? std::string("the value is missing")
                                      : fmt::format("'{}' is not a number", escaped(cell.text.substr(0, 40))),
                    "Write digits with one decimal mark and no thousands separators, or leave the row out.");
    if (value->mark == DecimalMark::comma && !table_.commas_may_be_decimal)
      return refuse(cell.line, column.heading, ErrorCode::invalid_input,
                    fmt::format("'{}' has a decimal comma where commas part the columns", cell.text),
                    "Part the columns by semicolons or tabs, or write decimal points.");
    // One file, one decimal mark: 1.234 beside 1,5 may well mean a thousand.
    if (value->mark != DecimalMark::none) {
      if (mark_ == DecimalMark::none) mark_ = value->mark;
      if (mark_ != value->mark)
        return refuse(cell.line, column.heading, ErrorCode::invalid_input,
                      fmt::format("'{}' has another decimal mark than the values before it", cell.text),
                      "Use one decimal mark in the whole file.");
    }
    return value->value * column.factor;
  }
  Result<double> number(const Row& row, Role role) { return number(row, layout_.at.at(role)); }

  void name(const Row& row, ImportedReading& out) const {
    const auto* sample = cell(row, Role::sample);
    const auto* step = cell(row, Role::step);
    out.sample = sample ? sample->text : step ? step->text : fmt::format("line {}", row.line);
    out.step = step ? step->text : step_of(out.sample);
    for (const auto& m : o_.mapping) {
      if (lower(m.sample) != lower(out.sample)) continue;
      out.step = m.step;
      out.code = m.code;
    }
  }

  static std::string step_of(const std::string& sample) {
    const auto name = lower(sample);
    for (const char* known : {"red", "green", "blue", "white", "black"})
      if (name == known) return known;
    return sample;
  }

  Result<void> codes(const Row& row, ImportedReading& out) {
    const bool any = cell(row, Role::r_code) || cell(row, Role::g_code) || cell(row, Role::b_code);
    if (any) {
      signal::CodeRgb code;
      std::size_t i = 0;
      for (const auto role : {Role::r_code, Role::g_code, Role::b_code}) {
        const auto value = number(row, role);
        if (!value) return tl::unexpected(value.error());
        if (*value != std::floor(*value) || *value < 0 || *value > 65535)
          return refuse(row.line, table_.columns[layout_.at.at(role)].heading, ErrorCode::out_of_range,
                        fmt::format("{} is no code value", *value), "Give whole code values.");
        code.code[i++] = static_cast<int>(*value);
      }
      out.code = code;
    }
    if (!out.code && o_.encoding) out.code = codes_of_step(out.step, *o_.encoding);
    if (!out.code || !o_.encoding) return {};
    const int most = (1 << o_.encoding->bits) - 1;
    for (const int value : out.code->code)
      if (value < 0 || value > most)
        return refuse(row.line, "R, G, B", ErrorCode::out_of_range,
                      fmt::format("code value {} does not fit {} bits", value, o_.encoding->bits),
                      "Give code values of the encoding that the display is fed with.");
    return {};
  }

  Result<void> times(const Row& row, ImportedReading& out) {
    if (const auto* taken = cell(row, Role::time)) {
      const auto time = parse_iso8601(taken->text);
      if (!time) return refuse(taken->line, "time", time.error().code, time.error().message, time.error().advice);
      out.taken = *time;
    }
    if (cell(row, Role::integration)) {
      const auto span = number(row, Role::integration);
      if (!span) return tl::unexpected(span.error());
      if (!(*span >= 0 && *span <= 86400))
        return refuse(row.line, "integration", ErrorCode::out_of_range,
                      fmt::format("{} s is no integration time", *span), {});
      out.measurement.integration = Seconds{*span};
    }
    return {};
  }

  Result<void> spectrum(const Row& row, ImportedReading& out) {
    if (layout_.spectral.empty()) return {};
    SpectralReading spectrum{layout_.grid.start_nm, layout_.grid.step_nm, {}};
    for (const auto index : layout_.spectral) {
      const auto value = number(row, index);
      if (!value) return tl::unexpected(value.error());
      spectrum.radiance.push_back(*value);
    }
    out.measurement.spectrum = std::move(spectrum);
    return {};
  }

  Result<colour::AbsoluteXyz<>> stated_light(const Row& row) {
    const auto role_set = layout_.xyz()   ? std::array{Role::X, Role::Y, Role::Z}
                          : layout_.yxy() ? std::array{Role::Y, Role::x, Role::y}
                                          : std::array{Role::Y, Role::u_prime, Role::v_prime};
    std::array<double, 3> v{};
    for (std::size_t i = 0; i < 3; ++i) {
      const auto value = number(row, role_set[i]);
      if (!value) return tl::unexpected(value.error());
      v[i] = *value;
    }
    // Whether a luminance is too negative is judged in cd/m2, once the scale is known.
    constexpr double any = std::numeric_limits<double>::infinity();
    auto xyz = layout_.xyz()   ? colour::AbsoluteXyz<>{.X = v[0], .Y = v[1], .Z = v[2]}
               : layout_.yxy() ? xyz_from_Yxy(v[0], {.x = v[1], .y = v[2]}, any)
                               : xyz_from_Yuv(v[0], {.u = v[1], .v = v[2]}, any);
    if (!xyz) return refuse(row, xyz.error());
    return xyz;
  }

  Result<void> light(const Row& row, ImportedReading& out) {
    std::optional<colour::AbsoluteXyz<>> summed;
    const auto& spectrum = out.measurement.spectrum;
    if (spectrum && o_.observer) {
      const auto xyz = xyz_from_spectrum(*spectrum, {.observer = *o_.observer, .summation = o_.summation});
      if (!xyz) return refuse(row, xyz.error());
      summed = *xyz;
    }
    if (!layout_.tristimulus()) {
      out.measurement.xyz = *summed;
      constexpr std::array names{"sprague", "linear", "native"};
      out.derived =
          fmt::format("XYZ by {} from {}-{} nm, step {} nm, {} sum", colour::name_of(*o_.observer), spectrum->start_nm,
                      spectrum->start_nm + spectrum->step_nm * static_cast<double>(spectrum->radiance.size() - 1),
                      spectrum->step_nm, names[static_cast<std::size_t>(o_.summation)]);
      return {};
    }
    const auto stated = stated_light(row);
    if (!stated) return tl::unexpected(stated.error());
    out.measurement.xyz = *stated;
    if (summed && std::abs(summed->Y - stated->Y) > kDisagreement * std::abs(stated->Y))
      remarks_.push_back({ErrorCode::out_of_range,
                          fmt::format("Y is {:.6g} as stated, but {:.6g} from the spectrum; the stated one is used",
                                      stated->Y, summed->Y),
                          "Check the spectral unit and the observer.",
                          {.file = o_.file, .line = row.line, .field = "Y"}});
    return {};
  }

  const TextTable& table_;
  const Layout& layout_;
  const ImportOptions& o_;
  std::vector<Error>& remarks_;
  DecimalMark mark_ = DecimalMark::none;
};

/// cd/m2 for one unit of the relative scale, and in words.
struct Scale {
  double factor = 1;
  std::string text = "cd/m2";
};

Result<Scale> relative_scale(const ImportOptions& o, const ImportReport& report) {
  if (!o.relative_white)
    return bad_file(o, -1, "", "the values are relative, and nothing states what white stands for",
                    "State the luminance of white in cd/m2.");
  const auto& white = *o.relative_white;
  if (!(white.cdm2 > 0) || !std::isfinite(white.cdm2) || !(white.value > 0) || !std::isfinite(white.value))
    return bad_file(o, -1, "", fmt::format("{} cd/m2 cannot be the luminance of white", white.cdm2),
                    "State one above 0.");
  if (white.step.empty())
    return Scale{white.cdm2 / white.value,
                 fmt::format("relative: Y of {} = {} cd/m2, as stated", white.value, white.cdm2)};
  double sum = 0;
  int count = 0;
  for (const auto& r : report.readings)
    if (r.step == white.step) sum += r.measurement.xyz.Y, ++count;
  if (count == 0 || !(sum > 0) || !std::isfinite(sum))
    return bad_file(o, -1, "",
                    fmt::format("no usable row is the step '{}' that the scale hangs on", escaped(white.step)),
                    "Name the step of white, map its sample to it, or state the value that stands for white.");
  return Scale{white.cdm2 * count / sum,
               fmt::format("relative: mean Y of {} = {} cd/m2, as stated", white.step, white.cdm2)};
}

void apply(const Scale& scale, ImportedReading& reading) {
  reading.scale = scale.text;
  if (scale.factor == 1) return;
  auto& m = reading.measurement;
  m.xyz = {.X = m.xyz.X * scale.factor, .Y = m.xyz.Y * scale.factor, .Z = m.xyz.Z * scale.factor};
  if (m.spectrum)
    for (auto& value : m.spectrum->radiance) value *= scale.factor;
}

}  // namespace

tl::unexpected<Error> bad_file(const ImportOptions& options, int line, std::string field, std::string message,
                               std::string advice) {
  return fail(ErrorCode::invalid_input, std::move(message), std::move(advice),
              {.file = options.file, .line = line, .field = std::move(field)});
}

Result<bool> add_readings(const TextTable& table, const ImportOptions& options, ImportReport& report) {
  const int line = table.rows.empty() ? -1 : table.rows.front().line;
  const auto layout = layout_of(table, options, line);
  if (!layout) return tl::unexpected(layout.error());
  report.refused.insert(report.refused.end(), table.refused.begin(), table.refused.end());
  RowReader reader(table, *layout, options, report.remarks);
  for (const auto& row : table.rows) {
    auto reading = reader.read(row);
    if (reading)
      report.readings.push_back(std::move(*reading));
    else
      report.refused.push_back(std::move(reading.error()));
  }
  return layout->relative;
}

Result<void> finish_readings(const ImportOptions& options, bool relative, ImportReport& report) {
  Scale scale;
  if (relative && !report.readings.empty()) {
    auto stated = relative_scale(options, report);
    if (!stated) return tl::unexpected(stated.error());
    scale = std::move(*stated);
  }
  std::vector<ImportedReading> kept;
  std::map<std::string, int> repeats;
  for (auto& reading : report.readings) {
    apply(scale, reading);
    if (auto checked = check_xyz(reading.measurement.xyz, kDimCdm2); !checked) {
      checked.error().where.file = options.file;
      checked.error().where.line = reading.line;
      report.refused.push_back(std::move(checked.error()));
      continue;
    }
    reading.repeat = repeats[reading.step]++;
    kept.push_back(std::move(reading));
  }
  report.readings = std::move(kept);
  report.rows = report.readings.size() + report.refused.size();
  std::ranges::stable_sort(report.refused, {}, [](const Error& e) { return e.where.line; });
  return {};
}

}  // namespace provenit::instrument
