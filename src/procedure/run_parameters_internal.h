#pragma once
// What a run keeps in RunRecord::parameters, so that it can be resumed.
#include "provenit/procedure/procedure.h"

namespace provenit::procedure {

/// The procedure's own (complete) parameters, and under "context" what else next() depends on: encoding, expected peak
/// and black.
[[nodiscard]] nlohmann::json stored_parameters(const nlohmann::json& parameters, const Context& context);

/// The context a run was begun with. Errors: invalid_input if the run does not hold one.
[[nodiscard]] Result<Context> restored_context(const store::RunRecord& run,
                                               const instrument::Capabilities& capabilities);

}  // namespace provenit::procedure
