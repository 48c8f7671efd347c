// Near black: deviation from the EOTF, chromaticity, first code with light, reversals.
#include <algorithm>
#include <array>
#include <cmath>

#include "colour_target_internal.h"
#include "greyscale_internal.h"
#include "provenit/signal/codes.h"

namespace provenit::evaluation {
namespace {

constexpr double kLightFrom_cdm2 = 0.005;  // below, so little is asked for that a usual meter's zero decides
constexpr double kChromaFrom_cdm2 = 0.1;   // below, chromaticity is the meter's noise
constexpr double kShareThatCounts = 0.1;   // of the light a code asks for: less is no picture detail
constexpr const char* kCounted = "each step by its own t-interval, together at 95 % (Bonferroni)";

const Method kNearBlackChroma{
    "near-black-delta-uv/D65-0.3127-0.3290", 1, {"ISO/CIE 11664-5:2016 (u', v')", "Rec. ITU-R BT.2100-3"}};
const Method kSteps{"near-black-steps", 1, {"This project (docs/methods/near_black.md)", "JCGM 100:2008"}};

/// 95 % for all of `n` statements together.
double coverage_of_each(std::size_t n) {
  return 1 - 0.05 / static_cast<double>(std::max<std::size_t>(n, 1));
}

class NearBlack {
 public:
  NearBlack(const Study& study, const Greyscale& g, const Target& target, const StepLight& black)
      : study_(study), g_(g), target_(target), black_(black) {
    for (std::size_t j = 0; j < g.steps.size(); ++j)
      if (g.steps[j].signal > 0) steps_.push_back(j);
  }

  void add_to(Findings& out) {
    if (steps_.empty()) return;
    if (target_.known()) {
      add_lengths(out);
      add_first_code(out);
    }
    add_reversals(out);
  }

 private:
  store::FindingRecord finding(const char* quantity, const Method& method, std::span<const std::size_t> steps) const {
    auto f = new_finding(quantity, nlohmann::json::object(), method);
    for (std::size_t j : steps) use_step(f, *g_.run, *g_.steps[j].step);
    use_step(f, *g_.run, black_);
    f.parts["steps"] = steps.size();
    return f;
  }

  void add_lengths(Findings& out) const {
    EvaluationInput fewer = study_.input;
    fewer.monte_carlo_draws = std::min(fewer.monte_carlo_draws, kMostDraws);
    const Study study{study_.light, fewer};
    const auto sample = sample_greyscale(study, g_, target_);
    const auto draws = sample.all.draws();
    std::vector<std::size_t> lit, coloured;
    for (std::size_t j : steps_) {
      if (g_.target_cdm2[j] >= kLightFrom_cdm2) lit.push_back(j);
      if (g_.target_cdm2[j] >= kChromaFrom_cdm2 && g_.steps[j].step->light.Y > 0.0) coloured.push_back(j);
    }
    if (lit.empty()) return;
    const auto light = slice(sample.all, lit, Component::luminance, 1, draws);
    auto& mean = out.emplace_back(finding("near_black_mean_luminance_part", target_.method("near-black"), lit));
    set_length(mean, length_interval(light), sample.sampling, study);
    mean.series = series(sample);
    mean.parts["from_cdm2"] = kLightFrom_cdm2;
    if (coloured.empty()) return;
    auto chroma = slice(sample.all, coloured, Component::uv, 2, draws);
    chroma.statistic = LengthStatistic::largest;
    auto f = finding("near_black_max_delta_uv", kNearBlackChroma, coloured);
    set_length(f, length_interval(chroma), sample.sampling, study);
    f.parts["from_cdm2"] = kChromaFrom_cdm2;
    out.push_back(std::move(f));
  }

