// The frames that ask most, one of each scene first.
#include <algorithm>
#include <cmath>
#include <optional>

#include "provenit/programme/scenes.h"

namespace provenit::programme {
namespace {

constexpr double kApart_s = 1;  // of two moments of one scene

/// The best frame of a scene that lies far enough from those already taken in it.
std::optional<Moment> best_left(std::span<const FrameRecord> frames, const SceneList& list, Demand kind,
                                std::size_t scene, std::span<const Moment> taken) {
  std::optional<Moment> best;
  for (std::size_t t = list.scenes[scene].first; t <= list.scenes[scene].last; ++t) {
    const double value = value_of(list.demands[t], kind);
    if (!(value > 0) || (best && value <= best->value)) continue;
    const bool near = std::ranges::any_of(taken, [&](const Moment& m) {
      return m.scene == scene && std::abs(frames[m.position].figures.time_s - frames[t].figures.time_s) < kApart_s;
    });
    if (!near) best = Moment{.position = t, .scene = scene, .value = value};
  }
  return best;
}

bool before(const Moment& a, const Moment& b) {
  return a.value != b.value ? a.value > b.value : a.position < b.position;
}

}  // namespace

const char* name_of(Demand value) {
  switch (value) {
    case Demand::limiter:
      return "limiter";
    case Demand::zones:
      return "zones";
    case Demand::near_black:
      return "near_black";
    case Demand::beyond_p3:
      return "beyond_p3";
    case Demand::highlights:
      return "highlights";
    case Demand::flashes:
      return "flashes";
    case Demand::changes:
      return "changes";
  }
  return "?";
}

const char* describe(Demand value) {
  switch (value) {
    case Demand::limiter:
      return "full-field light: mean of max(R,G,B), cd/m2";
    case Demand::zones:
      return "bright beside dark: share of dark cells beside bright ones x stops from median to maximum";
    case Demand::near_black:
      return "detail near black: share of cells with structure between 0.005 and 1 cd/m2";
    case Demand::beyond_p3:
      return "colour beyond P3: share of pixels";
    case Demand::highlights:
      return "highlight detail: share of pixels above the peak x bits of their spread over levels";
    case Demand::flashes:
      return "flashing (caution): flashes in a second x share of the picture";
    case Demand::changes:
      return "sudden change: mean difference to the frame before, PQ signal";
  }
  return "?";
}

double value_of(const FrameDemands& d, Demand kind) {
  switch (kind) {
    case Demand::limiter:
      return d.limiter;
    case Demand::zones:
      return d.zones;
    case Demand::near_black:
      return d.near_black;
    case Demand::beyond_p3:
      return d.beyond_p3;
    case Demand::highlights:
      return d.highlights;
    case Demand::flashes:
      return d.flashes;
    case Demand::changes:
      return d.changes;
  }
  return 0;
}

std::vector<Moment> ranked_moments(std::span<const FrameRecord> frames, const SceneList& list, Demand kind,
                                   std::size_t count) {
  std::vector<Moment> taken;
  while (taken.size() < count) {
    std::vector<Moment> round;
    for (std::size_t s = 0; s < list.scenes.size(); ++s)
      if (const auto best = best_left(frames, list, kind, s, taken)) round.push_back(*best);
    if (round.empty()) break;
    std::ranges::sort(round, before);
    round.resize(std::min(round.size(), count - taken.size()));
    taken.insert(taken.end(), round.begin(), round.end());
  }
  std::ranges::sort(taken, before);
  return taken;
}

}  // namespace provenit::programme
