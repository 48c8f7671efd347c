// Off-axis: luminance kept and colour shift by angle. The angle at which the meter really stood is an error of its own.
#include <algorithm>
#include <array>
#include <cmath>

#include "findings_internal.h"
#include "itp_internal.h"
#include "provenit/instrument/placement.h"

namespace provenit::evaluation {
namespace {

using colour::Uncertain;

constexpr const char* kAngle = "angle of the meter";
const Method kKept{"off-axis-luminance", 1, {"This project (docs/methods/off_axis.md)", "JCGM 100:2008"}};
const Method kShift{"off-axis-delta-uv",
                    1,
                    {"ISO/CIE 11664-5:2016 (u', v')", "This project (docs/methods/off_axis.md)", "JCGM 101:2008"}};

/// A step on one side; the head-on step stands at 0 on each of them.
struct View {
  double angle_deg = 0;  ///< from 0 up
  const StepLight* step = nullptr;
};

/// Views of one direction by rising angle, head on first.
std::vector<View> views_of(const RunLight& run, const StepLight& head_on, const std::string& direction) {
  std::vector<View> out{{0, &head_on}};
  for (const auto& step : run.steps) {
    if (!step.key.starts_with(direction + "_")) continue;
    const auto placement = instrument::placement_from_json(step.context.value("placement", nlohmann::json()));
    if (!placement || !(step.light.Y > 0.0)) continue;
    out.push_back({std::abs(placement->horizontal_deg) + std::abs(placement->vertical_deg), &step});
  }
  std::ranges::sort(out, {}, &View::angle_deg);
  return out;
}

constexpr std::size_t kMostViews = 4;  // that a slope is taken from

/// Slope at views[i] of a function of the angle, which is taken as even in it: of the polynomial in the square of the
/// angle through up to four views around this one.
template <class F>
double slope_at(const std::vector<View>& views, std::size_t i, F&& value) {
  const std::size_t count = std::min(views.size(), kMostViews);
  const std::size_t from = std::min(i < 2 ? 0 : i - 2, views.size() - count);
  const auto square = [&](std::size_t k) { return views[k].angle_deg * views[k].angle_deg; };
  // Derivative of Lagrange's form at one of its nodes.
  double slope = 0;
  for (std::size_t k = from; k < from + count; ++k) {
    if (k == i) continue;
    double ratio = 1;
    for (std::size_t m = from; m < from + count; ++m)
      if (m != i && m != k) ratio *= (square(i) - square(m)) / (square(k) - square(m));
    slope += (value(*views[k].step) * ratio - value(*views[i].step)) / (square(k) - square(i));
  }
  return 2 * views[i].angle_deg * slope;
}

nlohmann::json condition_of(double angle_deg, const std::string& direction) {
  auto out = number_condition("angle_deg", angle_deg);
  out["direction"] = direction;
  return out;
}

class OffAxis {
 public:
  OffAxis(const Study& study, const RunLight& run, const StepLight& head_on)
      : run_(run), head_on_(head_on), light_(study.light), study_{light_, study.input} {
    u_deg_ = parameter(run, "angle_u_deg", 0.5);
  }

  void add(Findings& out, const std::string& direction) {
    const auto views = views_of(run_, head_on_, direction);
    for (std::size_t i = 1; i < views.size(); ++i) {
      const auto angle = light_.sources.add({.name = kAngle, .standard_uncertainty = u_deg_});
      add_kept(out, views, i, direction, angle);
      add_shift(out, views, i, direction, angle);
    }
  }

 private:
  void add_kept(Findings& out, const std::vector<View>& views, std::size_t i, const std::string& direction,
                colour::SourceId angle) {
    const auto& step = *views[i].step;
    auto f = new_finding("off_axis_luminance", condition_of(views[i].angle_deg, direction), kKept);
    use_step(f, run_, head_on_);
    use_step(f, run_, step);
    const auto kept = [&](const StepLight& s) { return s.light.Y.value() / head_on_.light.Y.value(); };
    // A meter that stands further out reads less: the reading is that of another angle.
    const double slope = slope_at(views, i, kept);
    set_linear(f, 100.0 * (step.light.Y / head_on_.light.Y - Uncertain(0, angle, slope)), study_);
    keep_above_zero(f);
    if (study_.input.series) f.series = series_of(views);
    out.push_back(std::move(f));
  }

  void add_shift(Findings& out, const std::vector<View>& views, std::size_t i, const std::string& direction,
                 colour::SourceId angle) {
    const auto& step = *views[i].step;
    auto f = new_finding("off_axis_delta_uv", condition_of(views[i].angle_deg, direction), kShift);
    use_step(f, run_, head_on_);
    use_step(f, run_, step);
    const auto uv_of = [](const StepLight& s) {
      const auto& c = s.light;
      return colour::uv_prime_from_xyz(colour::AbsoluteXyz<>{.X = c.X.value(), .Y = c.Y.value(), .Z = c.Z.value()});
    };
    const double slope_u = slope_at(views, i, [&](const StepLight& s) { return uv_of(s).u; });
    const double slope_v = slope_at(views, i, [&](const StepLight& s) { return uv_of(s).v; });
    const std::array inputs{step.light.X,     step.light.Y,     step.light.Z,          head_on_.light.X,
                            head_on_.light.Y, head_on_.light.Z, Uncertain(0, angle, 1)};
    const Vectors vectors{.points = 1,
                          .dimension = 2,
                          .at =
                              [&](std::span<const double> errors, std::span<double> out_uv) {
                                const auto side = colour::uv_prime_from_xyz(light_at(step, errors));
                                const auto front = colour::uv_prime_from_xyz(light_at(head_on_, errors));
                                out_uv[0] = side.u - front.u - slope_u * errors[angle];
                                out_uv[1] = side.v - front.v - slope_v * errors[angle];
                              },
                          .own_sources = {repeatability_of(step, light_.sources)}};
    set_single_length(f, study_, vectors, inputs);
    out.push_back(std::move(f));
  }

  /// The whole direction, so that one finding has the chart.
  nlohmann::json series_of(const std::vector<View>& views) const {
    auto out = nlohmann::json::array();
    const auto white = colour::uv_prime_from_xyz(head_on_.light);
    for (const auto& v : views) {
      const auto uv = colour::uv_prime_from_xyz(v.step->light);
      out.push_back({{"angle_deg", v.angle_deg},
                     {"cdm2", v.step->light.Y.value()},
                     {"percent", 100 * v.step->light.Y.value() / head_on_.light.Y.value()},
                     {"delta_u", (uv.u - white.u).value()},
                     {"delta_v", (uv.v - white.v).value()}});
    }
    return out;
  }

  const RunLight& run_;
  const StepLight& head_on_;
  Light light_;  ///< with the angles' errors added
  Study study_;
  double u_deg_ = 0;
};

}  // namespace

void add_off_axis_findings(Findings& out, const Study& study, const RunLight& run) {
  const StepLight* head_on = run.find("head_on");
  if (head_on == nullptr || !(head_on->light.Y > 0.0)) return;
  OffAxis views(study, run, *head_on);
  for (const char* direction : {"left", "right", "above", "below"}) views.add(out, direction);
}

}  // namespace provenit::evaluation
