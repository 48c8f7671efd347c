#include "provenit/procedure/follow_along.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>

namespace provenit::procedure {
namespace {

constexpr double kGrid = 0.1;         // s: how finely the place of a word is looked for
constexpr double kAfterChange = 0.3;  // s: a display has changed to within a fifth by then
constexpr double kBeforeChange = 0.15;
constexpr double kLevelTolerance = 0.3;  // of log2: between levels lies 1
constexpr int kMostMissed = 3;

/// Symbols read at one supposed place of a word; -1: not seen.
using Seen = std::array<int, kMarkerSymbols>;

/// A hold of a step, where it counts.
struct Window {
  std::size_t hold = 0;
  double shown = 0, settled = 0, end = 0;  ///< s from the start of the clip
};

struct Kept {
  TimedReading reading;
  std::int64_t index = 0;
  bool repeats_last = false;  ///< the very same luminance as the reading before it
};

struct Found {
  int number = 0;
  double at = 0, within = 0;  ///< bench's time of the word's start, +-
};

}  // namespace

struct FollowAlong::Impl {
  const FollowSchedule* schedule;
  double tolerance, symbol;
  std::vector<FollowSchedule::Marker> markers;
  std::vector<MarkerWord> words;
  std::vector<Window> windows;
  std::vector<int> counts;

  std::deque<Kept> stream;  ///< what a word may still lie in
  std::vector<Kept> held;   ///< since the last marker
  std::int64_t next_index = 0;
  std::int64_t next_offset = 0;  ///< on the grid
  std::vector<std::pair<std::int64_t, int>> hits;
  std::optional<Found> before;

  Impl(const FollowSchedule& s, double clock_tolerance)
      : schedule(&s), tolerance(clock_tolerance), symbol(s.seconds(s.symbol_frames).s), markers(s.markers()) {
    for (const auto& m : markers) words.push_back(marker_word(m.number));
    std::int64_t at = 0;
    for (std::size_t i = 0; i < s.holds.size(); ++i) {
      const auto& h = s.holds[i];
      if (h.readings > 0)
        windows.push_back({i, s.seconds(at).s, s.seconds(at).s + h.settle.s, s.seconds(at + h.frames).s});
      at += h.frames;
    }
    counts.resize(s.holds.size());
  }

  [[nodiscard]] double length() const { return kMarkerSymbols * symbol; }
  [[nodiscard]] double clip_start(int number) const {
    return std::ranges::find(markers, number, &FollowSchedule::Marker::number)->start.s;
  }

  void take(const TimedReading& r, FollowNews& news) {
    const auto index = next_index++;
    const bool late = !stream.empty() && r.from < stream.back().reading.to;
    if (!std::isfinite(r.luminance_cdm2) || r.to < r.from || late) {
      news.placed.push_back({index, std::nullopt, "out of order"});
      news.events.push_back(
          {"out_of_order", r.from, fmt::format("reading {} does not follow the one before it", index)});
      return;
    }
    const bool repeats = !stream.empty() && stream.back().reading.luminance_cdm2 == r.luminance_cdm2;
    if (stream.empty()) next_offset = grid_after(r.from.unix_s - symbol);
    search_until(r.from.unix_s, news);
    stream.push_back({r, index, repeats});
    held.push_back(stream.back());
    while (stream.front().reading.to.unix_s < r.from.unix_s - 2 * length()) stream.pop_front();
  }

  [[nodiscard]] static std::int64_t grid_after(double t) { return static_cast<std::int64_t>(std::ceil(t / kGrid)); }

  /// Every place of a word that ends before `now`, and was not looked at yet.
  void search_until(double now, FollowNews& news) {
    next_offset = std::max(next_offset, grid_after(now - 3 * length()));  // after a gap: nothing can lie in it
    for (; static_cast<double>(next_offset) * kGrid + length() <= now; ++next_offset) {
      const int number = number_at(static_cast<double>(next_offset) * kGrid);
      if (!hits.empty() && (number == 0 || next_offset > hits.back().first + 2)) close(news);
      if (number != 0) hits.emplace_back(next_offset, number);
    }
  }