  // The lowest code whose light above black is at least a tenth of what it asks for.
  void add_first_code(Findings& out) const {
    const int black_code = black_.signal.patch.code[0];
    const double each = coverage_of_each(steps_.size());
    double least = 0, most = 0, value = 0;
    for (std::size_t j : steps_) {
      const double wanted = kShareThatCounts * (g_.target_cdm2[j] - black_target());
      const auto excess =
          colour::linear_result(g_.steps[j].step->light.Y - black_.light.Y - wanted, study_.light.sources, each);
      const double above = g_.steps[j].code - black_code;
      if (value == 0 && excess.value > 0) value = above;
      if (least == 0 && excess.interval.upper >= 0) least = above;
      if (most == 0 && excess.interval.lower > 0) most = above;
    }
    const double last = g_.steps[steps_.back()].code - black_code;
    auto f = finding("near_black_first_code", kSteps, steps_);
    if (most == 0) {
      f.parts["flags"] = nlohmann::json::array({"no code read is shown to give light above black"});
      most = last;
    }
    set_count(f, value == 0 ? last : value, least == 0 ? last : least, most, kCounted);
    f.parts["share"] = kShareThatCounts;
    out.push_back(std::move(f));
  }

  [[nodiscard]] double black_target() const {
    const auto at = std::ranges::find(g_.steps, &black_, &GreyStep::step);
    return at == g_.steps.end() ? std::max(0.0, target_.inputs().empty() ? 0.0 : black_.light.Y.value())
                                : g_.target_cdm2[static_cast<std::size_t>(at - g_.steps.begin())];
  }

  // Neighbours of which the higher code gives less light.
  void add_reversals(Findings& out) const {
    std::vector<const StepLight*> row{&black_};
    for (std::size_t j : steps_) row.push_back(g_.steps[j].step);
    const double each = coverage_of_each(row.size() - 1);
    double shown = 0, found = 0, possible = 0;
    for (std::size_t i = 1; i < row.size(); ++i) {
      const auto rise = colour::linear_result(row[i]->light.Y - row[i - 1]->light.Y, study_.light.sources, each);
      shown += rise.interval.upper < 0;
      found += rise.value < 0;
      possible += rise.interval.lower < 0;
    }
    auto f = finding("near_black_reversals", kSteps, steps_);
    set_count(f, found, shown, possible, kCounted);
    f.parts["pairs"] = row.size() - 1;
    out.push_back(std::move(f));
  }

  [[nodiscard]] nlohmann::json series(const GreyscaleSample& sample) const {
    auto out = nlohmann::json::array();
    for (std::size_t j : steps_) {
      const auto& s = g_.steps[j];
      const auto light = colour::linear_result(s.step->light.Y, study_.light.sources);
      const auto excess = colour::linear_result(s.step->light.Y - black_.light.Y, study_.light.sources);
      const auto uv_prime =
          colour::uv_prime_from_xyz(light_at(*s.step, std::vector<double>(study_.light.sources.size())));
      const bool chroma = light.value > 0 && std::isfinite(uv_prime.u) && std::isfinite(uv_prime.v);
      out.push_back({{"step", s.step->key},
                     {"code", s.code},
                     {"target_cdm2", g_.target_cdm2[j]},
                     {"value_cdm2", light.value},
                     {"lower95_cdm2", std::max(0.0, light.interval.lower)},
                     {"upper95_cdm2", light.interval.upper},
                     {"above_black_cdm2", excess.value},
                     {"above_black_lower95_cdm2", excess.interval.lower},
                     {"luminance_part", std::fabs(sample.all.measured[j * components + Component::luminance])},
                     {"u_prime", chroma ? nlohmann::json(uv_prime.u) : nullptr},
                     {"v_prime", chroma ? nlohmann::json(uv_prime.v) : nullptr}});
    }
    return out;
  }

