#include "provenit/instrument/import.h"

#include <fmt/format.h>

#include <array>

#include "import/table.h"
#include "provenit/base/text.h"
#include "provenit/instrument/raw_text.h"
#include "provenit/signal/codes.h"

namespace provenit::instrument {
namespace {

/// Larger files are no list of readings; reading one would only fill the memory.
constexpr std::size_t kMostBytes = std::size_t{64} << 20;

ImportFormat format_of(std::string_view bytes) {
  for (auto at = bytes.find("BEGIN_DATA_FORMAT"); at != std::string_view::npos;
       at = bytes.find("BEGIN_DATA_FORMAT", at + 1))
    if (at == 0 || bytes[at - 1] == '\n' || bytes[at - 1] == '\r') return ImportFormat::cgats;
  return ImportFormat::csv;
}

Result<std::string_view> text_of(std::string_view bytes, const ImportOptions& o) {
  if (bytes.size() > kMostBytes)
    return bad_file(o, -1, "", fmt::format("the file has {} bytes, more than {}", bytes.size(), kMostBytes),
                    "Import it in parts.");
  if (bytes.starts_with("\xEF\xBB\xBF")) bytes.remove_prefix(3);
  int line = 1;
  for (auto rest = bytes; !rest.empty(); ++line) {
    const auto end = std::min(rest.find('\n'), rest.size());
    if (!is_utf8(rest.substr(0, end)))
      return bad_file(o, line, "", "the file is not UTF-8 text", "Save it as UTF-8 (or plain ASCII) text.");
    rest.remove_prefix(std::min(end + 1, rest.size()));
  }
  return bytes;
}

Result<void> check_options(const ImportOptions& o) {
  const auto separator = o.separator.value_or(',');
  if (separator != ',' && separator != ';' && separator != '\t')
    return fail(ErrorCode::invalid_input, "the separator is none of comma, semicolon and tab", {},
                {.field = "separator"});
  if (!o.encoding) return {};
  const int bits = o.encoding->bits;
  if (bits != 8 && bits != 10 && bits != 12 && bits != 16)
    return fail(ErrorCode::out_of_range, fmt::format("an encoding cannot have {} bits", bits), {}, {.field = "bits"});
  return {};
}

}  // namespace

const char* name_of(ImportFormat format) {
  return format == ImportFormat::csv ? "csv" : "cgats";
}

std::optional<SpectralUnit> spectral_unit_of(std::string_view text) {
  if (text == "W/(sr m2 nm)") return SpectralUnit::w_per_sr_m2_nm;
  if (text == "mW/(sr m2 nm)") return SpectralUnit::mw_per_sr_m2_nm;
  if (text == "relative") return SpectralUnit::relative;
  return std::nullopt;
}

Result<SampleMapping> parse_mapping(std::string_view text) {
  const auto bad = [&] {
    return fail(ErrorCode::invalid_input, fmt::format("'{}' is no mapping of a sample", escaped(text)),
                "Write NAME=STEP or NAME=STEP:R,G,B, e.g. \"Sample 4=white:940,940,940\".");
  };
  // The last '=' parts them: a sample's name may hold one, a step key does not.
  const auto equals = text.rfind('=');
  if (equals == std::string_view::npos) return bad();
  auto rest = text.substr(equals + 1);
  SampleMapping out{std::string(trim(text.substr(0, equals))), {}, {}};
  if (const auto colon = rest.find(':'); colon != std::string_view::npos) {
    const auto codes = split(rest.substr(colon + 1), ',');
    if (codes.size() != 3) return bad();
    signal::CodeRgb code;
    for (std::size_t i = 0; i < 3; ++i) {
      const auto value = parse_integer(codes[i]);
      if (!value || *value < 0 || *value > 65535) return bad();
      code.code[i] = static_cast<int>(*value);
    }
    out.code = code;
    rest = rest.substr(0, colon);
  }
  out.step = trim(rest);
  if (out.sample.empty() || out.step.empty() || !is_utf8(out.sample) || !is_utf8(out.step)) return bad();
  return out;
}

std::optional<signal::CodeRgb> codes_of_step(std::string_view step, const signal::Encoding& encoding) {
  const auto low = signal::black_code(encoding).code, high = signal::peak_code(encoding).code;
  if (step == "white") return signal::CodeRgb{high};
  if (step == "black") return signal::CodeRgb{low};
  constexpr std::array<std::string_view, 3> primaries{"red", "green", "blue"};
  for (std::size_t i = 0; i < 3; ++i) {
    if (step != primaries[i]) continue;
    auto code = low;
    code[i] = high[i];
    return signal::CodeRgb{code};
  }
  return std::nullopt;
}

Result<ImportReport> import_readings(std::string_view bytes, const ImportOptions& options) {
  if (auto checked = check_options(options); !checked) return tl::unexpected(checked.error());
  const auto text = text_of(bytes, options);
  if (!text) return tl::unexpected(text.error());
  ImportReport report;
  report.format = options.format.value_or(format_of(*text));
  const auto tables =
      report.format == ImportFormat::cgats ? read_cgats(*text, options, report) : read_csv(*text, options, report);
  if (!tables) return tl::unexpected(tables.error());
  std::optional<bool> relative;
  for (const auto& table : *tables) {
    const auto added = add_readings(table, options, report);
    if (!added) return tl::unexpected(added.error());
    if (relative && *relative != *added)
      return bad_file(options, -1, "", "one table of the file is relative and another is not", "Import them apart.");
    relative = *added;
  }
  if (auto finished = finish_readings(options, relative.value_or(false), report); !finished)
    return tl::unexpected(finished.error());
  return report;
}

Result<ImportReport> import_file(const std::string& path, ImportOptions options) {
  const auto bytes = read_file(path);
  if (!bytes) return tl::unexpected(bytes.error());
  options.file = path;
  return import_readings(*bytes, options);
}

}  // namespace provenit::instrument