  /// The number of the word that begins there; 0 if none does.
  [[nodiscard]] int number_at(double start) const {
    const auto seen = symbols_at(start);
    if (!seen) return 0;
    int number = 0;
    for (std::size_t i = 0; i < words.size(); ++i) {
      const auto fits = [&](int s) { return (*seen)[s] < 0 || (*seen)[s] == words[i][s]; };
      bool all = true;
      for (int s = 0; s < kMarkerSymbols && all; ++s) all = fits(s);
      if (!all) continue;
      if (number != 0) return 0;  // two fit: no guess
      number = markers[i].number;
    }
    return number;
  }

  /// The level of each reading that lies clean inside a symbol of a word that begins at `start`: `take(symbol, level)`,
  /// level 3 for the luminance `top`, 2 for its half; false ends it. A top of 0: that of the word's first symbol.
  template <class Take>
  void read_word(double start, double top, const Take& take) const {
    const auto first = std::ranges::lower_bound(stream, start, {}, [](const Kept& k) { return k.reading.from.unix_s; });
    for (auto it = first; it != stream.end(); ++it) {
      const double from = it->reading.from.unix_s - start, to = it->reading.to.unix_s - start;
      const int s = static_cast<int>(std::floor(from / symbol));
      if (s >= kMarkerSymbols) return;
      if (from < s * symbol + kAfterChange || to > (s + 1) * symbol - kBeforeChange) continue;
      if (s == 0 && top <= 0) top = it->reading.luminance_cdm2;
      const double level = 3 + std::log2(it->reading.luminance_cdm2 / top);
      if (!take(s, level)) return;
    }
  }

  [[nodiscard]] std::optional<Seen> symbols_at(double start) const {
    Seen seen;
    seen.fill(-1);
    bool clear = true;
    read_word(start, 0, [&](int s, double level) {
      // Not a number if the first symbol, by which the others are judged, was missed.
      const int nearest = static_cast<int>(std::lround(std::clamp(level, -1.0, 4.0)));
      clear = std::abs(level - nearest) <= kLevelTolerance && nearest >= 0 && nearest <= 3 &&
              (seen[s] < 0 || seen[s] == nearest);
      seen[s] = nearest;
      return clear;
    });
    if (!clear || std::ranges::count(seen, -1) > kMostMissed || seen[0] < 0) return std::nullopt;
    return seen;
  }

  /// Earliest and latest start, up to a symbol from the places where the word was found, that no reading speaks
  /// against. Where it was found alone would be too narrow: at its true place too many readings may lie unclean.
  [[nodiscard]] std::pair<double, double> possible_starts(const MarkerWord& word) const {
    const double first = static_cast<double>(hits.front().first) * kGrid;
    const double last = static_cast<double>(hits.back().first) * kGrid;
    double top = 0;
    read_word(first, 1, [&](int s, double level) {
      if (s == 0) top = std::exp2(level - 3);
      return s > 0;
    });
    std::pair<double, double> out{first, last};
    const int reach = static_cast<int>(symbol / kGrid);
    for (int i = -reach; i <= reach; ++i) {
      const double start = (i < 0 ? first : last) + i * kGrid;
      bool possible = true;
      read_word(start, top, [&](int s, double level) {
        return possible = std::abs(level - word[static_cast<std::size_t>(s)]) <= kLevelTolerance;
      });
      if (!possible) continue;
      out = {std::min(out.first, start), std::max(out.second, start)};
    }
    return out;
  }

  /// The places next to each other where a word fitted: they are one marker, or an unclear one.
  void close(FollowNews& news) {
    const int number = hits.front().second;
    const bool one = std::ranges::all_of(hits, [&](const auto& h) { return h.second == number; });
    if (!one || static_cast<double>(hits.back().first - hits.front().first) * kGrid > symbol) {
      news.events.push_back({"unclear_marker",
                             {static_cast<double>(hits.front().first) * kGrid},
                             "a marker that could be more than one; it is not used"});
      hits.clear();
      return;
    }
    const auto [first, last] = possible_starts(marker_word(number));
    hits.clear();
    const Found found{number, (first + last) / 2, (last - first) / 2 + kGrid + tolerance * length()};
    news.events.push_back({"marker", {found.at}, fmt::format("marker {}, known to {:.1f} s", number, found.within)});
    marker(found, news);
  }

