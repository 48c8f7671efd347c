#pragma once
// What a run keeps in RunRecord::parameters, so that it can be resumed.
#include "provenit/procedure/procedure.h"

namespace provenit::procedure {

/// The procedure's own (complete) parameters, and under "context" what else next() depends on: encoding, expected peak
/// and black.
[[nodiscard]] nlohmann::json stored_parameters(const nlohmann::json& parameters, const Context& context);

/// What makes two runs the same measurement. How often it is repeated does not, nor what was expected of the display: a
/// plan made anew after an interruption may say otherwise, and the run goes on as it was begun.
[[nodiscard]] nlohmann::json identity_of(nlohmann::json stored);

/// The context a run was begun with. Errors: invalid_input if the run does not hold one.
[[nodiscard]] Result<Context> restored_context(const store::RunRecord& run,
                                               const instrument::Capabilities& capabilities);

}  // namespace provenit::procedure
