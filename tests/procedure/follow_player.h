#pragma once
// A player and a meter for tests of the follow-along clip: a clip played with a start delay, a wrong clock and pauses;
// a meter that reads on and on, loses readings, answers late, says the same twice. Light is a plain function, so that
// nothing here shares code with what is tested.
#include <cmath>
#include <functional>
#include <optional>
#include <random>
#include <vector>

#include "provenit/procedure/follow_along.h"

namespace provenit::procedure {

struct PlayerFaults {
  double start_s = 0;      ///< bench's time when the clip starts
  double rate = 0;         ///< relative error of the player's clock
  double pause_at_s = -1;  ///< bench's time; -1: none
  double pause_s = 0;
  double lost = 0, late = 0, doubled = 0;  ///< share of the readings
  double latest_s = 3;                     ///< how late an answer may be
  double display_gain = 1;
  double noise = 0.003;  ///< relative
};

struct StreamReading {
  TimedReading reading;
  double from = 0, to = 0;  ///< true place in the clip of what the meter saw (of a doubled reply: the first one's)
  bool doubled = false;
};

class TestPlayer {
 public:
  TestPlayer(const FollowSchedule& schedule, PlayerFaults faults) : schedule_(schedule), faults_(faults) {
    std::int64_t at = 0;
    for (const auto& h : schedule.holds) ends_.push_back(schedule.seconds(at += h.frames).s);
  }
  /// Place in the clip, s; below 0 before it starts.
  double place(double t) const {
    double played = t - faults_.start_s;
    if (faults_.pause_at_s >= 0 && t > faults_.pause_at_s) played -= std::min(faults_.pause_s, t - faults_.pause_at_s);
    return played * (1 + faults_.rate);
  }
  std::optional<std::size_t> hold(double place) const {
    if (place < 0 || place >= ends_.back()) return std::nullopt;
    return static_cast<std::size_t>(std::ranges::upper_bound(ends_, place) - ends_.begin());
  }
  double length() const { return ends_.back(); }

  /// Everything the meter says, from t = 0 until well after the clip.
  std::vector<StreamReading> read(const std::function<double(std::size_t)>& light,
                                  const instrument::IntegrationModel& meter, std::uint64_t seed) const {
    std::mt19937_64 random(seed);
    std::uniform_real_distribution<double> share(0, 1);
    std::normal_distribution<double> noise(0, faults_.noise);
    std::vector<StreamReading> out;
    const double end = faults_.start_s + faults_.pause_s + ends_.back() / (1 + faults_.rate) + 40;
    double t = 0;
    while (t < end) {
      const double span = meter.expected({.cdm2 = light_at(t, light)}).s - meter.overhead.s;
      double sum = 0;
      for (int i = 0; i < 10; ++i) sum += light_at(t + span * (i + 0.5) / 10, light) / 10;
      double to = t + span + meter.overhead.s;
      if (share(random) < faults_.late) to += faults_.latest_s * share(random);
      StreamReading r{{{t}, {to}, sum * (1 + noise(random)) + 1e-5 * noise(random)}, place(t), place(t + span)};
      if (share(random) >= faults_.lost) {
        if (share(random) < faults_.doubled && !out.empty()) {
          r.reading.luminance_cdm2 = out.back().reading.luminance_cdm2;
          r.from = out.back().from, r.to = out.back().to, r.doubled = true;
        }
        out.push_back(r);
      }
      t = to;
    }
    return out;
  }

 private:
  double light_at(double t, const std::function<double(std::size_t)>& light) const {
    const auto h = hold(place(t));
    return faults_.display_gain * (h ? light(*h) : 0.001);
  }
  const FollowSchedule& schedule_;
  PlayerFaults faults_;
  std::vector<double> ends_;
};

}  // namespace provenit::procedure
