#pragma once
// A run of readings that a page asks for beside the plan: for a model, a proof, a white balance, a forecast.
#include "parts.h"

namespace provenit::server {

/// What every such run is asked with.
struct Begun {
  bool page = false;  ///< signals are shown on a page of this machine
};
/// cautions_read and screen of a body; what is wrong with them is kept in `in`.
[[nodiscard]] Begun begun_of(Fields& in);

/// Starts it. The answer is the state of the loan's run. Errors: those of RunControl::start.
[[nodiscard]] Result<Answer> begin(const Call& call, const Begun& begun, SittingTask task);

}  // namespace provenit::server
