#pragma once
// Parts of `provenit correct` that stand in files of their own.
#include "verbs.h"

namespace provenit::cli {

void add_correct_colorimeter(Command& command, CLI::App& correct);

}  // namespace provenit::cli
