// Model and proof as JSON.
#include <nlohmann/json.hpp>

#include "provenit/colour/primaries.h"
#include "provenit/loan/correction.h"

namespace provenit::loan {
namespace {

nlohmann::ordered_json to_json(const correct::ProofFigure& f) {
  return {
      {"value", f.value}, {"standard_uncertainty", f.standard_uncertainty}, {"lower95", f.lower}, {"upper95", f.upper}};
}

}  // namespace

nlohmann::ordered_json to_json(const LoanModel& m) {
  const auto& r = m.model.report();
  const auto black = m.model.black();
  nlohmann::ordered_json out{{"run", m.run},
                             {"readings", m.readings},
                             {"minutes", m.minutes},
                             {"terms", text_of(r.terms)},
                             {"held_out_mean_delta_e_itp", r.mean_held_out},
                             {"held_out_p95_delta_e_itp", r.percentile_95_held_out},
                             {"discrepancy_delta_e_itp", r.discrepancy},
                             {"field_length_pq", r.field_length},
                             {"largest_drift_percent", r.largest_drift_percent},
                             {"peak_d65_cdm2", m.model.peak_of(colour::d65_video).cdm2},
                             {"black_cdm2", {black.X, black.Y, black.Z}}};
  for (const auto& c : m.model.primaries()) out["primaries"].push_back({{"x", c.x}, {"y", c.y}});
  for (const auto& [terms, criterion] : r.tried)
    out["tried"].push_back({{"terms", text_of(terms)}, {"criterion", criterion}});
  for (const auto& p : r.residuals)
    out["residuals"].push_back({{"reading", p.name},
                                {"delta_e_itp", p.delta_e_itp},
                                {"held_out_delta_e_itp", p.held_out_delta_e_itp},
                                {"noise_delta_e_itp", p.expected_delta_e_itp}});
  return out;
}

nlohmann::ordered_json limiter_json(const correct::LimiterCurve& limiter) {
  auto out = nlohmann::ordered_json::array();
  for (const double area : kLimiterAreas)
    out.push_back({{"area_percent", area},
                   {"share", limiter.cap(area / 100)},
                   {"standard_uncertainty", limiter.uncertainty(area / 100)}});
  return out;
}

nlohmann::ordered_json to_json(const LoanProof& proof) {
  nlohmann::ordered_json out{{"correction", proof.correction}};
  for (const auto& r : proof.result.regions)
    out["regions"].push_back({{"region", r.name},
                              {"colours", r.colours},
                              {"before", to_json(r.before)},
                              {"after", to_json(r.after)},
                              {"gain", to_json(r.gain)},
                              {"verdict", text_of(r.verdict)}});
  out["before_p95"] = proof.result.before_p95;
  out["after_p95"] = proof.result.after_p95;
  out["grey_delta_uv_before"] = to_json(proof.result.grey_before);
  out["grey_delta_uv_after"] = to_json(proof.result.grey_after);
  return out;
}

}  // namespace provenit::loan
