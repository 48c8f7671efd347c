// The white-balance aid against displays whose controls it does not know.
#include "provenit/correct/white_balance.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdio>
#include <functional>
#include <limits>
#include <random>

#include "provenit/colour/difference.h"
#include "turned_display.h"

namespace provenit::correct {
namespace {

using colour::Uncertain;
using ::testing::HasSubstr;

constexpr colour::Xy<> kD65{.x = 0.3127, .y = 0.3290};

/// Plays the aid against a display: a meter with noise, and errors common to all readings.
struct Play {
  const TurnedDisplay& display;
  BalanceTask task;
  double noise = 0.001, floor_cdm2 = 0.0005, common = 0.0001;
  unsigned seed = 1;
  double misread = 0;  ///< steps by which the person sets another value than was proposed, now and then

  colour::Sources sources{};
  std::vector<BalanceVisit> visits{};
  std::vector<std::vector<std::array<double, 3>>> sums{};
  int readings = 0;

  BalanceOutcome run() {
    std::mt19937 random(seed);
    std::normal_distribution<double> normal;
    std::vector<colour::SourceId> shared;
    for (int k = 0; k < 3; ++k) shared.push_back(sources.add({.name = "meter", .standard_uncertainty = common}));
    const auto pool = sources.add_pool(8);
    for (;;) {
      const auto step = next_balance_step(task, visits, sources, shared);
      if (!step) {
        ADD_FAILURE() << step.error().text();
        return {};
      }
      if (step->finished) return *step->outcome;
      if (step->new_visit) {
        auto settings = step->settings;
        if (misread > 0 && random() % 4 == 0)
          settings[0] = std::clamp(settings[0] + misread * task.controls[0].step, task.controls[0].lowest,
                                   task.controls[0].highest);
        visits.push_back({.settings = settings, .move = step->move, .levels = {}});
        visits.back().levels.resize(task.levels.size());
        sums.emplace_back(task.levels.size());
      }
      const auto truth = display.light(visits.back().settings, step->level);
      auto& sum = sums.back()[step->level];
      auto& level = visits.back().levels[step->level];
      ++level.readings;
      ++readings;
      const std::array<double, 3> xyz{truth.X, truth.Y, truth.Z};
      std::array<Uncertain, 3> light;
      for (std::size_t k = 0; k < 3; ++k) {
        const double u = std::hypot(noise * xyz[k], floor_cdm2);
        sum[k] += xyz[k] + u * normal(random);
        const auto source =
            sources.add({.name = "noise", .standard_uncertainty = u / std::sqrt(double(level.readings)), .pool = pool});
        const double mean = sum[k] / level.readings;
        light[k] = Uncertain(mean, source) + Uncertain(0, shared[k], mean);
      }
      level.light = {.X = light[0], .Y = light[1], .Z = light[2]};
    }
  }

