// Steps around the peak in a captured frame: where they clip, how, and what becomes of hue.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numbers>
#include <random>

#include "captures/clip_patches.h"
#include "clip_internal.h"
#include "colour_target_internal.h"
#include "provenit/colour/primaries.h"
#include "provenit/colour/spaces.h"
#include "provenit/colour/statistics.h"
#include "provenit/colour/transfer.h"
#include "provenit/evaluation/code_captures.h"
#include "provenit/evaluation/lengths.h"
#include "provenit/signal/codes.h"
#include "provenit/signal/encoded_light.h"
#include "provenit/signal/encoding.h"
#include "traces/figure.h"

namespace provenit::evaluation {
namespace {

constexpr double kPlateauCodes = 0.75;  // within a step of rounding of the last
constexpr const char* kColours[] = {"orange", "mint", "violet"};

/// Light of the encoding's reference display for codes that need not be whole.
class Reference {
 public:
  explicit Reference(const signal::Encoding& e)
      : light_(e), black_(signal::black_code(e).code[0]), span_(signal::peak_code(e).code[0] - black_) {}
  [[nodiscard]] colour::AbsoluteXyz<> xyz(const CodeTriple& code) const {
    const auto e = [&](std::size_t c) { return std::max(0.0, (code[c] - black_) / span_); };
    return light_.xyz({.r = e(0), .g = e(1), .b = e(2)});
  }
  [[nodiscard]] double grey_cdm2(double code) const { return xyz({code, code, code}).Y; }
  /// Relative change of a grey's light per code.
  [[nodiscard]] double relative_per_code(double code) const {
    return std::log(grey_cdm2(code + 0.5) / grey_cdm2(code - 0.5));
  }
  [[nodiscard]] double black() const { return black_; }

 private:
  signal::EncodedLight light_;
  double black_, span_;
};

double grey_of(const CodeTriple& t) {
  return (t[0] + t[1] + t[2]) / 3;
}

/// First step of those that end the row at one code; patches.size() if there are fewer than two.
std::size_t plateau_of(const std::vector<ClipPatch>& white) {
  const auto& last = white.back();
  std::size_t from = white.size();
  while (from > 0 && std::fabs(grey_of(white[from - 1].left) - grey_of(last.left)) <=
                         kPlateauCodes + 2 * std::max(0.0, last.error() - 0.3))
    --from;
  // Steps that the picture itself sends at one code say nothing.
  return white.size() - from >= 2 && white.back().sent[0] - white[from].sent[0] > 2 ? from : white.size();
}

constexpr int kRoundingDraws = 2000;
constexpr std::uint64_t kRoundingSeed = 1;

/// Errors of codes left, drawn: the chain's rounding is spread evenly over a code, the frame's error is normal.
class CodeErrors {
 public:
  double rounding() { return even_(random_); }
  double of(const ClipPatch& p) { return rounding() + of_frame(p); }
  double of_frame(const ClipPatch& p) { return p.of_frame * normal_(random_); }

