// EOTF tracking and greyscale chromaticity.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "greyscale_internal.h"

namespace provenit::evaluation {
namespace {

constexpr std::size_t kSeriesDraws = 2000;
constexpr double kBrightFrom_cdm2 = 1;

const Method kChroma{
    "greyscale-delta-uv/D65-0.3127-0.3290", 1, {"ISO/CIE 11664-5:2016 (u', v')", "Rec. ITU-R BT.2100-3"}};

nlohmann::json number(double v) {
  return std::isfinite(v) ? nlohmann::json(v) : nlohmann::json(nullptr);
}

nlohmann::json length_json(const LengthResult& r) {
  return interval_json(r.value, r.interval);
}

// Holds the parts of one greyscale evaluation.
class Tracking {
 public:
  Tracking(const Study& study, const Greyscale& g, const Target& target, const GreyscaleSample& sample)
      : study_(study), g_(g), target_(target), sample_(sample) {
    for (std::size_t j = 0; j < g.clip; ++j) {
      if (!(g.target_cdm2[j] > 0) || g.steps[j].signal <= 0) continue;  // black is a question of its own
      tracked_.push_back(j);
      if (g.target_cdm2[j] >= kBrightFrom_cdm2) bright_.push_back(j);
    }
  }

  void add_to(Findings& out) {
    if (!tracked_.empty()) add_differences(out);
    if (bright_.empty()) return;
    auto& deviation = add(out, "eotf_max_luminance_deviation", target_.method("eotf-luminance"), bright_);
    set_length(deviation, length(bright_, Component::deviation, 1, LengthStatistic::largest), sample_.sampling, study_,
               100);
    auto& chroma = add(out, "greyscale_max_delta_uv", kChroma, bright_);
    set_length(chroma, length(bright_, uv, 2, LengthStatistic::largest), sample_.sampling, study_);
  }

 private:
  LengthResult length(std::span<const std::size_t> steps, Component first, std::size_t dimension,
                      LengthStatistic statistic, std::size_t draws = SIZE_MAX) const {
    LengthProblem p = slice(sample_.all, steps, first, dimension, std::min(draws, sample_.all.draws()));
    p.statistic = statistic;
    return length_interval(p);
  }

  store::FindingRecord& add(Findings& out, const char* quantity, const Method& method,
                            const std::vector<std::size_t>& steps) const {
    auto f = new_finding(quantity, nlohmann::json::object(), method);
    for (std::size_t j : steps) use_step(f, *g_.run, *g_.steps[j].step);
    for (const auto* s : target_.steps()) f.readings.insert(f.readings.end(), s->readings.begin(), s->readings.end());
    std::ranges::sort(f.readings);
    f.readings.erase(std::unique(f.readings.begin(), f.readings.end()), f.readings.end());
    f.parts["steps"] = steps.size();
    if (const auto details = target_.details(); !details.empty()) f.parts["target"] = details;
    out.push_back(std::move(f));
    return out.back();
  }

  void add_differences(Findings& out) const {
    const auto method = target_.method("eotf-tracking");
    const auto mean = length(tracked_, whole, 3, LengthStatistic::mean);
    const auto light = length(tracked_, luminance, 1, LengthStatistic::mean);
    const auto chroma = length(tracked_, chromaticity, 3, LengthStatistic::mean);
    const nlohmann::json light_json = length_json(light), chroma_json = length_json(chroma);

    auto& f = add(out, "eotf_mean_delta_e_itp", method, tracked_);
    set_length(f, mean, sample_.sampling, study_);
    f.parts["luminance"] = light_json;
    f.parts["chromaticity"] = chroma_json;
    if (study_.input.series) f.series = series();

    auto& largest = add(out, "eotf_max_delta_e_itp", method, tracked_);
    set_length(largest, length(tracked_, whole, 3, LengthStatistic::largest), sample_.sampling, study_);
    const std::size_t worst = worst_step();
    const std::array at{worst};
    largest.parts["step"] = g_.steps[worst].step->key;
    largest.parts["luminance"] = length_json(length(at, luminance, 1, LengthStatistic::mean));
    largest.parts["chromaticity"] = length_json(length(at, chromaticity, 3, LengthStatistic::mean));

    set_length(add(out, "eotf_mean_luminance_part", method, tracked_), light, sample_.sampling, study_);
    set_length(add(out, "eotf_mean_chromaticity_part", method, tracked_), chroma, sample_.sampling, study_);
  }

