#pragma once
// What `provenit correct` prints of a model and of a proof.
#include <nlohmann/json.hpp>
#include <optional>
#include <string>

#include "provenit/loan/correction.h"

namespace provenit::cli {

[[nodiscard]] std::string model_text(const loan::LoanModel& model);
[[nodiscard]] std::string limiter_text(const std::optional<correct::LimiterCurve>& limiter);
[[nodiscard]] std::string proof_text(const loan::LoanProof& proof);
[[nodiscard]] nlohmann::ordered_json limiter_json(const correct::LimiterCurve& limiter);

}  // namespace provenit::cli