  const Study& study_;
  const Greyscale& g_;
  const Target& target_;
  const StepLight& black_;
  std::vector<std::size_t> steps_;
};

}  // namespace

Result<void> add_near_black_findings(Findings& out, const Study& study, const RunLight& run) {
  const StepLight* black = run.find("black");
  if (black == nullptr) return {};
  const Target target(study, run);
  const auto g = greyscale_of(run, target, study.input.capabilities);
  if (!g) return tl::unexpected(g.error());
  NearBlack(study, *g, target, *black).add_to(out);
  return {};
}

// ---- steps resolved
// --------------------------------------------------------------------------------------------------

namespace {

constexpr double kShareOfStep = 0.5;  // of the step a code asks for: less counts as none
const Method kResolution{"steps-resolved", 1, {"This project (docs/methods/step_resolution.md)", "JCGM 100:2008"}};

/// Codes in a row around one level, all read.
std::vector<std::size_t> row_around(const Greyscale& g, double level_cdm2, int steps) {
  if (g.steps.empty()) return {};
  const auto& encoding = g.steps.front().step->signal.encoding;
  const auto centre = signal::grey_code(encoding, colour::Luminance<>{.cdm2 = level_cdm2});
  if (!centre) return {};
  const int black = signal::black_code(encoding).code[0], top = signal::peak_code(encoding).code[0];
  const int first = std::clamp(centre->code[0] - steps / 2, black, std::max(black, top - steps));
  std::vector<std::size_t> row;
  for (int code = first; code <= first + steps; ++code) {
    const auto at = std::ranges::find(g.steps, code, &GreyStep::code);
    if (at == g.steps.end()) return {};
    row.push_back(static_cast<std::size_t>(at - g.steps.begin()));
  }
  return row;
}

struct Resolved {
  double shown = 0, found = 0, possible = 0;
  nlohmann::json series = nlohmann::json::array();
};

Resolved count_resolved(const Study& study, const Greyscale& g, std::span<const std::size_t> row) {
  Resolved out;
  const double each = coverage_of_each(row.size() - 1);
  for (std::size_t i = 1; i < row.size(); ++i) {
    const auto &lower = g.steps[row[i - 1]], &upper = g.steps[row[i]];
    const double wanted = g.target_cdm2[row[i]] - g.target_cdm2[row[i - 1]];
    const auto rise = upper.step->light.Y - lower.step->light.Y;
    const auto excess = colour::linear_result(rise - kShareOfStep * wanted, study.light.sources, each);
    out.shown += excess.interval.lower > 0;
    out.found += excess.value > 0;
    out.possible += excess.interval.upper > 0;
    out.series.push_back({{"code", upper.code},
                          {"wanted_cdm2", wanted},
                          {"rise_cdm2", rise.value()},
                          {"standard_uncertainty_cdm2", excess.standard_uncertainty}});
  }
  return out;
}

}  // namespace

Result<void> add_step_resolution_findings(Findings& out, const Study& study, const RunLight& run) {
  const Target target(study, run);
  const auto g = greyscale_of(run, target, study.input.capabilities);
  if (!g) return tl::unexpected(g.error());
  if (!target.known() || !run.parameters.contains("levels_cdm2")) return {};
  const int steps = run.parameters.value("steps", 8);
  for (double level : run.parameters["levels_cdm2"].get<std::vector<double>>()) {
    const auto row = row_around(*g, level, steps);
    if (row.size() < 2) continue;
    const auto resolved = count_resolved(study, *g, row);
    const auto pairs = static_cast<double>(row.size() - 1);
    const auto add = [&](const char* quantity, auto&& scale) -> store::FindingRecord& {
      auto f = new_finding(quantity, {{"level_cdm2", level}}, kResolution);
      for (std::size_t j : row) use_step(f, run, *g->steps[j].step);
      set_count(f, scale(resolved.found), scale(resolved.shown), scale(resolved.possible), kCounted);
      f.parts["pairs"] = row.size() - 1;
      f.parts["share"] = kShareOfStep;
      out.push_back(std::move(f));
      return out.back();
    };
    add("steps_resolved", [&](double n) { return 100 * n / pairs; }).series = resolved.series;
    const int bits = g->steps[row.front()].step->signal.encoding.bits;
    add("effective_bits", [&](double n) { return n > 0 ? std::max(0.0, bits + std::log2(n / pairs)) : 0.0; });
  }
  return {};
}

}  // namespace provenit::evaluation
