#pragma once
// Errors are values: a code, what happened, what to do, and where. No library of this project prints or aborts on
// input.
#include <cstdint>
#include <string>
#include <tl/expected.hpp>

namespace provenit {

enum class ErrorCode {
  invalid_input,  ///< a file, row, option or reply that cannot be used as it stands
  out_of_range,   ///< well formed, but outside the stated valid range
  not_found,      ///< the named thing is not there
  conflict,       ///< what is there already forbids it (an immutable reading, a run already finished, a newer bench)
  io,             ///< the operating system refused
  timeout,        ///< nothing came in the time allowed
  instrument,     ///< the instrument itself reported an error
  unsupported,    ///< valid, but this build or this machine cannot do it
  cancelled       ///< stopped by the user
};

/// The place an error speaks of. Unset parts are empty or negative.
struct Where {
  std::string file;
  int line = -1;              ///< 1 for the first line
  std::int64_t frame = -1;    ///< 0 for the first frame
  std::int64_t reading = -1;  ///< reading id in the bench
  std::string field;          ///< column, key or option
};

struct Error {
  ErrorCode code = ErrorCode::invalid_input;
  std::string message;  ///< what happened, with the offending text or number
  std::string advice;   ///< what the user can do
  Where where;

  /// One line for people: "readings.csv:12 (Y): 'abc' is not a number. Give luminance in cd/m2."
  [[nodiscard]] std::string text() const;
};

template <class T>
using Result = tl::expected<T, Error>;

[[nodiscard]] inline tl::unexpected<Error> fail(ErrorCode code, std::string message, std::string advice = {},
                                                Where where = {}) {
  return tl::unexpected<Error>(Error{code, std::move(message), std::move(advice), std::move(where)});
}

/// "invalid_input", "timeout", ...: the name used in --json output.
[[nodiscard]] const char* name_of(ErrorCode code);

}  // namespace provenit
