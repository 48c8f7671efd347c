#pragma once
// Words for people that several files of this library use.
#include <string>

#include "provenit/base/clock.h"

namespace provenit::procedure {

/// "45 s", "12 min", "2 h 05 min"; rounded to the unit shown.
[[nodiscard]] std::string time_text(Seconds span);

}  // namespace provenit::procedure
