#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>

#include "findings_internal.h"
#include "provenit/procedure/catalogue.h"

namespace provenit::evaluation {
namespace {

using colour::Uncertain;

void add_flag(store::FindingRecord& finding, const std::string& flag) {
  auto& flags = finding.parts["flags"];
  if (flags.is_null()) flags = nlohmann::json::array();
  if (std::find(flags.begin(), flags.end(), flag) == flags.end()) flags.push_back(flag);
}

void set_variance(store::FindingRecord& finding, const std::vector<colour::VarianceShare>& shares) {
  auto list = nlohmann::json::array();
  for (const auto& s : shares)
    if (std::fabs(s.fraction) >= 5e-4) list.push_back({{"source", s.name}, {"fraction", s.fraction}});
  finding.parts["variance"] = list;
  if (shares.empty() || !(shares.front().fraction > 0)) {
    finding.dominant = "no uncertainty is known";
    return;
  }
  finding.dominant = fmt::format("{} ({:.0f} % of variance)", shares[0].name, 100 * shares[0].fraction);
  if (shares[0].fraction < 0.6 && shares.size() > 1)
    finding.dominant += fmt::format(", {} ({:.0f} %)", shares[1].name, 100 * shares[1].fraction);
}

void set_linear_parts(store::FindingRecord& finding, const Uncertain& value, const Study& study) {
  set_variance(finding, colour::variance_shares(value, study.light.sources));
  auto contributions = nlohmann::json::object();
  for (const auto& [key, id] : study.light.instrument)
    contributions[key] = value.derivative(id) * study.light.sources[id].standard_uncertainty;
  finding.parts["contributions"] = contributions;
  const auto dof = colour::effective_degrees_of_freedom(value, study.light.sources);
  finding.parts["degrees_of_freedom"] = std::isfinite(dof.value) ? nlohmann::json(dof.value) : nlohmann::json(nullptr);
}

}  // namespace

store::FindingRecord new_finding(std::string_view quantity, nlohmann::json conditions, const Method& method) {
  store::FindingRecord f;
  f.quantity = quantity;
  f.conditions = std::move(conditions);
  if (const auto* known = procedure::find_quantity(quantity)) f.unit = known->unit;
  f.method = method.id;
  f.method_version = method.version;
  f.sources = method.sources;
  return f;
}

void use_step(store::FindingRecord& finding, const RunLight& run, const StepLight& step) {
  finding.readings.insert(finding.readings.end(), step.readings.begin(), step.readings.end());
  for (const auto& r : run.references) finding.readings.push_back(r.reading);
  std::ranges::sort(finding.readings);
  finding.readings.erase(std::unique(finding.readings.begin(), finding.readings.end()), finding.readings.end());
  if (step.below_range > 0)
    add_flag(finding, fmt::format("{} of {} readings of '{}' were below the instrument's range", step.below_range,
                                  step.readings.size(), step.key));
  if (!run.drift_corrected && !run.watches_drift) {
    finding.parts["missing"] = nlohmann::json::array({"drift"});
    add_flag(finding, "no reference readings: drift of the display during the run is not in the interval");
  }
}

void set_linear(store::FindingRecord& finding, const Uncertain& value, const Study& study) {
  const auto r = colour::linear_result(value, study.light.sources);
  finding.value = r.value;
  finding.standard_uncertainty = r.standard_uncertainty;
  finding.lower95 = r.interval.lower;
  finding.upper95 = r.interval.upper;
  finding.interval_method = "linear, t-factor (JCGM 100 G.4)";
  set_linear_parts(finding, value, study);
}

void set_ratio(store::FindingRecord& finding, const Uncertain& numerator, const Uncertain& denominator,
               const Study& study) {
  const auto& sources = study.light.sources;
  const double p = numerator.value(), b = denominator.value();
  const Uncertain ratio = numerator / (b != 0 ? denominator : Uncertain(std::numeric_limits<double>::min()));
  const double t = colour::student_factor(colour::effective_degrees_of_freedom(ratio, sources).value);
  // All rho with (p - rho b)^2 <= t^2 var(p - rho b): a rho^2 - 2 h rho + c <= 0.
  const double a = b * b - t * t * colour::variance(denominator, sources);
  const double h = p * b - t * t * colour::covariance(numerator, denominator, sources);
  const double c = p * p - t * t * colour::variance(numerator, sources);
  const double root = std::sqrt(std::max(0.0, h * h - a * c));
  finding.interval_method = "Fieller, t-factor";
  if (a > 0 && b > 0) {
    finding.value = p / b;
    finding.lower95 = (h - root) / a;
    finding.upper95 = (h + root) / a;
    finding.standard_uncertainty = colour::standard_uncertainty(ratio, sources);
  } else {
    // Not bounded above; c / (h + root) is the smaller root without cancellation, for a of either sign.
    const double lower = h + root > 0 ? std::max(0.0, c / (h + root)) : 0.0;
    finding.lower95 = lower;
    finding.upper95 = std::numeric_limits<double>::infinity();
    finding.value = b > 0 ? std::max(lower, p / b) : lower;
    finding.standard_uncertainty = std::numeric_limits<double>::infinity();
    add_flag(finding, "the denominator is not shown to differ from 0: the ratio is at least the lower end");
  }
  set_linear_parts(finding, ratio, study);
}

void set_shares(store::FindingRecord& finding, const std::vector<double>& sample, const Sampling& sampling,
                const Study& study) {
  const auto n = sample.size();
  const double total = colour::sum_of_squares(sample).variance(), centre = colour::mean(sample);
  const std::size_t bins = std::clamp<std::size_t>(n / 100, 4, 20);
  std::vector<colour::VarianceShare> shares;
  auto contributions = nlohmann::json::object();
  std::vector<std::size_t> order(n);
  double explained = 0;
  for (std::size_t s = 0; s < study.light.instrument.size(); ++s) {
    const auto& [key, id] = study.light.instrument[s];
    const auto& errors = sampling.instrument[s];
    const double u = study.light.sources[id].standard_uncertainty;
    contributions[key] = 0.0;
    if (!(u > 0) || !(total > 0)) continue;
    double product = 0;
    for (std::size_t i = 0; i < n; ++i) product += errors[i] * (sample[i] - centre);
    contributions[key] = product / static_cast<double>(n) / u;
    // Correlation ratio: variance of the means of equally filled bins along the error, less what chance gives.
    for (std::size_t i = 0; i < n; ++i) order[i] = i;
    std::ranges::sort(order, {}, [&](std::size_t i) { return errors[i]; });
    double between = 0;
    for (std::size_t b = 0; b < bins; ++b) {
      const std::size_t from = b * n / bins, to = (b + 1) * n / bins;
      double sum = 0;
      for (std::size_t i = from; i < to; ++i) sum += sample[order[i]];
      const auto held = static_cast<double>(to - from);
      between += held * std::pow(sum / held - centre, 2);
    }
    const double by_chance = static_cast<double>(bins - 1) / static_cast<double>(n);
    const double fraction =
        std::clamp((between / static_cast<double>(n) / total - by_chance) / (1 - by_chance), 0., 1.);
    const char* name = study.light.sources[id].name.c_str();
    const auto same = std::ranges::find(shares, name, &colour::VarianceShare::name);
    if (same == shares.end())
      shares.push_back({name, fraction * total, fraction});
    else
      same->fraction += fraction, same->variance += fraction * total;
    explained += fraction;
  }
  const double rest = std::max(0.0, 1 - explained);
  shares.push_back({"repeatability, drift and joint effects", rest * total, rest});
  std::ranges::stable_sort(shares, std::greater{}, &colour::VarianceShare::fraction);
  set_variance(finding, shares);
  finding.parts["contributions"] = contributions;
}

void set_sampled(store::FindingRecord& finding, double value, const std::vector<double>& sample,
                 const Sampling& sampling, const Study& study) {
  const auto summary = colour::summarise(sample);
  finding.standard_uncertainty = summary.standard_uncertainty;
  finding.lower95 = std::min(value, summary.shortest.lower);
  finding.upper95 = std::max(value, summary.shortest.upper);
  finding.value = value;
  finding.interval_method = fmt::format("Monte Carlo, shortest (JCGM 101 5.3.4), {} draws", sampling.draws);
  set_shares(finding, sample, sampling, study);
}

void set_length(store::FindingRecord& finding, const LengthResult& result, const Sampling& sampling, const Study& study,
                double factor) {
  finding.value = factor * result.value;
  finding.standard_uncertainty = factor * result.standard_uncertainty;
  finding.lower95 = factor * result.interval.lower;
  finding.upper95 = factor * result.interval.upper;
  finding.interval_method =
      fmt::format("Monte Carlo, true lengths consistent with the reading, {} draws", sampling.draws);
  finding.parts["as_read"] = factor * result.as_read;
  std::vector<double> sample = result.sample;
  for (double& v : sample) v *= factor;
  set_shares(finding, sample, sampling, study);
}

void keep_above_zero(store::FindingRecord& f) {
  if (f.lower95 >= 0) return;
  if (f.value < 0) {
    f.parts["as_read"] = f.value;
    f.upper95 -= f.value;
    f.value = 0;
  }
  f.lower95 = 0;
  f.interval_method += ", cut at 0";
}

double parameter(const RunLight& run, const char* key, double otherwise) {
  return run.parameters.is_object() ? run.parameters.value(key, otherwise) : otherwise;
}

nlohmann::json number_condition(const char* key, double value) {
  nlohmann::json out = nlohmann::json::object();
  if (value == std::floor(value))
    out[key] = static_cast<int>(value);
  else
    out[key] = value;
  return out;
}

nlohmann::json interval_json(double value, const colour::Interval& interval) {
  return {{"value", value}, {"lower95", interval.lower}, {"upper95", interval.upper}};
}

}  // namespace provenit::evaluation