  double as_read(std::size_t j, Component first, std::size_t dimension) const {
    double squares = 0;
    for (std::size_t k = 0; k < dimension; ++k)
      squares += std::pow(sample_.all.measured[j * components + first + k], 2);
    return std::sqrt(squares);
  }

  // The length less the step's own noise, as the values of lengths are.
  double without_noise(std::size_t j, Component first, std::size_t dimension) const {
    double noise = 0;
    for (std::size_t k = 0; k < dimension; ++k) noise += sample_.all.noise_variance[j * components + first + k];
    return std::sqrt(std::max(0.0, std::pow(as_read(j, first, dimension), 2) - noise));
  }

  std::size_t worst_step() const {
    return *std::ranges::max_element(tracked_, {}, [&](std::size_t j) { return as_read(j, whole, 3); });
  }

  // One object per step, those above the clip point included; keys in docs/methods/evaluation.md.
  nlohmann::json series() const {
    auto out = nlohmann::json::array();
    for (std::size_t j = 0; j < g_.steps.size(); ++j) {
      const auto& s = g_.steps[j];
      const std::array at{j};
      const auto light = colour::linear_result(s.step->light.Y, study_.light.sources);
      const colour::AbsoluteXyz<> c{
          .X = s.step->light.X.value(), .Y = s.step->light.Y.value(), .Z = s.step->light.Z.value()};
      const bool has_chroma = c.X + 15 * c.Y + 3 * c.Z > 0;
      const auto uv_prime = colour::uv_prime_from_xyz(c);
      nlohmann::json o{{"step", s.step->key},
                       {"code", s.code},
                       {"signal", s.signal},
                       {"target_cdm2", g_.target_cdm2[j]},
                       {"value_cdm2", light.value},
                       {"lower95_cdm2", std::max(0.0, light.interval.lower)},
                       {"upper95_cdm2", light.interval.upper},
                       {"u_prime", has_chroma ? number(uv_prime.u) : nullptr},
                       {"v_prime", has_chroma ? number(uv_prime.v) : nullptr},
                       {"delta_u", has_chroma ? number(sample_.all.measured[j * components + uv]) : nullptr},
                       {"delta_v", has_chroma ? number(sample_.all.measured[j * components + uv + 1]) : nullptr},
                       {"luminance_part", without_noise(j, luminance, 1)},
                       {"chromaticity_part", without_noise(j, chromaticity, 3)},
                       {"above_clip", j >= g_.clip}};
      add_length(o, "delta_e_itp", length(at, whole, 3, LengthStatistic::mean, kSeriesDraws));
      if (has_chroma)
        add_length(o, "delta_uv", length(at, uv, 2, LengthStatistic::mean, kSeriesDraws));
      else
        for (const char* key : {"delta_uv", "delta_uv_lower95", "delta_uv_upper95"}) o[key] = nullptr;
      out.push_back(std::move(o));
    }
    return out;
  }

  static void add_length(nlohmann::json& o, const std::string& key, const LengthResult& r) {
    o[key] = number(r.value);
    o[key + "_lower95"] = number(r.interval.lower);
    o[key + "_upper95"] = number(r.interval.upper);
  }

  const Study& study_;
  const Greyscale& g_;
  const Target& target_;
  const GreyscaleSample& sample_;
  std::vector<std::size_t> tracked_, bright_;
};

}  // namespace

Result<void> add_greyscale_findings(Findings& out, const Study& study, const RunLight& run) {
  const Target target(study, run);
  const auto g = greyscale_of(run, target, study.input.capabilities);
  if (!g) return tl::unexpected(g.error());
  if (g->steps.empty() || !target.known()) return {};
  const auto sample = sample_greyscale(study, *g, target);
  Tracking(study, *g, target, sample).add_to(out);
  add_clip_findings(out, study, *g, target, sample);
  add_white_tracking(out, study, *g, sample);
  return {};
}

}  // namespace provenit::evaluation
