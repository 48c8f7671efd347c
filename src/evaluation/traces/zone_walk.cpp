// Zones along the walk of a box, by the period of the steps in its light.
//
// Frames in which the box crosses from zone to zone change the light; between them it stays. So the log of the change
// from frame to frame is high in one window of each zone and low outside. For each whole number of zones the frames are
// folded to one zone, and the window that explains most is found; how much it explains gives the number's likelihood.
// Where that shows no period, single steps are tried (zone_steps.h).
#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <map>

#include "traces/figure.h"
#include "traces/zone_steps.h"

namespace provenit::evaluation {
namespace {

constexpr int kWalkBins = 48;                      // parts of a zone
constexpr int kFewestZones = 6, kMostZones = 400;  // along one axis; also held below one zone per three frames
constexpr int kFewestWalkFrames = 32;
// The light steps when the box enters a zone and when it leaves the one before: apart by the box's length. Were that
// half a zone, zones could not be told from half zones.
constexpr double kBoxesPerZone = 3;
// The model is not exact (rise and fall lag unequally, dimming is smoothed), so many frames do not make it surer than
// this many independent ones.
constexpr double kMostIndependent = 60;
constexpr double kEnough = 5;  // log likelihood over no steps at all, from which steps are said to stand out

Result<void> check(const WalkPath& path) {
  if (!(path.step > 0 && path.along > 0 && path.length > 0 && path.frame_s > 0))
    return fail(ErrorCode::out_of_range, "the walk has a length or time that is not above 0",
                "Give step, box, raster and time per frame of the walk.");
  if (path.frames < kFewestWalkFrames || path.along >= path.length)
    return fail(ErrorCode::invalid_input, fmt::format("a walk of {} frames cannot be counted", path.frames),
                fmt::format("Give a shorter step or a smaller box: at least {} frames.", kFewestWalkFrames));
  return {};
}

/// Log of the squared change from each frame to the next, limited below by what most frames show.
std::vector<double> activity_of(std::span<const double> light) {
  std::vector<double> change, sorted;
  for (std::size_t i = 1; i < light.size(); ++i) change.push_back(std::fabs(light[i] - light[i - 1]));
  sorted = change;
  std::ranges::sort(sorted);
  const double floor = std::max(1.4826 * colour::quantile(sorted, 0.5), 1e-9 * sorted.back());
  if (!(floor > 0)) return {};
  for (double& c : change) c = std::log(c * c + floor * floor);
  // How much arrives at the sensor changes along the walk: the running mean over a fifth of it is taken out.
  std::vector<double> sum(change.size() + 1, 0.0), out(change.size());
  for (std::size_t i = 0; i < change.size(); ++i) sum[i + 1] = sum[i] + change[i];
  const std::size_t half = change.size() / 10;
  for (std::size_t i = 0; i < change.size(); ++i) {
    const std::size_t from = i < half ? 0 : i - half, to = std::min(change.size(), i + half + 1);
    out[i] = change[i] - (sum[to] - sum[from]) / static_cast<double>(to - from);
  }
  return out;
}

/// Largest share of the spread that one window of the zone explains, 0 to 1, and that window's width in frames.
struct WalkWindow {
  double explained = 0, frames = 0;
};

class Comb {
 public:
  Comb(std::vector<double> activity, const WalkPath& path) : activity_(std::move(activity)), path_(path) {
    mean_ = colour::mean(activity_);
    spread_ = colour::sum_of_squares(activity_).sum;
  }
  [[nodiscard]] double frames() const { return static_cast<double>(activity_.size()); }

  /// `stretch`: true length of a frame over the stated one.
  [[nodiscard]] WalkWindow best_window(int zones, double stretch) const {
    std::array<double, kWalkBins> sum{}, count{};
    const double per_frame = path_.step * stretch * zones / path_.length;
    const double first = (path_.along + 0.5 * path_.step) * zones / path_.length;  // of the leading edge, in zones
    for (std::size_t i = 0; i < activity_.size(); ++i) {
      const double at = first + per_frame * static_cast<double>(i);
      const int bin = std::min(kWalkBins - 1, static_cast<int>(kWalkBins * (at - std::floor(at))));
      sum[bin] += activity_[i] - mean_;
      count[bin] += 1;
    }
    WalkWindow best;
    for (int from = 0; from < kWalkBins; ++from) {
      double inside = 0, held = 0;
      for (int width = 1; width <= kWalkBins * 2 / 3; ++width) {
        const int bin = (from + width - 1) % kWalkBins;
        inside += sum[bin];
        held += count[bin];
        const double outside = frames() - held;
        if (inside <= 0 || held < 1 || outside < 1) continue;
        // Between-group sum of squares of two groups whose deviations cancel.
        const double explained = (inside * inside / held + inside * inside / outside) / spread_;
        if (explained > best.explained) best = {explained, held / zones};
      }
    }
    return best;
  }

