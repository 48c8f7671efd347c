#include "provenit/instrument/trace.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>

#include "import/delimited.h"
#include "number.h"
#include "provenit/base/text.h"
#include "provenit/instrument/raw_text.h"

namespace provenit::instrument {
namespace {

constexpr std::size_t kNoColumn = static_cast<std::size_t>(-1);

struct TimeUnit {
  std::string_view name;
  double seconds;
};
constexpr std::array<TimeUnit, 4> kTimeUnits{{{"s", 1}, {"ms", 1e-3}, {"us", 1e-6}, {"\xc2\xb5s", 1e-6}}};

struct Heading {
  std::vector<TraceChannel> channels;
  std::size_t columns = 0, time = kNoColumn;
  double time_scale = 1;
};

/// "light (V)" -> light, V.
TraceChannel named(std::string_view cell) {
  cell = trim(cell);
  const auto open = cell.find_first_of("([");
  if (open == std::string_view::npos || (cell.back() != ')' && cell.back() != ']')) return {std::string(cell), {}, {}};
  return {
      std::string(trim(cell.substr(0, open))), std::string(trim(cell.substr(open + 1, cell.size() - open - 2))), {}};
}

class Parser {
 public:
  Parser(std::string_view bytes, const TraceOptions& options) : text_(bytes), options_(options) {
    if (text_.starts_with("\xef\xbb\xbf")) text_.remove_prefix(3);
  }

  Result<Trace> run() {
    if (options_.rate_hz && !(std::isfinite(*options_.rate_hz) && *options_.rate_hz > 0))
      return fail(ErrorCode::out_of_range, fmt::format("a rate of {} Hz cannot be", *options_.rate_hz),
                  "Give the samples per second.", at(-1, "rate_hz"));
    if (auto read = heading(); !read) return tl::unexpected(read.error());
    while (next_line())
      if (auto read = row(); !read) return tl::unexpected(read.error());
    return finish();
  }

 private:
  [[nodiscard]] Where at(int line, std::string field = {}) const {
    return {.file = options_.file, .line = line, .field = std::move(field)};
  }
  [[nodiscard]] tl::unexpected<Error> wrong(std::string message, std::string advice, std::string field = {}) const {
    return fail(ErrorCode::invalid_input, std::move(message), std::move(advice), at(number_, std::move(field)));
  }
  [[nodiscard]] std::string column_name(std::size_t column) const {
    return column == head_.time ? "time" : head_.channels[column > head_.time ? column - 1 : column].name;
  }

  /// The next line that is neither empty nor a remark, in line_.
  bool next_line() {
    while (!text_.empty()) {
      const auto end = text_.find_first_of("\r\n");
      line_ = text_.substr(0, end);
      text_.remove_prefix(line_.size());
      if (!text_.empty()) text_.remove_prefix(text_.starts_with("\r\n") ? 2 : 1);
      ++number_;
      const auto words = trim(line_);
      if (!words.empty() && words.front() != '#') return true;
    }
    return false;
  }

  Result<void> heading() {
    if (!next_line()) return wrong("there is no heading", "Name the columns, e.g. \"time (s),light (V)\".");
    if (!is_utf8(line_)) return wrong("the heading is not UTF-8 text", "Save the file as UTF-8 CSV.");
    const auto found = line_.find_first_of("\t;,");
    separator_ = options_.separator.value_or(found == std::string_view::npos ? ',' : line_[found]);
    if (line_.find('\t') != std::string_view::npos && !options_.separator) separator_ = '\t';
    int line = number_;
    auto text = line_;
    const auto record = take_record(text, separator_, line);
    if (!record.problem.empty()) return wrong(record.problem, "Check the quotes of the heading.");
    head_.columns = record.cells.size();
    for (std::size_t i = 0; i < record.cells.size(); ++i)
      if (auto added = add_column(record.cells[i], i); !added) return added;
    if (head_.channels.empty())
      return wrong("the heading names no channel", "Name the columns, e.g. \"time (s),light (V)\".");
    if (head_.time == kNoColumn && !options_.rate_hz)
      return wrong("the file has no times and no rate was given", "Add a column \"time (s)\", or give --rate.");
    return {};
  }

  Result<void> add_column(const std::string& cell, std::size_t column) {
    auto channel = named(cell);
    if (channel.name.empty() || parse_cell(cell))
      return wrong(fmt::format("column {} has no name", column + 1),
                   "The first line names the columns, e.g. \"time (s),light (V)\".");
    std::string lower = channel.name;
    std::ranges::transform(lower, lower.begin(), [](char c) { return c >= 'A' && c <= 'Z' ? char(c + 32) : c; });
    if (lower == "time" || lower == "t") {
      const auto* unit = std::ranges::find(kTimeUnits, channel.unit, &TimeUnit::name);
      if (unit == kTimeUnits.end())
        return wrong(channel.unit.empty() ? "the time has no unit" : "'" + channel.unit + "' is no unit of time here",
                     "Write \"time (s)\", \"time (ms)\" or \"time (us)\".", "time");
      if (head_.time != kNoColumn) return wrong("two columns hold the time", "Leave one out.", "time");
      head_.time = column;
      head_.time_scale = unit->seconds;
      return {};
    }
    if (std::ranges::find(head_.channels, channel.name, &TraceChannel::name) != head_.channels.end())
      return wrong("two columns are named '" + channel.name + "'", "Give each its own name.", channel.name);
    head_.channels.push_back(std::move(channel));
    return {};
  }

