#pragma once
// A surveyed title as text and JSON, the same for every verb that tells of one.
#include <nlohmann/json.hpp>
#include <span>
#include <string>

#include "provenit/programme/survey.h"

namespace provenit::cli {

struct TitleSummary {
  std::string text;
  nlohmann::ordered_json document;
};
[[nodiscard]] TitleSummary summary_of(const programme::SurveyHeader& header,
                                      std::span<const programme::FrameLight> light);

}  // namespace provenit::cli
