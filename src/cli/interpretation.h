#pragma once
// The options that say how the numbers of a film or still are meant, the same for every verb that reads one.
#include <string>

#include "provenit/base/error.h"
#include "provenit/programme/reader.h"

namespace CLI {
class App;
}

namespace provenit::cli {

/// As given on the command line; empty or 0 means: as the stream says.
struct InterpretationOptions {
  std::string transfer, primaries, matrix, range, siting;
  double peak_cdm2 = 0;
};
/// --transfer, --primaries, --matrix, --range, --siting, --peak. `options` must outlive the parsing.
void add_interpretation(CLI::App& verb, InterpretationOptions& options);
/// Errors: invalid_input naming the option and the names it takes; out_of_range for a peak outside (0, 100000].
[[nodiscard]] Result<programme::Interpretation> interpretation_of(const InterpretationOptions& options);

}  // namespace provenit::cli
