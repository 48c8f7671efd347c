// Sustained luminance: what a bright field keeps of its light over minutes, when it has settled, and how a smaller
// window recovers after it.
#include <algorithm>
#include <cmath>
#include <optional>

#include "course_internal.h"
#include "findings_internal.h"
#include "provenit/base/text.h"

namespace provenit::evaluation {
namespace {

using colour::Uncertain;

/// From simulated displays.
constexpr double kSustainedTrust = 0.25;
const Method kSustainedLuminance{
    "sustained-luminance", 1, {"This project (docs/methods/sustained.md)", "JCGM 100:2008"}};
const Method kChange{"sustained-change", 1, {"This project (docs/methods/sustained.md)", "JCGM 100:2008"}};
const Method kSettle{"sustained-settle-time", 2, {"This project (docs/methods/sustained.md)", "JCGM 101:2008"}};
const Method kRecovery{"recovery-luminance", 1, {"This project (docs/methods/sustained.md)", "JCGM 100:2008"}};

struct Moment {
  double after_s = 0;  ///< what was asked for; 0: as soon as the field had settled
  const StepLight* step = nullptr;
};

std::vector<Moment> moments_of(const RunLight& run, std::string_view prefix) {
  std::vector<Moment> out;
  for (const auto& step : run.steps)
    if (const std::string_view key = step.key; key.starts_with(prefix))
      if (const auto after = parse_double(key.substr(prefix.size()))) out.push_back({*after, &step});
  std::ranges::sort(out, {}, &Moment::after_s);
  return out;
}

nlohmann::json condition_of(double window_percent, double after_s) {
  auto out = number_condition("window_percent", window_percent);
  out.update(number_condition("minutes", after_s / 60));
  return out;
}

/// Seconds for which the signal had been on; the asked time where the reading does not say.
double shown_s(const Moment& m) {
  return m.step->context.value("shown_s", m.after_s);
}

nlohmann::json series_of(const std::vector<Moment>& moments, const Study& study) {
  auto out = nlohmann::json::array();
  for (const auto& m : moments) {
    const auto r = colour::linear_result(m.step->light.Y, study.light.sources);
    out.push_back({{"shown_s", shown_s(m)},
                   {"cdm2", r.value},
                   {"lower95_cdm2", r.interval.lower},
                   {"upper95_cdm2", r.interval.upper}});
  }
  return out;
}

/// Time from which luminance stays within the tolerance of the last one.
struct Settled {
  double s = 0;
  double straight_s = 0;   ///< on straight lines between the moments
  std::size_t moment = 0;  ///< the first from which all are within; 0: from the beginning
};
Settled settled_at(const std::vector<Moment>& moments, const std::vector<double>& cdm2, double tolerance) {
  const double last = cdm2.back();
  std::vector<double> at, off;
  for (std::size_t i = 0; i < moments.size(); ++i) at.push_back(shown_s(moments[i])), off.push_back(cdm2[i] / last - 1);
  std::size_t i = off.size() - 1;
  while (i > 0 && std::abs(off[i - 1]) <= tolerance) --i;
  if (i == 0) return {};
  const double edge = off[i - 1] > 0 ? tolerance : -tolerance;
  const double place = (off[i - 1] - edge) / (off[i - 1] - off[i]);
  return {Course(at, off).crossing(i - 1, edge), at[i - 1] + place * (at[i] - at[i - 1]), i};
}

void add_settle_time(Findings& out, const Study& study, const RunLight& run, const std::vector<Moment>& stay,
                     double window) {
  if (stay.size() < 4) return;
  const double percent = parameter(run, "tolerance_percent", 2);
  std::vector<Uncertain> inputs;
  std::vector<double> cdm2;
  for (const auto& m : stay) {
    inputs.push_back(m.step->light.Y);
    cdm2.push_back(m.step->light.Y.value());
  }
  const auto found = settled_at(stay, cdm2, percent / 100);
  // Between two moments the course is not known; the smooth one is trusted to a part of what it differs from a straight
  // one.
  const double off = kSustainedTrust * std::abs(found.s - found.straight_s);
  std::vector<double> drawn(cdm2.size()), sample;
  const auto sampling =
      sample_errors(study, inputs, study.input.monte_carlo_draws, [&](std::size_t i, std::span<const double> errors) {
        for (std::size_t k = 0; k < drawn.size(); ++k) drawn[k] = inputs[k].at(errors);
        const double place = std::fmod(0.6180339887498949 * static_cast<double>(i + 1), 1.0);
        sample.push_back(settled_at(stay, drawn, percent / 100).s + (2 * place - 1) * off);
      });
  auto conditions = number_condition("window_percent", window);
  conditions.update(number_condition("tolerance_percent", percent));
  auto f = new_finding("sustained_settle_time", conditions, kSettle);
  for (const auto& m : stay) use_step(f, run, *m.step);
  set_sampled(f, found.s, sample, sampling, study);
  keep_above_zero(f);
  if (found.moment + 1 == stay.size())
    f.parts["flags"].push_back("still outside the tolerance at the moment before the last: stay for longer");
  out.push_back(std::move(f));
}

}  // namespace

void add_sustained_findings(Findings& out, const Study& study, const RunLight& run) {
  const double window = parameter(run, "window_percent", 100);
  const auto stay = moments_of(run, "stay_"), after = moments_of(run, "after_");
  if (stay.empty() || stay.front().after_s != 0 || !(stay.front().step->light.Y > 0.0)) return;
  const auto add = [&](const char* quantity, const nlohmann::json& conditions, const Method& method,
                       const Uncertain& value, std::initializer_list<const StepLight*> steps) -> store::FindingRecord& {
    auto f = new_finding(quantity, conditions, method);
    for (const auto* step : steps) use_step(f, run, *step);
    set_linear(f, value, study);
    out.push_back(std::move(f));
    return out.back();
  };
  const StepLight& first = *stay.front().step;
  for (const auto& m : stay) {
    auto& f =
        add("sustained_luminance", condition_of(window, m.after_s), kSustainedLuminance, m.step->light.Y, {m.step});
    if (study.input.series && m.step == &first) f.series = series_of(stay, study);
    if (m.step == &first) continue;
    add("sustained_change", condition_of(window, m.after_s), kChange, 100.0 * (m.step->light.Y / first.light.Y - 1.0),
        {&first, m.step});
  }
  add_settle_time(out, study, run, stay, window);
  const StepLight* before = run.find("before");
  if (before == nullptr || !(before->light.Y > 0.0)) return;
  for (const auto& m : after) {
    auto& f = add("recovery_luminance", condition_of(window, m.after_s), kRecovery,
                  100.0 * (m.step->light.Y / before->light.Y), {before, m.step});
    if (study.input.series && m.after_s == 0) f.series = series_of(after, study);
  }
}

}  // namespace provenit::evaluation
