#pragma once
// How the command speaks: text for people on stdout, or one JSON document with --json; progress and errors on stderr.
#include <nlohmann/json.hpp>
#include <optional>
#include <string>
#include <vector>

#include "provenit/base/error.h"

namespace provenit::cli {

/// Exit codes of every verb.
enum Exit : int {
  kDone = 0,
  kCheckFailed = 1,  ///< the work was done, and a check in it did not hold
  kRefused = 2,      ///< wrong options or input; nothing was changed
  kStopped = 3       ///< stopped half-way (instrument, disk, interrupt); what was taken is kept, the run can be resumed
};

/// Columns of text, aligned; numbers are passed as text already rounded.
class Table {
 public:
  explicit Table(std::vector<std::string> heads) : heads_(std::move(heads)) {}
  void add(std::vector<std::string> row) { rows_.push_back(std::move(row)); }
  [[nodiscard]] std::string text() const;

 private:
  std::vector<std::string> heads_;
  std::vector<std::vector<std::string>> rows_;
};

class Output {
 public:
  bool json = false;

  /// Prints the text, or with --json the document.
  void say(const std::string& text, const nlohmann::ordered_json& document) const;
  /// Prints the error and gives the exit code that fits.
  int fail(const Error& error) const;
};

/// 1400.2 -> "1400", 0.0123 -> "0.0123": as many digits as the standard uncertainty makes meaningful (two digits of
/// it).
[[nodiscard]] std::string rounded(double value, double standard_uncertainty);
/// A figure's value and interval, rounded alike: {"1431", "1401 to 1461"}. Where all three are whole numbers it is a
/// count, and printed as one: {"40", "39 to 41"}, or {"40", "40"}.
struct FigureText {
  std::string value, interval;
};
[[nodiscard]] FigureText figure_text(double value, double lower, double upper, double standard_uncertainty);
/// "1 h 05 min", "42 s".
[[nodiscard]] std::string duration_text(double seconds);

}  // namespace provenit::cli