 private:
  std::mt19937_64 random_{kRoundingSeed};
  std::uniform_real_distribution<double> even_{-0.5, 0.5};
  std::normal_distribution<double> normal_;
};

/// Largest of signed values, by their draws.
Figure largest_figure(const LengthProblem& problem) {
  const auto r = length_interval(problem);
  return {
      .value = r.value,
      .standard_uncertainty = r.standard_uncertainty,
      .interval = r.interval,
      .interval_method = fmt::format("Monte Carlo, true lengths consistent with the reading, {} draws", kRoundingDraws),
      .variance = {{"steps of the code", 1}}};
}

/// Light sent at which what is left falls below 95 %: between two steps, light left lies between straight in the
/// logarithm and what was sent.
std::optional<Figure> start_of(const std::vector<ClipCapture::Step>& steps, double relative_error) {
  std::size_t above = steps.size();
  while (above > 0 && steps[above - 1].left_cdm2 < kClipFallsBelow * steps[above - 1].sent_cdm2) --above;
  if (above == steps.size() || above == 0) return std::nullopt;
  const auto &a = steps[above - 1], &b = steps[above];
  const double va = std::log(a.left_cdm2 / a.sent_cdm2 / kClipFallsBelow);
  const double vb = std::log(b.left_cdm2 / b.sent_cdm2 / kClipFallsBelow);
  const double straight = std::exp(std::log(a.sent_cdm2) + va / (va - vb) * std::log(b.sent_cdm2 / a.sent_cdm2));
  const double latest = std::clamp(b.left_cdm2 / kClipFallsBelow, straight, b.sent_cdm2);
  const double value = (straight + latest) / 2, slope = std::max(0.3, (va - vb) / std::log(b.sent_cdm2 / a.sent_cdm2));
  return figure_of(value,
                   {{"steps of the code", value * relative_error / slope},
                    {"distance of the steps", (latest - straight) / std::sqrt(12.0)}},
                   1e6);
}

double missing_percent(const ClipCapture::Step& step, double clip_cdm2) {
  return 100 * (1 - step.left_cdm2 / std::min(step.sent_cdm2, clip_cdm2));
}

/// Largest shortfall from a hard clip over the steps before `from`, %, in draws, ascending; steps from there on are the
/// clip. The chain leaves whole codes, and a whole one is anywhere within half a code of what was rounded: so true
/// codes are drawn.
std::vector<double> drawn_shortfalls(const std::vector<ClipCapture::Step>& steps, const std::vector<ClipPatch>& white,
                                     std::size_t from, double clip_code, const Reference& reference) {
  CodeErrors errors;
  const auto true_cdm2 = [&](double left, const ClipPatch& p) {
    return reference.grey_cdm2(std::round(left - errors.of_frame(p)) + errors.rounding());
  };
  std::vector<double> draws(kRoundingDraws);
  for (double& largest : draws) {
    const double clip_cdm2 = true_cdm2(clip_code, white.back());
    for (std::size_t i = 0; i < from; ++i)
      largest = std::max(largest,
                         missing_percent({steps[i].sent_cdm2, true_cdm2(grey_of(white[i].left), white[i])}, clip_cdm2));
  }
  std::ranges::sort(draws);
  return draws;
}

/// Drawn shortfalls are hardly ever far below half a code, also where steps are left as they were: unless one stands
/// out, 0 is held and all that may be missed lies above.
Figure softness_figure(double read_percent, const std::vector<double>& draws, bool stands_out) {
  Figure out{.interval = stands_out ? colour::symmetric_interval(draws)
                                    : colour::Interval{.lower = 0, .upper = colour::quantile(draws, colour::kCoverage)},
             .interval_method = fmt::format("Monte Carlo (JCGM 101), codes before rounding, {} draws", kRoundingDraws),
             .variance = {{"steps of the code", 1}}};
  out.value = std::clamp(read_percent, out.interval.lower, out.interval.upper);
  out.standard_uncertainty = colour::standard_deviation(draws);
  return out;
}

void add_clip(ClipCapture& out, const std::vector<ClipPatch>& white, const Reference& reference) {
  const auto from = plateau_of(white);
  const auto relative_per_code = [&](const ClipPatch& p) { return reference.relative_per_code(grey_of(p.left)); };
  const auto relative = [&](const ClipPatch& p) { return p.error() * relative_per_code(p); };
  out.start_cdm2 = start_of(out.white, relative(white.back()));
  if (from == white.size()) return;
  double code = 0;
  for (std::size_t i = from; i < white.size(); ++i) code += grey_of(white[i].left);
  code /= static_cast<double>(white.size() - from);
  const double clip = reference.grey_cdm2(code);
  out.clip_cdm2 = figure_of(clip, {{"steps of the code", clip * relative(white.back())}}, 1e6);
  // All steps that agree are rounded by the same: spread evenly over a code, which 1.96 u would hold always.
  const double reach = clip * relative_per_code(white.back()) * colour::rounded_reach(0.5, white.back().of_frame);
  out.clip_cdm2->interval = {clip - reach, clip + reach};
  out.clip_cdm2->interval_method = "rounding spread evenly, frame's noise normal (JCGM 101)";
  std::size_t worst = 0;
  double most = -1;
  for (std::size_t i = 0; i < white.size(); ++i) {
    const double missing = missing_percent(out.white[i], clip);
    if (missing > most) most = missing, worst = i;
  }
  // The largest of as many errors as there are steps is no softness.
  const double u = 100 * std::numbers::sqrt2 * relative(white[worst]);
  const double chance = colour::normal_factor(1 - (1 - colour::kCoverage) / static_cast<double>(white.size()));
  const bool stands_out = most >= chance * u;
  // A hard clip falls short nowhere: what stands out of the errors is none, wherever its interval begins. That it stays
  // below 1 % is asked of one side only.
  const double at_most = std::max(0.0, most) + colour::normal_factor(2 * colour::kCoverage - 1) * u;
  out.kind = stands_out && most >= kSoftClipFrom_percent ? "rolled"
             : at_most < kSoftClipFrom_percent           ? "hard"
                                                         : "not sure";
  out.softness_percent = softness_figure(most, drawn_shortfalls(out.white, white, from, code, reference), stands_out);
}

/// Hue angle of what is left less that of the light sent at the same luminance, degrees.
double hue_error(const Reference& reference, const CodeTriple& sent, const CodeTriple& left) {
  const auto light = reference.xyz(left), target = reference.xyz(sent);
  const double k = light.Y / target.Y;
  return turn_between(ictcp_hue_degrees(light),
                      ictcp_hue_degrees({.X = k * target.X, .Y = k * target.Y, .Z = k * target.Z}));
}

/// Degrees per code of each channel that is left.
CodeTriple hue_slopes(const Reference& reference, const ClipPatch& p) {
  CodeTriple out{};
  for (std::size_t c = 0; c < 3; ++c) {
    auto more = p.left, less = p.left;
    more[c] += 0.5, less[c] -= 0.5;
    out[c] = hue_error(reference, p.sent, more) - hue_error(reference, p.sent, less);
  }
  return out;
}

void add_hue(ClipCapture& out, const std::string& colour, const std::vector<ClipPatch>& row,
             const Reference& reference) {
  if (row.size() < 3) return;
  const double first = hue_error(reference, row[0].sent, row[0].left);
  LengthProblem p{.points = row.size() - 1, .dimension = 1, .statistic = LengthStatistic::largest};
  std::vector<CodeTriple> slopes;
  const auto deviation = [&](std::size_t i) {
    return row[i].error() * std::hypot(slopes[i][0], slopes[i][1], slopes[i][2]);
  };
  double most = 0;
  for (const auto& patch : row) {
    slopes.push_back(hue_slopes(reference, patch));
    if (slopes.size() == 1) continue;
    const double shift = turn_between(hue_error(reference, patch.sent, patch.left), first);
    if (std::fabs(shift) > std::fabs(most)) most = shift;
    p.measured.push_back(shift);
    p.noise_variance.push_back(std::pow(deviation(slopes.size() - 1), 2));
    p.common.push_back(deviation(0));
  }
  CodeErrors errors;
  const auto drawn = [&](std::size_t i) {
    double sum = 0;
    for (const double slope : slopes[i]) sum += slope * errors.of(row[i]);
    return sum;
  };
  for (int draw = 0; draw < kRoundingDraws; ++draw) {
    const double of_first = drawn(0);
    for (std::size_t i = 1; i < row.size(); ++i) p.errors.push_back(static_cast<float>(drawn(i) - of_first));
  }
  out.hues.push_back({colour, largest_figure(p), most});
}

}  // namespace

Result<ClipCapture> measure_clip(const CapturedFrame& frame, const signal::TestPicture& picture) {
  if (auto same = check_same_raster(frame, picture, "clip_steps"); !same) return tl::unexpected(same.error());
  const Reference reference(picture.request().encoding);
  const ClipRows read(frame, picture, reference.black());
  const auto white = read.row("white");
  const double largest = *std::ranges::max_element(frame.rgb);
  if (white.size() < 3 || !(read.gain() * (white[0].sent[0] - reference.black()) > 0.1 * largest) ||
      grey_of(white.back().left) < grey_of(white.front().left) - 1)
    return fail(ErrorCode::invalid_input, "the steps do not rise from black as the picture's do",
                "Check that the frame is of this picture, pixel for pixel.");
  ClipCapture out;
  for (const auto& p : white)
    out.white.push_back({reference.grey_cdm2(p.sent[0]), reference.grey_cdm2(grey_of(p.left))});
  add_clip(out, white, reference);
  for (const auto* colour : kColours) add_hue(out, colour, read.row(colour), reference);
  return out;
}

}  // namespace provenit::evaluation
