#pragma once
// The options that say how the numbers of a film or still are meant, the same for every verb that reads one.
#include "provenit/programme/reader.h"

namespace CLI {
class App;
}

namespace provenit::cli {

/// What was given is checked by programme::interpretation_of.
using InterpretationOptions = programme::InterpretationNames;
/// --transfer, --primaries, --matrix, --range, --siting, --peak. `options` must outlive the parsing.
void add_interpretation(CLI::App& verb, InterpretationOptions& options);

}  // namespace provenit::cli
