#include <nlohmann/json.hpp>

#include "provenit/programme/title.h"

namespace provenit::programme {
namespace {

nlohmann::ordered_json to_json(const AtFrame& at) {
  return {{"cdm2", at.cdm2}, {"frame", at.index}, {"time_s", at.time_s}};
}

}  // namespace

nlohmann::ordered_json to_json(const TitleFigures& t) {
  return {{"frames", t.frames},
          {"maxcll", to_json(t.maxcll)},
          {"maxcll_robust", to_json(t.maxcll_robust)},
          {"maxfall_active", to_json(t.maxfall_active)},
          {"maxfall_full", to_json(t.maxfall_full)},
          {"mean_luminance_full", to_json(t.mean_luminance_full)},
          {"mean_of_means_cdm2", t.mean_of_means},
          {"percentiles", kPercentiles},
          {"peak_percentile_cdm2", t.peak_percentile},
          {"high_percentile_cdm2", t.high_percentile},
          {"mean_percentile_cdm2", t.mean_percentile}};
}

nlohmann::ordered_json to_json(std::span<const DeclaredCheck> checks) {
  auto json = nlohmann::ordered_json::array();
  for (const DeclaredCheck& c : checks)
    json.push_back({{"name", c.name},
                    {"declared", c.declared},
                    {"measured", c.measured},
                    {"agrees", c.agrees},
                    {"explanation", c.explanation}});
  return json;
}

}  // namespace provenit::programme
