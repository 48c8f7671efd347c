// Dissolves: every frame between two pictures lies on the straight line from the one to the other, in order.
#include <algorithm>
#include <array>
#include <cmath>

#include "changes_internal.h"

namespace provenit::programme::scenes {
namespace {

constexpr std::array<std::size_t, 3> kLengths{12, 24, 48};  // frames looked across
constexpr double kSmallestShare = 0.03;                     // dissimilarity of the two pictures
constexpr double kQuiet = 0.45;    // of it at most, as far outside the dissolve as it is half long
constexpr double kOffLine = 0.25;  // of the way at most, mean distance from the line
constexpr double kBack = 0.04;     // of the way a frame may fall back
constexpr double kLeap = 0.4;      // of the way in one frame: more is a cut or a flash

/// Places of the frames along the way from `a` to `b`, 0 to 1; empty if they do not follow the line.
std::vector<double> along(std::span<const FrameRecord> frames, const Grid& grid, std::size_t a, std::size_t b) {
  std::vector<double> way(grid.count());
  double squares = 0;
  for (std::size_t i = 0; i < way.size(); ++i) {
    way[i] = level(frames[b], i) - level(frames[a], i);
    squares += grid.share[i] * way[i] * way[i];
  }
  if (!(squares > 0)) return {};
  std::vector<double> places;
  double off = 0;
  for (std::size_t t = a; t <= b; ++t) {
    double dot = 0, rest = 0;
    for (std::size_t i = 0; i < way.size(); ++i)
      dot += grid.share[i] * way[i] * (level(frames[t], i) - level(frames[a], i));
    const double place = dot / squares;
    for (std::size_t i = 0; i < way.size(); ++i) {
      const double r = level(frames[t], i) - level(frames[a], i) - place * way[i];
      rest += grid.share[i] * r * r;
    }
    if (!places.empty() && (place < places.back() - kBack || place > places.back() + kLeap)) return {};
    places.push_back(place);
    off += std::sqrt(rest / squares);
  }
  return off / static_cast<double>(places.size()) < kOffLine ? places : std::vector<double>{};
}

/// The dissolve that lies between a and b, if there is one.
bool dissolve_between(std::span<const FrameRecord> frames, const Grid& grid, std::size_t a, std::size_t b,
                      SceneChange& found) {
  const double way = difference(frames[a], frames[b], grid);
  if (way < kSmallestShare) return false;
  const double strength = dissimilarity(frames[a], frames[b], grid);
  const std::size_t half = (b - a) / 2;
  if (strength < kSmallestShare || a < half || b + half >= frames.size()) return false;
  if (difference(frames[a - half], frames[a], grid) > kQuiet * way ||
      difference(frames[b], frames[b + half], grid) > kQuiet * way)
    return false;
  const auto places = along(frames, grid, a, b);
  if (places.empty()) return false;
  const auto past = [&](double p) {
    return a + static_cast<std::size_t>(std::ranges::find_if(places, [p](double x) { return x > p; }) - places.begin());
  };
  found = {.kind = ChangeKind::dissolve,
           .first = past(0.03),
           .last = past(0.97) - 1,
           .start = past(0.5),
           .strength = strength};
  // One step that is nearly all of the way is a cut that was judged not to be one (a flash).
  return found.last >= found.first + 3;
}

}  // namespace

std::vector<SceneChange> find_dissolves(std::span<const FrameRecord> frames, const Grid& grid,
                                        std::span<const SceneChange> known) {
  std::vector<SceneChange> found;
  const auto taken = [&](std::size_t a, std::size_t b) {
    const auto meets = [&](const SceneChange& c) { return c.first <= b && c.last >= a; };
    return std::ranges::any_of(known, meets) || std::ranges::any_of(found, meets);
  };
  for (const std::size_t length : kLengths)
    for (std::size_t a = 0; a + length < frames.size(); ++a) {
      SceneChange change;
      if (taken(a, a + length) || !dissolve_between(frames, grid, a, a + length, change)) continue;
      found.push_back(change);
    }
  return found;
}

}  // namespace provenit::programme::scenes
