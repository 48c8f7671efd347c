// The eye check as findings.
#include "forecast_findings.h"

#include <algorithm>
#include <boost/math/distributions/binomial.hpp>
#include <cmath>

#include "provenit/forecast/evidence.h"
#include "provenit/loan/forecast.h"
#include "provenit/procedure/catalogue.h"

namespace provenit::loan {
namespace {

constexpr double kTail = 0.025, kNormal95 = 1.959963984540054;

store::FindingRecord finding(const char* quantity, double value, double lower, double upper, const char* method) {
  store::FindingRecord out;
  out.quantity = quantity;
  out.unit = procedure::find_quantity(quantity)->unit;
  out.value = value;
  out.lower95 = lower;
  out.upper95 = upper;
  out.standard_uncertainty = (upper - lower) / (2 * kNormal95);
  out.interval_method = method;
  out.dominant = "how few places were read";
  out.method = forecast::kSpotsProcedure;
  out.sources = {"docs/forecast.md"};
  return out;
}

nlohmann::json series_of(const forecast::EyeCheck& eye) {
  auto out = nlohmann::json::array();
  for (const auto& s : eye.spots)
    out.push_back({{"name", s.name},
                   {"read_cdm2", s.read_cdm2},
                   {"forecast_cdm2", s.forecast_cdm2},
                   {"lower90_cdm2", s.lower_cdm2},
                   {"upper90_cdm2", s.upper_cdm2}});
  return out;
}

}  // namespace

std::vector<store::FindingRecord> findings_of(const forecast::EyeCheck& eye) {
  std::vector<store::FindingRecord> out;
  if (eye.spots.empty()) return out;
  using Binomial = boost::math::binomial_distribution<>;
  const auto n = static_cast<double>(eye.spots.size()), held = static_cast<double>(eye.held);
  // Clopper and Pearson 1934: exact whatever the share is.
  out.push_back(finding("forecast_held", 100 * held / n, 100 * Binomial::find_lower_bound_on_p(n, held, kTail),
                        100 * Binomial::find_upper_bound_on_p(n, held, kTail), "binomial, Clopper-Pearson"));
  out.back().parts = {{"verdict", eye.verdict}, {"held", eye.held}, {"median_dark_error", eye.median_dark_error}};
  out.back().series = series_of(eye);

  std::vector<double> errors;
  for (const auto& s : eye.spots)
    if (s.lit && s.read_cdm2 > 0) errors.push_back(100 * std::abs(s.forecast_cdm2 / s.read_cdm2 - 1));
  if (errors.empty()) return out;
  std::ranges::sort(errors);
  // Order statistics: between the k-th from below and from above the median lies with 95 % or more.
  const Binomial half(static_cast<double>(errors.size()), 0.5);
  std::size_t k = 0;
  while (k + 1 < errors.size() / 2 && cdf(half, static_cast<double>(k)) <= kTail) ++k;
  const std::size_t middle = errors.size() / 2;
  const double median = errors.size() % 2 == 1 ? errors[middle] : (errors[middle - 1] + errors[middle]) / 2;
  out.push_back(finding("forecast_light_error", median, errors[k], errors[errors.size() - 1 - k],
                        "order statistics of the places"));
  out.back().parts = {{"places", errors.size()}};
  return out;
}

Result<std::vector<store::FindingRecord>> eye_check_findings(const store::Bench& bench, const store::LoanRecord& loan) {
  const auto runs = bench.runs(loan.id);
  if (!runs) return tl::unexpected(runs.error());
  for (auto run = runs->rbegin(); run != runs->rend(); ++run) {
    if (run->procedure != forecast::kSpotsProcedure || run->state == store::RunState::aborted ||
        run->parameters.value("part", std::string()) != name_of(SpotPart::eye))
      continue;
    const auto readings = bench.readings(run->id);
    if (!readings) return tl::unexpected(readings.error());
    if (readings->empty()) continue;
    const auto made = forecast_of(bench, loan);
    if (!made) {
      if (made.error().code == ErrorCode::not_found) break;  // the readings wait for what a forecast needs
      return tl::unexpected(made.error());
    }
    if (!made->eye) break;
    auto out = findings_of(*made->eye);
    for (auto& f : out)
      for (const auto& r : *readings) f.readings.push_back(r.id);
    return out;
  }
  return std::vector<store::FindingRecord>();
}

}  // namespace provenit::loan