 private:
  std::vector<double> activity_;
  const WalkPath& path_;
  double mean_ = 0, spread_ = 0;
};

/// Neighbouring frames tell the same: how many of them make one independent one.
double correlated_frames(const std::vector<double>& activity) {
  const double mean = colour::mean(activity), zero = colour::sum_of_squares(activity).sum;
  double length = 1;
  for (std::size_t lag = 1; lag < activity.size() / 4 && zero > 0; ++lag) {
    double sum = 0;
    for (std::size_t i = lag; i < activity.size(); ++i) sum += (activity[i] - mean) * (activity[i - lag] - mean);
    if (sum < 0.1 * zero) break;
    length += 2 * sum / zero;
  }
  return length;
}

/// Adds up exp(log likelihood) over stretches of time that the recorder's rate allows.
double likelihood_of(const Comb& comb, int zones, double rate_relative, double independent) {
  double best = 0;
  const double reach = 2 * rate_relative;
  const int steps = reach * zones > 0.02 ? 8 : 0;
  for (int k = -steps; k <= steps; ++k) {
    const double z = steps == 0 ? 0 : 2.0 * k / steps;
    const auto window = comb.best_window(zones, 1 + z * rate_relative);
    const double log_likelihood = -0.5 * independent * std::log(1 - std::min(window.explained, 1 - 1e-12));
    best = std::max(best, log_likelihood - 0.5 * z * z);
  }
  return best;
}

Figure count_figure(const std::vector<ZoneCount::Candidate>& all, int zones, double probability) {
  Figure f{.value = static_cast<double>(zones)};
  double below = 0, variance = 0;
  f.interval = {f.value, f.value};
  bool lower_found = false;
  for (const auto& c : all) {
    const double before = below;
    below += c.probability;
    variance += c.probability * std::pow(c.zones - f.value, 2);
    if (!lower_found && below > 0.025) f.interval.lower = std::min<double>(f.value, c.zones), lower_found = true;
    if (before < 0.975 && below >= 0.975) f.interval.upper = std::max<double>(f.value, c.zones);
  }
  f.standard_uncertainty = std::sqrt(variance);
  f.interval_method = fmt::format("whole numbers with 95 % of the probability; {:.4g} for the value", probability);
  if (variance > 0) f.variance.push_back({"period of the steps", 1});
  return f;
}

Result<ZoneCount> count(std::vector<double> light, const WalkPath& path, double rate_relative) {
  ZoneCount out{.light = std::move(light)};
  const auto activity = activity_of(out.light);
  if (activity.empty()) return out;
  const Comb comb(activity, path);
  const double independent = std::min(kMostIndependent, comb.frames() / correlated_frames(activity));
  const int most = std::min({kMostZones, path.frames / 3, static_cast<int>(path.length / path.along / kBoxesPerZone)});
  std::vector<double> log_likelihood(static_cast<std::size_t>(std::max(0, most) + 1), 0.0);
  double best = 0;
  for (int zones = kFewestZones; zones <= most; ++zones) {
    auto& l = log_likelihood[static_cast<std::size_t>(zones)];
    l = likelihood_of(comb, zones, rate_relative, independent);
    if (l > best) best = l, out.zones = zones;
  }
  if (best < kEnough) {
    // No period over the whole walk: a sensor at one place sees a few steps near it.
    out.zones = 0;
    log_likelihood = likelihood_of_entries(zone_entries(out.light, path), path, most);
    if (most < kFewestZones || log_likelihood.empty()) return out;
    out.zones = static_cast<int>(std::max_element(log_likelihood.begin() + kFewestZones, log_likelihood.end()) -
                                 log_likelihood.begin());
    best = log_likelihood[static_cast<std::size_t>(out.zones)];
  }
  out.steps_seen = true;
  double sum = 0;
  for (int zones = kFewestZones; zones <= most; ++zones)
    sum += std::exp(log_likelihood[static_cast<std::size_t>(zones)] - best);
  std::vector<ZoneCount::Candidate> all;
  for (int zones = kFewestZones; zones <= most; ++zones) {
    all.push_back({zones, std::exp(log_likelihood[static_cast<std::size_t>(zones)] - best) / sum});
    if (all.back().probability > 1e-3) out.candidates.push_back(all.back());
  }
  out.probability = 1 / sum;
  out.count = count_figure(all, out.zones, out.probability);
  out.pitch = {.value = path.length / out.zones,
               .standard_uncertainty = out.count.standard_uncertainty * path.length / out.zones / out.zones,
               .interval = {path.length / out.count.interval.upper, path.length / out.count.interval.lower},
               .interval_method = "from the count",
               .variance = out.count.variance};
  return out;
}

/// When light first rises for good above what it was before, by eight standard deviations of that.
std::optional<double> start_of(const Samples& light) {
  const auto before = static_cast<std::size_t>(0.25 * light.rate_hz);
  if (before < 8 || light.values.size() < 2 * before) return std::nullopt;
  const auto dark = light.values.first(before * 4 / 5);
  const double level = colour::mean(dark), noise = colour::standard_deviation(dark);
  const auto run = std::max<std::size_t>(3, static_cast<std::size_t>(0.004 * light.rate_hz));
  double sum = 0;
  for (std::size_t i = 0; i < light.values.size(); ++i) {
    sum += light.values[i];
    if (i < run) continue;
    sum -= light.values[i - run];
    const double rise = sum / static_cast<double>(run) - level;
    if (rise > 8 * noise / std::sqrt(static_cast<double>(run)) && rise > 0)
      return (static_cast<double>(i + 1) - 0.5 * static_cast<double>(run)) / light.rate_hz;
  }
  return std::nullopt;
}

}  // namespace

Result<ZoneCount> count_zones(std::span<const double> light_per_frame, const WalkPath& path) {
  if (auto ok = check(path); !ok) return tl::unexpected(ok.error());
  if (light_per_frame.size() != static_cast<std::size_t>(path.frames))
    return fail(ErrorCode::invalid_input,
                fmt::format("{} frames where the walk has {}", light_per_frame.size(), path.frames),
                "Cut the clip to the walk, one frame per step.");
  return count({light_per_frame.begin(), light_per_frame.end()}, path, 0);
}

Result<ZoneCount> count_zones(const Samples& light, const WalkPath& path, std::optional<double> start_s) {
  if (auto ok = check(path); !ok) return tl::unexpected(ok.error());
  if (!(light.rate_hz > 0 && light.rate_hz * path.frame_s >= 4))
    return fail(ErrorCode::out_of_range, fmt::format("{:.4g} samples per frame", light.rate_hz * path.frame_s),
                "Record at least 4 samples per frame of the walk.");
  const auto start = start_s ? start_s : start_of(light);
  if (!start)
    return fail(ErrorCode::invalid_input, "where the walk begins cannot be seen",
                "Record a quarter of a second of black before it, or state the start with --start.");
  std::vector<double> frames;
  for (int k = 0; k < path.frames; ++k) {
    // A frame that stays long is read where it has settled, in its second half.
    const double settled = path.frame_s > 0.3 ? 0.5 : 0;
    const auto from = static_cast<std::size_t>(std::llround((*start + (k + settled) * path.frame_s) * light.rate_hz));
    const auto to = static_cast<std::size_t>(std::llround((*start + (k + 1) * path.frame_s) * light.rate_hz));
    if (to > light.values.size())
      return fail(ErrorCode::invalid_input, fmt::format("the trace ends at frame {} of {} of the walk", k, path.frames),
                  "Record the whole walk, and check the time per frame that was stated.");
    frames.push_back(colour::mean(light.values.subspan(from, to - from)));
  }
  auto counted = count(std::move(frames), path, light.rate_relative);
  if (counted) counted->start_s = *start;
  return counted;
}

Figure zone_product(const ZoneCount& across, const ZoneCount& down) {
  std::map<int, double> products;
  for (const auto& a : across.candidates)
    for (const auto& d : down.candidates) products[a.zones * d.zones] += a.probability * d.probability;
  std::vector<ZoneCount::Candidate> all;
  double sum = 0;
  for (const auto& [zones, p] : products) sum += p;
  for (const auto& [zones, p] : products) all.push_back({zones, p / sum});
  auto f = count_figure(all, across.zones * down.zones, across.probability * down.probability);
  return f;
}

}  // namespace provenit::evaluation
