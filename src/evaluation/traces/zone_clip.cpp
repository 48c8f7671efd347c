// A camera's clip -> light per frame of the walk.
#include "provenit/evaluation/zone_clip.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>

#include "provenit/colour/statistics.h"

namespace provenit::evaluation {
namespace {

constexpr std::size_t kFewestFrames = 64;
constexpr std::size_t kBlackFrames = 8;           // before the walk, at least
constexpr double kGoesDark = 0.5;                 // of its most light
constexpr double kStandsOut = 8;                  // standard deviations
constexpr double kRises_s = 0.2, kRisesOver = 6;  // how long light is watched for its rise; standard deviations
constexpr double kLength_s = 0.4;                 // by which start and end may be seen late: zones rise and fall
constexpr double kMostMissing = 0.02;             // of the walk's frames, or of its length
constexpr double kExposureChanges = 0.03;         // of the light that stays
constexpr double kSteadyOverNoise = 3, kSteadyOverBlack = 3;  // light of a place that tells the exposure
constexpr double kRangeOfMeans = 4.5;  // standard deviations that fifty means reach over, by noise alone
constexpr double kSettles_s = 0.3;     // frames that stay longer are read in their second half

using Series = std::vector<double>;

double middle_of(Series values) {
  std::ranges::sort(values);
  return colour::quantile(values, 0.5);
}

/// Standard deviation of the noise, from one frame to the next: what moves slowly drops out.
double noise_of(const Series& s) {
  Series steps;
  for (std::size_t i = 1; i < s.size(); ++i) steps.push_back(std::fabs(s[i] - s[i - 1]));
  return 1.4826 * middle_of(std::move(steps)) / std::sqrt(2.0);
}

struct ClipPlace {
  Series light;
  double noise = 0, least = 0, most = 0;  ///< 2nd and 98th percentile
};

ClipPlace place_of(const WalkClip& clip, std::size_t index) {
  ClipPlace out;
  const auto places = static_cast<std::size_t>(clip.places);
  for (std::size_t k = 0; k < clip.time_s.size(); ++k) out.light.push_back(clip.light[k * places + index]);
  out.noise = noise_of(out.light);
  auto sorted = out.light;
  std::ranges::sort(sorted);
  // A zone is lit for a short part of a walk only: the brightest frames, but not a single one.
  out.least = colour::quantile(sorted, 0.02);
  const std::size_t few = std::min(sorted.size(), std::size_t{5});
  out.most = sorted[sorted.size() - few];
  return out;
}

void add(Series& sum, const Series& more) {
  if (sum.empty()) sum.assign(more.size(), 0.0);
  for (std::size_t k = 0; k < more.size(); ++k) sum[k] += more[k];
}

class Film {
 public:
  explicit Film(const WalkClip& clip) : clip_(clip) {
    Series steps;
    for (std::size_t k = 1; k < clip.time_s.size(); ++k) steps.push_back(clip.time_s[k] - clip.time_s[k - 1]);
    period_ = middle_of(std::move(steps));
    std::vector<ClipPlace> rest;
    for (std::size_t i = 0; i < static_cast<std::size_t>(clip.places); ++i) {
      auto place = place_of(clip, i);
      // A place that never gets dark is the room's, and moves with the exposure.
      const bool moves = place.most - place.least > kStandsOut * place.noise && place.least < kGoesDark * place.most;
      if (moves) add(lit_, place.light);
      (moves ? places_ : rest).push_back(std::move(place));
    }
    take_steady(rest);
  }
  [[nodiscard]] double period() const { return period_; }
  [[nodiscard]] bool anything_moves() const { return !lit_.empty(); }
  [[nodiscard]] const Series& lit() const { return lit_; }
  /// Of the light that stays, in running means of a fiftieth of the clip: largest less smallest over the middle.
  /// nullopt if there is none, or too little over its noise.
  [[nodiscard]] std::optional<double> exposure_change() const {
    if (steady_.empty()) return std::nullopt;
    const std::size_t width = std::max<std::size_t>(5, steady_.size() / 50);
    Series means;
    for (std::size_t from = 0; from + width <= steady_.size(); from += width)
      means.push_back(colour::mean(std::span(steady_).subspan(from, width)));
    const auto [least, most] = std::ranges::minmax(means);
    const double middle = middle_of(means), noise = steady_noise_ / std::sqrt(static_cast<double>(width));
    if (!(middle > 0) || kRangeOfMeans * noise > kExposureChanges * middle) return std::nullopt;
    return (most - least) / middle;
  }