  void marker(const Found& now, FollowNews& news) {
    const auto splits = [&](const Kept& k) { return k.reading.to.unix_s > now.at; };
    const auto end = std::ranges::find_if(held, splits);
    std::vector<Kept> between(held.begin(), end);
    held.erase(held.begin(), end);
    if (!before) {
      for (const auto& k : between) throw_out(k, "before the first marker", news);
    } else {
      const double shown = clip_start(now.number) - clip_start(before->number);
      const double passed = now.at - before->at, slack = now.within + before->within + tolerance * std::abs(shown);
      if (shown <= 0 || passed < shown - slack) {
        news.events.push_back({"jump",
                               {now.at},
                               fmt::format("from marker {} to {} in {:.1f} s where the clip has {:.1f} s",
                                           before->number, now.number, passed, shown)});
        for (const auto& k : between) throw_out(k, "the clip did not run on between the markers", news);
      } else {
        if (passed > shown + slack)
          news.events.push_back({"pause",
                                 {now.at},
                                 fmt::format("{:.1f} s longer than the clip from marker {} to {}", passed - shown,
                                             before->number, now.number)});
        assign(between, *before, now, news);
      }
    }
    before = now;
  }

  static void throw_out(const Kept& k, const char* why, FollowNews& news) {
    news.placed.push_back({k.index, std::nullopt, why});
  }

  /// Earliest and latest place in the clip at the bench's time t, counted from both markers at every rate.
  [[nodiscard]] std::pair<double, double> bounds(double t, const Found& a, const Found& b) const {
    const double on = t - a.at, back = b.at - t;
    const double from_a = clip_start(a.number), from_b = clip_start(b.number);
    const auto least = [&](double span, double within) { return std::max(0.0, span - within) * (1 - tolerance); };
    const auto most = [&](double span, double within) { return (span + within) * (1 + tolerance); };
    return {std::min(from_a + least(on, a.within), from_b - most(back, b.within)),
            std::max(from_a + most(on, a.within), from_b - least(back, b.within))};
  }

  /// The step whose picture stays from `earliest` to `latest`.
  [[nodiscard]] const Window* window_of(double earliest, double latest) const {
    const auto after = std::ranges::upper_bound(windows, earliest, {}, &Window::shown);
    if (after == windows.begin()) return nullptr;
    const auto& window = *std::prev(after);
    return latest <= window.end ? &window : nullptr;
  }

  void assign(const std::vector<Kept>& between, const Found& a, const Found& b, FollowNews& news) {
    const Window* first_alike = nullptr;  // where the first of readings that are the very same was taken
    for (const auto& k : between) {
      const double earliest = bounds(k.reading.from.unix_s, a, b).first;
      const double latest = bounds(k.reading.to.unix_s, a, b).second;
      const auto* const window = window_of(earliest, latest);
      if (!k.repeats_last) first_alike = window;
      if (window == nullptr || earliest < window->settled) {
        throw_out(k, "a change of signal may lie in it", news);
      } else if (k.repeats_last && first_alike != window) {
        // A reply that came twice would bring the light of another signal into this step.
        throw_out(k, "the same reply as before", news);
      } else if (counts[window->hold] >= schedule->holds[window->hold].readings) {
        throw_out(k, "spare", news);
      } else {
        ++counts[window->hold];
        news.placed.push_back({k.index, window->hold, {}});
      }
    }
  }
};

FollowAlong::FollowAlong(const FollowSchedule& schedule, double clock_tolerance)
    : impl_(std::make_unique<Impl>(schedule, clock_tolerance)) {}
FollowAlong::FollowAlong(FollowAlong&&) noexcept = default;
FollowAlong& FollowAlong::operator=(FollowAlong&&) noexcept = default;
FollowAlong::~FollowAlong() = default;

FollowNews FollowAlong::take(const TimedReading& reading) {
  FollowNews news;
  impl_->take(reading, news);
  return news;
}

FollowNews FollowAlong::finish() {
  FollowNews news;
  if (!impl_->stream.empty()) impl_->search_until(impl_->stream.back().reading.to.unix_s, news);
  if (!impl_->hits.empty()) impl_->close(news);
  for (const auto& k : impl_->held) Impl::throw_out(k, "after the last marker", news);
  impl_->held.clear();
  return news;
}

std::size_t FollowAlong::held_back() const {
  return impl_->held.size();
}

int FollowAlong::last_marker() const {
  return impl_->before ? impl_->before->number : 0;
}

int FollowAlong::readings_of(std::size_t hold) const {
  return impl_->counts.at(hold);
}

bool FollowAlong::complete() const {
  for (const auto& w : impl_->windows)
    if (impl_->counts[w.hold] < impl_->schedule->holds[w.hold].readings) return false;
  return true;
}

}  // namespace provenit::procedure
