#pragma once
// What a light sensor and a recorder wrote: light over time at one rate, as CSV. Form: docs/import.md.
// Pure: bytes in, samples out. A trace that is not whole is refused: evaluation counts samples as time.
#include <cstddef>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "provenit/base/error.h"

namespace provenit::instrument {

struct TraceChannel {
  std::string name;  ///< as in the heading, without its unit: "light"
  std::string unit;  ///< "V", "cd/m2"; empty if the heading gives none
  std::vector<double> values;
};

/// Samples at equal distances in time; all channels have as many.
struct Trace {
  double rate_hz = 0;  ///< > 0
  double start_s = 0;  ///< of the first sample, by the file's own time; 0 if it has none
  std::vector<TraceChannel> channels;
  [[nodiscard]] std::size_t samples() const { return channels.empty() ? 0 : channels.front().values.size(); }
  /// nullptr if there is none of that name.
  [[nodiscard]] const TraceChannel* channel(std::string_view name) const;
};

struct TraceOptions {
  std::string file;               ///< for error places; not opened
  std::optional<char> separator;  ///< unset: the first of tab ; , found in the heading
  std::optional<double> rate_hz;  ///< of a file without times; one with times must agree with it within 1 %
};

/// Fewest samples of a trace, and most (of all channels together).
inline constexpr std::size_t kFewestSamples = 16, kMostSamples = 100'000'000;

/// Lines that begin with # and empty ones are passed over. Then a heading, one name per column with the unit in
/// brackets: "time (ms)", "light [V]". A column named time or t holds the time in s, ms or us; all others are channels.
/// Then one row per sample; decimals with a point, or with a comma where that is not the separator.
/// Errors, with file, line and column: invalid_input for a missing heading, time without unit, neither times nor rate,
/// text or NaN in a cell, a row of another length, time that does not rise, a gap (more than 1.5 intervals between two
/// rows) or times off an even grid by more than half an interval; fewer than kFewestSamples rows; out_of_range above
/// kMostSamples or for a rate that is not finite and above 0.
[[nodiscard]] Result<Trace> parse_trace(std::string_view bytes, const TraceOptions& options = {});

}  // namespace provenit::instrument
