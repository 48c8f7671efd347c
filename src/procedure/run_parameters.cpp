#include <fmt/format.h>

#include <utility>

#include "provenit/procedure/runner.h"
#include "run_parameters_internal.h"

namespace provenit::procedure {
namespace {

nlohmann::json stored_context(const Context& context) {
  return {{"encoding", nlohmann::json(signal::to_json(context.encoding))},
          {"expected_peak_cdm2", context.expected_peak_cdm2},
          {"expected_black_cdm2", context.expected_black_cdm2}};
}

}  // namespace

nlohmann::json stored_parameters(const nlohmann::json& parameters, const Context& context) {
  nlohmann::json stored = parameters;
  stored["context"] = stored_context(context);
  return stored;
}

nlohmann::json identity_of(nlohmann::json parameters) {
  if (!parameters.is_object()) return parameters;
  for (const char* key : {"repeats", "max_repeats"}) parameters.erase(key);
  auto& context = parameters["context"];
  context = context.is_object() ? context.value("encoding", nlohmann::json()) : nlohmann::json();
  return parameters;
}

Result<Context> restored_context(const store::RunRecord& run, const instrument::Capabilities& capabilities) {
  Context context{.capabilities = capabilities, .parameters = run.parameters};
  const auto stored = context.parameters.find("context");
  const auto unusable = [&](const std::string& what) {
    return fail(ErrorCode::invalid_input, fmt::format("run {} cannot be resumed: {}", run.id, what), "Begin a new run.",
                {.field = "context"});
  };
  if (stored == context.parameters.end() || !stored->is_object()) return unusable("it stores no context");
  auto encoding = signal::encoding_from_json(stored->value("encoding", nlohmann::json()));
  if (!encoding) return unusable(encoding.error().text());
  context.encoding = *encoding;
  for (const auto& [key, target] : {std::pair{"expected_peak_cdm2", &context.expected_peak_cdm2},
                                    std::pair{"expected_black_cdm2", &context.expected_black_cdm2}}) {
    if (!stored->contains(key) || !(*stored)[key].is_number()) return unusable(fmt::format("no {} in it", key));
    *target = (*stored)[key].get<double>();
  }
  context.parameters.erase("context");
  return context;
}

}  // namespace provenit::procedure