  Result<void> row() {
    auto rest = line_;
    for (std::size_t column = 0; column < head_.columns; ++column) {
      const auto end = rest.find(separator_);
      const bool last = column + 1 == head_.columns;
      if ((end == std::string_view::npos) != last)
        return wrong(fmt::format("the row has {} columns where the heading has {}",
                                 1 + std::ranges::count(line_, separator_), head_.columns),
                     separator_ == ',' ? "If its decimals have commas, separate the columns by semicolons."
                                       : "Complete the row.");
      const auto cell = trim(rest.substr(0, end));
      const auto value = parse_cell(cell);
      if (!value)
        return wrong("'" + printable(cell) + "' is not a number",
                     "Leave no gap in a trace: record it again, or cut it where it is whole.", column_name(column));
      if (column == head_.time) {
        if (auto taken = take_time(value->value * head_.time_scale); !taken) return taken;
      } else {
        head_.channels[column > head_.time ? column - 1 : column].values.push_back(value->value);
      }
      rest.remove_prefix(last ? rest.size() : end + 1);
    }
    if (++rows_ * head_.channels.size() > kMostSamples)
      return fail(ErrorCode::out_of_range, fmt::format("more than {} samples", kMostSamples),
                  "Record for less time, or at a lower rate.", at(number_));
    return {};
  }

  Result<void> take_time(double seconds) {
    if (!times_.empty() && !(seconds > times_.back()))
      return wrong(fmt::format("the time does not rise: {:.9g} s follows {:.9g} s", seconds, times_.back()),
                   "Write the times with more digits, or leave them out and give --rate.", "time");
    times_.push_back(seconds);
    lines_.push_back(number_);
    return {};
  }

  [[nodiscard]] static std::string printable(std::string_view cell) {
    std::string out;
    for (const char c : cell.substr(0, 40)) out += c >= ' ' && c < 127 ? c : '?';
    return out;
  }

  Result<Trace> finish() {
    if (rows_ < kFewestSamples)
      return fail(ErrorCode::invalid_input, fmt::format("the trace has {} samples", rows_),
                  fmt::format("A trace has at least {}.", kFewestSamples), at(-1));
    Trace trace{.rate_hz = options_.rate_hz.value_or(0), .channels = std::move(head_.channels)};
    if (head_.time == kNoColumn) return trace;
    if (auto even = check_times(); !even) return tl::unexpected(even.error());
    trace.start_s = times_.front();
    const double rate = static_cast<double>(rows_ - 1) / (times_.back() - times_.front());
    if (!std::isfinite(rate))
      return fail(ErrorCode::invalid_input, "the times lie too close together", "Check their unit.", at(-1, "time"));
    if (options_.rate_hz && std::fabs(rate / *options_.rate_hz - 1) > 0.01)
      return fail(ErrorCode::invalid_input,
                  fmt::format("the times say {:.6g} samples per second, {:.6g} were stated", rate, *options_.rate_hz),
                  "Leave one of them out.", at(-1, "time"));
    trace.rate_hz = rate;
    return trace;
  }

  /// Gaps, then an even grid: the whole is evaluated as samples at one rate.
  [[nodiscard]] Result<void> check_times() const {
    std::vector<double> steps;
    for (std::size_t i = 1; i < times_.size(); ++i) steps.push_back(times_[i] - times_[i - 1]);
    auto sorted = steps;
    std::ranges::nth_element(sorted, sorted.begin() + static_cast<std::ptrdiff_t>(sorted.size() / 2));
    const double step = sorted[sorted.size() / 2];
    for (std::size_t i = 0; i < steps.size(); ++i)
      if (steps[i] > 1.5 * step)
        return fail(ErrorCode::invalid_input,
                    fmt::format("a gap of {:.6g} s where samples are {:.6g} s apart", steps[i], step),
                    "Record it again, or cut the trace at the gap.", at(lines_[i + 1], "time"));
    const double mean = (times_.back() - times_.front()) / static_cast<double>(steps.size());
    for (std::size_t i = 0; i < times_.size(); ++i)
      if (!(std::fabs(times_[i] - times_.front() - mean * static_cast<double>(i)) <= 0.5 * mean))
        return fail(ErrorCode::invalid_input, "the samples do not lie evenly in time",
                    "Record at one rate, or leave the times out and give --rate.", at(lines_[i], "time"));
    return {};
  }

  std::string_view text_, line_;
  const TraceOptions& options_;
  Heading head_;
  char separator_ = ',';
  int number_ = 0;
  std::size_t rows_ = 0;
  std::vector<double> times_;
  std::vector<int> lines_;
};

}  // namespace

const TraceChannel* Trace::channel(std::string_view name) const {
  const auto found = std::ranges::find(channels, name, &TraceChannel::name);
  return found == channels.end() ? nullptr : &*found;
}

Result<Trace> parse_trace(std::string_view bytes, const TraceOptions& options) {
  return Parser(bytes, options).run();
}

}  // namespace provenit::instrument
