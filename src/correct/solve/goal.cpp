#include "goal.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "provenit/colour/difference.h"
#include "provenit/colour/spaces.h"
#include "provenit/correct/patch_choice.h"
#include "provenit/signal/encoding.h"

namespace provenit::correct::solving {
namespace {

const colour::Matrix3<> kXyzFrom2020 = rgb_to_xyz_matrix(colour::bt2020_primaries);
/// Colours over which a table is judged.
constexpr int kJudged = 2000;
/// Where in the sequence of colours they begin: not those that patches were chosen for.
constexpr int kJudgedFirst = 20000;

}  // namespace

Goal::Goal(const DisplayModel& model, const CorrectionGoal& goal, GamutMap map, colour::Luminance<> peak)
    : model_(model),
      goal_(goal),
      map_(std::move(map)),
      peak_(peak),
      input_{.encoding = goal_.input, .scale = goal_.scale},
      output_{.encoding = model.encoding(), .scale = goal_.scale},
      light_(input_) {}

Result<Goal> Goal::make(const DisplayModel& model, const CorrectionGoal& goal) {
  if (auto valid = signal::validate(goal.input); !valid) return tl::unexpected(valid.error());
  const colour::Luminance<> most = model.peak_of(goal.primaries.white);
  const colour::Luminance<> peak = goal.peak.value_or(most);
  if (!(peak.cdm2 > 0 && peak.cdm2 <= most.cdm2 * 1.001))
    return fail(
        ErrorCode::out_of_range,
        fmt::format("a white of {:.4g} cd/m2 cannot be corrected to: this display shows that white up to {:.4g}",
                    peak.cdm2, most.cdm2),
        "Ask for less, or leave the peak out.");
  const auto own = model.primaries();
  const auto shown =
      goal.limit_to_primaries
          ? goal.primaries
          : colour::Primaries<>{.red = own[0], .green = own[1], .blue = own[2], .white = goal.primaries.white};
  const double black = std::clamp(model.black().Y, 0.0, peak.cdm2 / 2);
  auto map = GamutMap::make({.primaries = shown, .peak = peak, .black = {.cdm2 = black}}, goal.mapping);
  if (!map) return tl::unexpected(map.error());
  return Goal(model, goal, std::move(*map), peak);
}

Triple Goal::numbers(const colour::SignalRgb<>& s) const {
  return {number_of(input_, {.value = s.r}), number_of(input_, {.value = s.g}), number_of(input_, {.value = s.b})};
}

colour::AbsoluteXyz<> Goal::asked(const Triple& input, bool* mapped) const {
  const colour::AbsoluteRgb<> wanted = light_.of(input);
  const colour::AbsoluteRgb<> shown = map_.mapped(wanted);
  if (mapped) *mapped = shown.r != wanted.r || shown.g != wanted.g || shown.b != wanted.b;
  return xyz_from_rgb(shown, kXyzFrom2020);
}

Goal::Node Goal::solved(const Triple& input) const {
  Node node;
  const auto inverse = model_.signal_for(asked(input, &node.mapped));
  node.delta_e_itp = inverse.delta_e_itp;
  node.numbers = {number_of(output_, {.value = inverse.signal.r}), number_of(output_, {.value = inverse.signal.g}),
                  number_of(output_, {.value = inverse.signal.b})};
  return node;
}

void Goal::judge(Solved& solved) const {
  for (const auto& s : target_signals(goal_.input, goal_.primaries, peak_, kJudged, kJudgedFirst)) {
    const Triple in = numbers(s);
    bool moved = false;
    const auto want = asked(in, &moved);
    if (moved) {
      ++solved.mapped;
      continue;
    }
    const Triple out = evaluate(solved.lut, in);
    const auto got = model_.light({.r = signal_of(output_, out[0]).value,
                                   .g = signal_of(output_, out[1]).value,
                                   .b = signal_of(output_, out[2]).value});
    solved.errors.push_back(colour::itp_difference(want, got).total);
  }
  std::ranges::sort(solved.errors);
}

}  // namespace provenit::correct::solving