  /// Largest error over tolerance that the display truly has.
  double truth(const ControlSettings& settings) const {
    double worst = 0;
    for (std::size_t l = 0; l < task.levels.size(); ++l) {
      const auto c = display.light(settings, l);
      const auto& t = task.tolerance;
      const auto& level = task.levels[l];
      const double y = level.luminance_cdm2.value_or(1) / level.white.y;
      const colour::AbsoluteXyz<> wanted{
          .X = y * level.white.x, .Y = y * level.white.y, .Z = y * (1 - level.white.x - level.white.y)};
      if (t.itp) {
        worst = std::max(worst, colour::itp_difference(wanted, c).total / *t.itp);
        continue;
      }
      const auto u = colour::uv_prime_from_xyz(wanted), v = colour::uv_prime_from_xyz(c);
      worst = std::max(worst, colour::delta_uv_prime(u, v) / t.uv);
      if (level.luminance_cdm2) worst = std::max(worst, std::fabs(c.Y / wanted.Y - 1) / t.luminance_relative);
    }
    return worst;
  }
};

BalanceTask task_of(const TurnedDisplay& display, double tolerance = 0.002) {
  BalanceTask task{.controls = display.controls, .start = {}, .levels = {}, .tolerance = {.uv = tolerance}};
  for (const auto& c : display.controls) task.start.push_back((c.lowest + c.highest) / 2);
  for (const double s : display.signals)
    task.levels.push_back({.name = std::to_string(s), .white = kD65, .luminance_cdm2 = {}});
  return task;
}

/// The least error that any setting gives, by descent over one and two controls from two settings, knowing the display.
double best_reachable(const Play& play, const ControlSettings& from) {
  const auto descend = [&](ControlSettings at) {
    double best = play.truth(at);
    for (bool better = true; better;) {
      better = false;
      for (std::size_t i = 0; i < at.size(); ++i)
        for (std::size_t j = 0; j <= i; ++j)
          for (const double by : {16., -16., 4., -4., 1., -1.})
            for (const double also : {-1., 0., 1.}) {
              ControlSettings next = at;
              const auto &a = play.task.controls[i], &b = play.task.controls[j];
              next[i] = std::clamp(next[i] + by * a.step, a.lowest, a.highest);
              next[j] = std::clamp(next[j] + also * by * b.step, b.lowest, b.highest);
              const double error = play.truth(next);
              if (error < best - 1e-9) at = next, best = error, better = true;
            }
    }
    return best;
  };
  return std::min(descend(from), descend(play.task.start));
}

struct Tally {
  std::vector<int> readings, settings;
  int within = 0, wrong = 0, out = 0, undecided = 0, missed = 0;
  static int median(std::vector<int> v) {
    std::ranges::sort(v);
    return v.empty() ? 0 : v[v.size() / 2];
  }
};

/// Plays the aid against `count` displays, and holds what it says against the best that their controls can do. Missed:
/// a setting is better by more than `margin`, in tolerances, and would have been well within.
Tally tally(unsigned count, const std::function<void(TurnedDisplay&, Play&)>& change, double margin = 0.25) {
  Tally out;
  for (unsigned seed = 1; seed <= count; ++seed) {
    auto display = turned_display(seed);
    Play play{.display = display, .task = task_of(display), .seed = seed};
    change(display, play);
    const auto outcome = play.run();
    const double truth = play.truth(outcome.settings);
    EXPECT_LE(outcome.visits, play.task.most_settings);
    EXPECT_EQ(outcome.readings, play.readings);
    out.readings.push_back(outcome.readings);
    out.settings.push_back(outcome.visits);
    if (outcome.verdict == BalanceVerdict::within) {
      ++out.within;
      out.wrong += truth > 1 ? 1 : 0;
      EXPECT_TRUE(outcome.reasons.empty());
      continue;
    }
    ++(outcome.verdict == BalanceVerdict::out ? out.out : out.undecided);
    EXPECT_FALSE(outcome.reasons.empty()) << seed;
    const double best = best_reachable(play, outcome.settings);
    out.missed += best < 0.75 && truth - best > margin ? 1 : 0;
  }
  // The figures of docs/correction.md.
  const auto largest = [](const auto& v) { return *std::ranges::max_element(v); };
  std::printf(
      "%u displays: within %d (wrongly %d), out %d, undecided %d; median %d settings, %d readings; at most %d, %d\n",
      count, out.within, out.wrong, out.out, out.undecided, Tally::median(out.settings), Tally::median(out.readings),
      largest(out.settings), largest(out.readings));
  return out;
}

void count_luminance(const TurnedDisplay& display, BalanceTask& task) {
  for (std::size_t l = 0; l < display.signals.size(); ++l)
    task.levels[l].luminance_cdm2 = display.peak_cdm2 * std::pow(display.signals[l], display.power);
}

TEST(WhiteBalance, HundredDisplaysEndWithinToleranceOrWhereNoSettingIsBetter) {
  const auto t = tally(100, [](auto&, auto&) {});
  EXPECT_EQ(t.missed, 0);
  EXPECT_LE(t.wrong, 5);  // 95 % intervals
  EXPECT_GE(t.within, 90);
  EXPECT_LE(Tally::median(t.readings), 24);
}

TEST(WhiteBalance, CoarseSteps) {
  const auto t = tally(100, [](auto& display, auto& play) {
    for (auto& c : display.controls) c.step *= 4;
    play.task = task_of(display);
  });
  EXPECT_LE(t.missed, 1);
  EXPECT_LE(t.wrong, 5);
}

TEST(WhiteBalance, LuminanceCounts) {
  const auto t = tally(25, [](auto& display, auto& play) {
    play.task.tolerance.luminance_relative = 0.03;
    count_luminance(display, play.task);
  });
  EXPECT_EQ(t.missed, 0);
  EXPECT_LE(t.wrong, 2);
}

TEST(WhiteBalance, DeltaEItp) {
  const auto t = tally(10, [](auto& display, auto& play) {
    play.task.tolerance.itp = 2;
    count_luminance(display, play.task);
  });
  EXPECT_EQ(t.missed, 0);
  EXPECT_LE(t.wrong, 1);
}

TEST(WhiteBalance, NoiseOfHalfTheTolerance) {
  const auto t = tally(
      20, [](auto&, auto& play) { play.noise = 0.004; }, 0.6);
  EXPECT_LE(t.missed, 2);
  EXPECT_LE(t.wrong, 2);
  EXPECT_GE(t.within, 12);
}

TEST(WhiteBalance, NoiseAsLargeAsTheToleranceIsNeverCalledWithin) {
  const auto t = tally(
      8, [](auto&, auto& play) { play.noise = 0.01; }, 1.5);
  EXPECT_LE(t.missed, 1);
  EXPECT_EQ(t.within, 0);
}

TEST(WhiteBalance, APersonWhoSetsSomethingElse) {
  const auto t = tally(50, [](auto&, auto& play) { play.misread = 3; });
  EXPECT_EQ(t.missed, 0);
  EXPECT_LE(t.wrong, 2);
  EXPECT_GE(t.within, 45);
}

/// Three gains in few steps: every one of the settings is tried, knowing the display.
TEST(WhiteBalance, AgainstEverySetting) {
  int missed = 0, out = 0;
  for (unsigned seed = 1; seed <= 30; ++seed) {
    auto display = turned_display(seed);
    display.signals = {display.signals.back()};
    display.controls.resize(3);
    display.effects.resize(3);
    for (auto& c : display.controls) c.step = 5;
    Play play{.display = display, .task = task_of(display), .seed = seed};
    const auto outcome = play.run();
    double best = 1e9;
    for (double r = 0; r <= 100; r += 5)
      for (double g = 0; g <= 100; g += 5)
        for (double b = 0; b <= 100; b += 5) best = std::min(best, play.truth({r, g, b}));
    const double truth = play.truth(outcome.settings);
    if (outcome.verdict == BalanceVerdict::within) {
      EXPECT_LE(truth, 1) << seed;
      continue;
    }
    missed += truth > best + 0.2 ? 1 : 0;
    out += outcome.verdict == BalanceVerdict::out ? 1 : 0;
  }
  EXPECT_EQ(missed, 0);
  EXPECT_GT(out, 0) << "some of them cannot be balanced";
}

/// One level, three gains of a well-behaved display, 10 % too much red.
TurnedDisplay simple() {
  TurnedDisplay d;
  d.signals = {0.8};
  for (std::size_t k = 0; k < 3; ++k) {
    TurnedDisplay::Effect e;
    e.gain[k] = 0.1;
    d.effects.push_back(e);
    d.controls.push_back({std::array{"Red gain", "Green gain", "Blue gain"}[k], 0, 100, 1});
  }
  d.error_gain = {1.05, 1, 1};
  return d;
}

TEST(WhiteBalance, NothingIsTurnedWhereNothingIsWrong) {
  auto display = simple();
  display.error_gain = {1, 1, 1};
  Play play{.display = display, .task = task_of(display)};
  const auto outcome = play.run();
  EXPECT_EQ(outcome.verdict, BalanceVerdict::within);
  EXPECT_EQ(outcome.readings, 1);
  EXPECT_EQ(outcome.settings, play.task.start);
}

TEST(WhiteBalance, AControlThatDoesNothingIsNamedAndLeftAlone) {
  auto display = simple();
  display.controls.insert(display.controls.begin(), {"Sharpness", 0, 10, 1});
  display.effects.insert(display.effects.begin(), TurnedDisplay::Effect{});
  Play play{.display = display, .task = task_of(display)};
  const auto outcome = play.run();
  EXPECT_EQ(outcome.verdict, BalanceVerdict::within);
  EXPECT_EQ(outcome.settings[0], 5);
  EXPECT_FALSE(outcome.effects[0].acts);
  EXPECT_TRUE(outcome.effects[1].acts);
}

TEST(WhiteBalance, AControlAtItsEndIsNamed) {
  auto display = simple();
  display.error_gain = {1.14, 1.02, 1};
  display.effects[1].gain = display.effects[2].gain = {0, 0.0001, 0};
  Play play{.display = display, .task = task_of(display)};
  const auto outcome = play.run();
  EXPECT_EQ(outcome.verdict, BalanceVerdict::out);
  EXPECT_LT(outcome.after[0].uv.value, outcome.before[0].uv.value);
  ASSERT_FALSE(outcome.reasons.empty());
  const auto red = std::ranges::find(outcome.reasons, "Red gain", &BalanceReason::name);
  ASSERT_NE(red, outcome.reasons.end());
  EXPECT_EQ(red->limit, BalanceLimit::at_end);
  EXPECT_THAT(red->text, HasSubstr("ends at 0"));
}

TEST(WhiteBalance, AStepThatIsTooCoarseIsNamed) {
  auto display = simple();
  for (auto& c : display.controls) c.step = 25;
  display.error_gain = {1.03, 1.01, 0.98};
  Play play{.display = display, .task = task_of(display)};
  const auto outcome = play.run();
  EXPECT_EQ(outcome.verdict, BalanceVerdict::out);
  ASSERT_FALSE(outcome.reasons.empty());
  EXPECT_EQ(outcome.reasons[0].limit, BalanceLimit::step);
}

TEST(WhiteBalance, AnErrorThatNoControlMovesIsNamed) {
  auto display = simple();
  display.controls.resize(1);
  display.effects.resize(1);
  display.error_gain = {1, 1.1, 1};
  Play play{.display = display, .task = task_of(display)};
  const auto outcome = play.run();
  EXPECT_EQ(outcome.verdict, BalanceVerdict::out);
  ASSERT_FALSE(outcome.reasons.empty());
  EXPECT_EQ(outcome.reasons[0].limit, BalanceLimit::no_control);
}

TEST(WhiteBalance, AnInstrumentThatCannotDecideIsNamedAndNotAskedForever) {
  const auto display = simple();
  Play play{.display = display, .task = task_of(display), .common = 0.01};
  const auto outcome = play.run();
  EXPECT_EQ(outcome.verdict, BalanceVerdict::undecided);
  EXPECT_LT(play.truth(outcome.settings), 0.5);
  ASSERT_FALSE(outcome.reasons.empty());
  EXPECT_EQ(outcome.reasons[0].limit, BalanceLimit::instrument);
  EXPECT_LE(outcome.readings, 15);
}

TEST(WhiteBalance, ALevelCrushedToBlackIsBroughtBack) {
  auto display = simple();
  display.leak_cdm2 = 0;
  display.signals = {0.1, 0.8};
  display.error_offset = {-0.11, -0.11, -0.11};
  TurnedDisplay::Effect offset;
  offset.offset = {0.15, 0.15, 0.15};
  display.effects.push_back(offset);
  display.controls.push_back({"Offset", 0, 100, 1});
  Play play{.display = display, .task = task_of(display)};
  const auto outcome = play.run();
  EXPECT_FALSE(outcome.before[0].has_light);
  EXPECT_TRUE(outcome.after[0].has_light);
  EXPECT_EQ(outcome.verdict, BalanceVerdict::within);
}

TEST(WhiteBalance, BadTasksAreRefused) {
  const auto refused = [](const std::function<void(BalanceTask&)>& spoil) {
    auto task = task_of(simple());
    spoil(task);
    const auto step = next_balance_step(task, {}, {}, {});
    return step ? std::string() : step.error().text();
  };
  constexpr double nan = std::numeric_limits<double>::quiet_NaN();
  EXPECT_EQ(refused([](auto&) {}), "");
  EXPECT_THAT(refused([](auto& t) { t.controls.clear(), t.start.clear(); }), HasSubstr("0 controls"));
  EXPECT_THAT(refused([](auto& t) { t.controls[1].name = "Red gain"; }), HasSubstr("two controls are named"));
  EXPECT_THAT(refused([](auto& t) { t.controls[1].name = ""; }), HasSubstr("no name"));
  EXPECT_THAT(refused([](auto& t) { t.controls[1].step = 0; }), HasSubstr("Green gain"));
  EXPECT_THAT(refused([](auto& t) { t.controls[1].highest = nan; }), HasSubstr("Green gain"));
  EXPECT_THAT(refused([](auto& t) { t.start[2] = 101; }), HasSubstr("Blue gain"));
  EXPECT_THAT(refused([](auto& t) { t.start[2] = nan; }), HasSubstr("Blue gain"));
  EXPECT_THAT(refused([](auto& t) { t.start.pop_back(); }), HasSubstr("2 settings for 3 controls"));
  EXPECT_THAT(refused([](auto& t) { t.levels.clear(); }), HasSubstr("0 levels"));
  EXPECT_THAT(refused([](auto& t) { t.levels[0].white = {.x = 0.8, .y = 0.4}; }), HasSubstr("no chromaticity"));
  EXPECT_THAT(refused([](auto& t) { t.levels[0].luminance_cdm2 = 0; }), HasSubstr("0 cd/m2"));
  EXPECT_THAT(refused([](auto& t) { t.tolerance.uv = 0; }), HasSubstr("tolerance of 0"));
  EXPECT_THAT(refused([](auto& t) { t.tolerance.itp = 1; }), HasSubstr("needs a luminance"));
}

TEST(WhiteBalance, BadReadingsAreRefused) {
  const auto task = task_of(simple());
  const auto said = [&](double y) {
    BalanceVisit visit{.settings = task.start, .levels = {{.light = {.X = y, .Y = y, .Z = y}, .readings = 1}}};
    const auto step = next_balance_step(task, std::vector{visit}, {}, {});
    return step ? std::string() : step.error().text();
  };
  EXPECT_EQ(said(100), "");
  EXPECT_THAT(said(std::numeric_limits<double>::quiet_NaN()), HasSubstr("no number"));
  EXPECT_THAT(said(0), HasSubstr("no light at any level"));
}

}  // namespace
}  // namespace provenit::correct