  /// When light rises from the black before the walk; nullopt: no black, or no rise.
  [[nodiscard]] std::optional<double> start() const {
    for (std::size_t k = 0; k + run() <= lit_.size(); ++k)
      if (any_lit(k)) return k + run() / 2 < kBlackFrames ? std::nullopt : std::optional(clip_.time_s[k + run() / 2]);
    return std::nullopt;
  }
  /// When light falls back to black for good; nullopt if the clip ends before.
  [[nodiscard]] std::optional<double> end() const {
    for (std::size_t k = lit_.size() - run(); k > 0; --k)
      if (any_lit(k))
        return k + run() + kBlackFrames / 2 > lit_.size() ? std::nullopt : std::optional(clip_.time_s[k + run() / 2]);
    return std::nullopt;
  }

 private:
  /// Frames of a fifth of a second.
  [[nodiscard]] std::size_t run() const {
    return std::max<std::size_t>(2, static_cast<std::size_t>(std::lround(kRises_s / period_)));
  }
  /// Whether some place is lit in the mean over the frames from k on: one zone is seen in few places, and the noise of
  /// the others need not be added to its light.
  [[nodiscard]] bool any_lit(std::size_t k) const {
    return std::ranges::any_of(places_, [&](const ClipPlace& p) {
      const double level = colour::mean(std::span(p.light).first(kBlackFrames));
      // Black is read from few frames: its own error counts too.
      const double error = p.noise * std::sqrt(1 / static_cast<double>(run()) + 1.0 / kBlackFrames);
      return colour::mean(std::span(p.light).subspan(k, run())) - level > kRisesOver * error;
    });
  }

  /// Places that stay alike, brighter than the display's black: that may be the camera's own noise, cut off at 0, which
  /// no shutter changes.
  void take_steady(const std::vector<ClipPlace>& rest) {
    std::vector<double> black;
    for (const auto& p : places_) black.push_back(p.least);
    const double floor = black.empty() ? 0 : middle_of(std::move(black));
    for (const auto& p : rest) {
      const double level = middle_of(p.light);
      if (level <= kSteadyOverNoise * p.noise || level <= kSteadyOverBlack * floor) continue;
      add(steady_, p.light);
      steady_noise_ = std::hypot(steady_noise_, p.noise);
    }
  }

