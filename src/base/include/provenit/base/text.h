#pragma once
// Text in and out, independent of locale.
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "provenit/base/clock.h"
#include "provenit/base/error.h"

namespace provenit {

/// Whole text as a finite double ("1e-3", "-0.5", ".5", "+2"); surrounding blanks allowed; nullopt for anything else,
/// NaN and infinity included.
[[nodiscard]] std::optional<double> parse_double(std::string_view text);
/// Whole text as a decimal integer; nullopt otherwise or if out of range.
[[nodiscard]] std::optional<long long> parse_integer(std::string_view text);
/// The shortest text that reads back as the same double.
[[nodiscard]] std::string exact_text(double value);
[[nodiscard]] std::string_view trim(std::string_view text);
/// Splits at every separator; "a,,b" gives three parts; an empty text gives one empty part.
[[nodiscard]] std::vector<std::string_view> split(std::string_view text, char separator);
/// UTC as 2026-11-25T09:30:00.123Z.
[[nodiscard]] std::string iso8601(Timestamp time);
/// Reads 2026-11-25T09:30:00Z, with optional fraction; "Z" or an offset "+01:00" is required.
[[nodiscard]] Result<Timestamp> parse_iso8601(std::string_view text);
/// Whole file as bytes. Errors: io, with the path.
[[nodiscard]] Result<std::string> read_file(const std::string& path);
/// Writes to a temporary name in the same folder, then renames, so that a reader never sees half a file.
[[nodiscard]] Result<void> write_file(const std::string& path, std::string_view bytes);
/// Lower-case hexadecimal SHA-256 (FIPS 180-4).
[[nodiscard]] std::string sha256_hex(std::string_view bytes);

}  // namespace provenit
