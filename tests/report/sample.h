#pragma once
// An invented loan for the tests of the report: formulas stand in for a display, and the document says so.
#include "provenit/report/document.h"

namespace provenit::report {

[[nodiscard]] Contents sample_contents();

}  // namespace provenit::report