  const WalkClip& clip_;
  double period_ = 0, steady_noise_ = 0;
  std::vector<ClipPlace> places_;  ///< that the walk lights
  Series lit_, steady_;
};

Result<void> check(const WalkClip& clip, const WalkPath& path) {
  if (clip.places < 1 || clip.light.size() != clip.time_s.size() * static_cast<std::size_t>(clip.places))
    return fail(ErrorCode::invalid_input, "the clip has not as much light as frames and places");
  if (clip.time_s.size() < kFewestFrames)
    return fail(ErrorCode::invalid_input, fmt::format("the clip has {} frames", clip.time_s.size()),
                "Film the whole walk, with a quarter of a second of black before and after it.");
  for (std::size_t k = 1; k < clip.time_s.size(); ++k)
    if (!(clip.time_s[k] > clip.time_s[k - 1]))
      return fail(ErrorCode::invalid_input,
                  fmt::format("frame {} is stamped {:.4f} s, not after the one before ({:.4f} s)", k, clip.time_s[k],
                              clip.time_s[k - 1]),
                  "Copy the clip from the camera again, or convert it to a steady frame rate.");
  if (!(path.frame_s > 0))
    return fail(ErrorCode::out_of_range, "how long each frame of the walk stayed is not above 0", "Give --frame-time.");
  return {};
}

Result<void> check_length(const Film& film, const WalkPath& path, double start) {
  const auto end = film.end();
  const double asked = path.frames * path.frame_s;
  if (!end) return {};
  const double seen = *end - start;
  if (std::fabs(seen - asked) <= kMostMissing * asked + kLength_s) return {};
  return fail(
      ErrorCode::invalid_input,
      fmt::format("the walk in the clip lasts {:.2f} s (from {:.2f} s), that of the picture {:.2f} s: {} frames of "
                  "{:.6g} s",
                  seen, start, asked, path.frames, path.frame_s),
      "Check --frame-time, --size and --set, and that the camera sees the whole way of the box.");
}

struct Sampled {
  Series light;
  int used = 0, missing = 0, first_missing = -1;
};

/// Means over the camera's frames of each frame of the walk; NaN where there is none.
Sampled sample(const WalkClip& clip, const Series& lit, const WalkPath& path, double start, double period) {
  Sampled out;
  std::size_t k = 0;
  for (int frame = 0; frame < path.frames; ++frame) {
    const double from = start + frame * path.frame_s, to = from + path.frame_s;
    // A camera's frame lasts up to its period: those that reach over the change of the picture show both.
    const double wait = path.frame_s > kSettles_s ? 0.5 * path.frame_s : 0;
    const double clean_from = std::max(from + wait, from + 0.5 * period), clean_to = to - 0.5 * period;
    double clean = 0, all = 0;
    int clean_count = 0, count = 0;
    while (k < clip.time_s.size() && clip.time_s[k] < from) ++k;
    for (std::size_t j = k; j < clip.time_s.size() && clip.time_s[j] < to; ++j) {
      all += lit[j];
      ++count;
      if (clip.time_s[j] < clean_from || clip.time_s[j] > clean_to) continue;
      clean += lit[j];
      ++clean_count;
    }
    out.used += count;
    if (count == 0) {
      ++out.missing;
      if (out.first_missing < 0) out.first_missing = frame;
    }
    out.light.push_back(clean_count > 0 ? clean / clean_count
                        : count > 0     ? all / count
                                        : std::numeric_limits<double>::quiet_NaN());
  }
  return out;
}

/// Frames without light take the line between their neighbours.
void fill(Series& light) {
  for (std::size_t i = 0; i < light.size(); ++i) {
    if (!std::isnan(light[i])) continue;
    std::size_t next = i;
    while (next < light.size() && std::isnan(light[next])) ++next;
    const double before = i > 0 ? light[i - 1] : next < light.size() ? light[next] : 0;
    const double after = next < light.size() ? light[next] : before;
    const auto gap = static_cast<double>(next - i + 1);
    for (std::size_t j = i; j < next; ++j) light[j] = before + (after - before) * static_cast<double>(j - i + 1) / gap;
  }
}

void add_flags(ClipCount& out, const Sampled& sampled) {
  const auto say = [&](std::string text) { out.flags.push_back(std::move(text)); };
  if (!out.exposure_change)
    say("nothing in the clip stays alike, so a change of the camera's exposure could not be seen: lock it");
  else if (*out.exposure_change > kExposureChanges)
    say(fmt::format("the camera's exposure changes by {:.0f} % during the clip: lock it and film again",
                    100 * *out.exposure_change));
  if (out.frames_per_step < 2)
    say(fmt::format("{:.2g} camera frames for each frame of the walk: steps are blurred; hold the frames longer",
                    out.frames_per_step));
  if (out.lost > 0)
    say(fmt::format("{} of the camera's frames are missing or damaged{}", out.lost,
                    sampled.missing > 0 ? fmt::format(", and with them {} frames of the walk, the first being frame {}",
                                                      sampled.missing, sampled.first_missing)
                                        : ""));
}

}  // namespace

Result<ClipCount> count_zones(const WalkClip& clip, const WalkPath& path, std::optional<double> start_s) {
  if (auto ok = check(clip, path); !ok) return tl::unexpected(ok.error());
  const Film film(clip);
  if (film.period() > 1.02 * path.frame_s)
    return fail(ErrorCode::out_of_range,
                fmt::format("the camera takes a frame each {:.4g} s, the walk moves each {:.4g} s", film.period(),
                            path.frame_s),
                "Hold each frame of the walk for two frames of the camera or more.");
  const char* advice = "Check that the clip is of the walk, with black before it, and not overexposed.";
  if (!film.anything_moves())
    return fail(ErrorCode::invalid_input, "no place in the clip lights up and goes dark again", advice);
  const auto start = start_s ? start_s : film.start();
  if (!start)
    return fail(ErrorCode::invalid_input,
                fmt::format("where the walk begins cannot be seen: the first {} frames are not black, or nothing rises "
                            "after them",
                            kBlackFrames),
                "Film a quarter of a second of black before the walk, or state its start with --start.");
  if (auto ok = check_length(film, path, *start); !ok) return tl::unexpected(ok.error());
  const double last = clip.time_s.back() + film.period(), end = *start + path.frames * path.frame_s;
  if (last < end - path.frame_s)
    return fail(ErrorCode::invalid_input,
                fmt::format("the clip ends with its frame {} at {:.2f} s, in frame {} of {} of the walk",
                            clip.time_s.size() - 1, clip.time_s.back(),
                            static_cast<int>((clip.time_s.back() - *start) / path.frame_s), path.frames),
                "Film the whole walk; if the file was cut off, copy it again.");
  auto sampled = sample(clip, film.lit(), path, *start, film.period());
  if (sampled.missing > kMostMissing * path.frames)
    return fail(
        ErrorCode::invalid_input,
        fmt::format("{} of the walk's {} frames have no frame of the camera, the first being frame {} at {:.3f} s",
                    sampled.missing, path.frames, sampled.first_missing, *start + sampled.first_missing * path.frame_s),
        "Film again without losing frames: a shorter clip, or a faster card.");
  fill(sampled.light);
  auto counted = count_zones(sampled.light, path);
  if (!counted) return tl::unexpected(counted.error());
  ClipCount out{.zones = std::move(*counted), .camera_frames = sampled.used};
  out.zones.start_s = *start;
  out.frames_per_step = path.frame_s / film.period();
  const double expected = path.frames * path.frame_s / film.period();
  out.lost = std::max(0, static_cast<int>(std::lround(expected)) - sampled.used);
  if (out.lost <= 1) out.lost = 0;  // a frame more or less at the ends
  out.exposure_change = film.exposure_change();
  add_flags(out, sampled);
  return out;
}

}  // namespace provenit::evaluation
