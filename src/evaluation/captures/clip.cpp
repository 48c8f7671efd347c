// Steps around the peak in a captured frame: where they clip, how, and what becomes of hue.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numbers>

#include "captures/places.h"
#include "clip_internal.h"
#include "colour_target_internal.h"
#include "provenit/colour/primaries.h"
#include "provenit/colour/spaces.h"
#include "provenit/colour/statistics.h"
#include "provenit/colour/transfer.h"
#include "provenit/evaluation/code_captures.h"
#include "provenit/signal/codes.h"
#include "provenit/signal/encoded_light.h"
#include "provenit/signal/encoding.h"
#include "traces/figure.h"

namespace provenit::evaluation {
namespace {

using Triple = std::array<double, 3>;

constexpr double kPlateauCodes = 0.75;  // within a step of rounding of the last
constexpr const char* kColours[] = {"orange", "mint", "violet"};

/// A patch: codes sent, mean codes left on the picture's scale, and what the frame adds to their standard uncertainty.
struct Patch {
  Triple sent{}, left{};
  double of_frame = 0;
  /// Standard uncertainty of a code left: the chain's own rounding to whole codes, and the frame.
  [[nodiscard]] double error() const { return std::hypot(1 / std::sqrt(12.0), of_frame); }
};

/// Light of the encoding's reference display for codes that need not be whole.
class Reference {
 public:
  explicit Reference(const signal::Encoding& e)
      : light_(e), black_(signal::black_code(e).code[0]), span_(signal::peak_code(e).code[0] - black_) {}
  [[nodiscard]] colour::AbsoluteXyz<> xyz(const Triple& code) const {
    const auto e = [&](std::size_t c) { return std::max(0.0, (code[c] - black_) / span_); };
    return light_.xyz({.r = e(0), .g = e(1), .b = e(2)});
  }
  [[nodiscard]] double grey_cdm2(double code) const { return xyz({code, code, code}).Y; }
  [[nodiscard]] double black() const { return black_; }

 private:
  signal::EncodedLight light_;
  double black_, span_;
};

/// Mean of each channel over the middle of the area, with the scatter of a pixel.
struct Mean {
  Triple value{};
  double scatter = 0, pixels = 0;
};
Mean mean_over(const CapturedFrame& frame, signal::PixelRectangle a) {
  const int edge = std::min(a.width, a.height) / 6;
  a = {.left = a.left + edge, .top = a.top + edge, .width = a.width - 2 * edge, .height = a.height - 2 * edge};
  Mean out;
  Triple squares{};
  for (int y = a.top; y < a.top + a.height; ++y)
    for (int x = a.left; x < a.left + a.width; ++x, ++out.pixels)
      for (std::size_t c = 0; c < 3; ++c) {
        const double v = frame.at(x, y)[c];
        out.value[c] += v;
        squares[c] += v * v;
      }
  for (std::size_t c = 0; c < 3; ++c) {
    out.value[c] /= out.pixels;
    out.scatter += std::max(0.0, squares[c] / out.pixels - out.value[c] * out.value[c]) / 3;
  }
  out.scatter = std::sqrt(out.scatter);
  return out;
}

/// Frame codes to codes of the picture.
struct Scale {
  Triple black{};
  double gain = 1;
};

class Frame {
 public:
  Frame(const CapturedFrame& frame, const signal::TestPicture& picture, double black_code)
      : frame_(frame), places_(picture.places(0)), black_code_(black_code) {
    // The picture's corner is black.
    const auto dark = mean_over(frame, {.left = 0, .top = 0, .width = frame.width / 20, .height = frame.height / 20});
    scale_.black = dark.value;
    if (const auto* lowest = find("white", 1)) {
      const auto light = mean_over(frame, lowest->area);
      double rise = 0;
      for (std::size_t c = 0; c < 3; ++c) rise += (light.value[c] - dark.value[c]) / 3;
      scale_.gain = rise / (lowest->code.code[0] - black_code);
    }
  }
  [[nodiscard]] double gain() const { return scale_.gain; }
  [[nodiscard]] std::vector<Patch> row(const std::string& name) const {
    std::vector<Patch> out;
    for (int k = 1; const auto* place = find(name, k); ++k) {
      const auto mean = mean_over(frame_, place->area);
      Patch p;
      for (std::size_t c = 0; c < 3; ++c) {
        p.sent[c] = place->code.code[c];
        p.left[c] = black_code_ + (mean.value[c] - scale_.black[c]) / scale_.gain;
      }
      // Noise, or the file's rounding where neither noise averages it nor its codes are whole multiples of the
      // picture's.
      const bool exact = scale_.gain > 0.5 && std::fabs(scale_.gain - std::round(scale_.gain)) < 1e-3 * scale_.gain;
      const double of_frame = mean.scatter > 0.25 ? mean.scatter / std::sqrt(mean.pixels)
                              : exact             ? 0
                                                  : 1 / std::sqrt(12.0);
      p.of_frame = of_frame / scale_.gain;
      out.push_back(p);
    }
    return out;
  }

 private:
  [[nodiscard]] const signal::PicturePlace* find(const std::string& name, int step) const {
    const auto begin = fmt::format("{} step {},", name, step);
    const auto found =
        std::ranges::find_if(places_, [&](const signal::PicturePlace& p) { return p.name.starts_with(begin); });
    return found == places_.end() ? nullptr : &*found;
  }
  const CapturedFrame& frame_;
  std::vector<signal::PicturePlace> places_;
  double black_code_;
  Scale scale_;
};

double grey_of(const Triple& t) {
  return (t[0] + t[1] + t[2]) / 3;
}

/// First step of those that end the row at one code; patches.size() if there are fewer than two.
std::size_t plateau_of(const std::vector<Patch>& white) {
  const auto& last = white.back();
  std::size_t from = white.size();
  while (from > 0 && std::fabs(grey_of(white[from - 1].left) - grey_of(last.left)) <=
                         kPlateauCodes + 2 * std::max(0.0, last.error() - 0.3))
    --from;
  // Steps that the picture itself sends at one code say nothing.
  return white.size() - from >= 2 && white.back().sent[0] - white[from].sent[0] > 2 ? from : white.size();
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

void add_clip(ClipCapture& out, const std::vector<Patch>& white, const Reference& reference) {
  const auto from = plateau_of(white);
  const auto relative_per_code = [&](const Patch& p) {
    const double code = grey_of(p.left), d = 0.5;
    return std::log(reference.grey_cdm2(code + d) / reference.grey_cdm2(code - d)) / (2 * d);
  };
  const auto relative = [&](const Patch& p) { return p.error() * relative_per_code(p); };
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
    const double hard = std::min(out.white[i].sent_cdm2, clip), missing = 100 * (1 - out.white[i].left_cdm2 / hard);
    if (missing > most) most = missing, worst = i;
  }
  auto f =
      figure_of(std::max(0.0, most), {{"steps of the code", 100 * std::numbers::sqrt2 * relative(white[worst])}}, 1e6);
  // The largest of as many errors as there are steps is no softness.
  const double chance = colour::normal_factor(1 - (1 - colour::kCoverage) / static_cast<double>(white.size()));
  const bool stands_out = f.value >= chance * f.standard_uncertainty;
  if (!stands_out) f.interval.lower = 0;
  f.interval.lower = std::max(0.0, f.interval.lower);
  // A hard clip falls short nowhere: what stands out of the errors is none, wherever its interval begins. That it stays
  // below 1 % is asked of one side only.
  const double at_most = f.value + colour::normal_factor(2 * colour::kCoverage - 1) * f.standard_uncertainty;
  out.kind = stands_out && f.value >= kSoftClipFrom_percent ? "rolled"
             : at_most < kSoftClipFrom_percent              ? "hard"
                                                            : "not sure";
  out.softness_percent = std::move(f);
}

/// Hue angle of what is left less that of the light sent at the same luminance, degrees.
double hue_error(const Reference& reference, const Triple& sent, const Triple& left) {
  const auto light = reference.xyz(left), target = reference.xyz(sent);
  const double k = light.Y / target.Y;
  return turn_between(ictcp_hue_degrees(light),
                      ictcp_hue_degrees({.X = k * target.X, .Y = k * target.Y, .Z = k * target.Z}));
}

double hue_uncertainty(const Reference& reference, const Patch& p) {
  double square = 0;
  for (std::size_t c = 0; c < 3; ++c) {
    auto more = p.left, less = p.left;
    more[c] += 0.5, less[c] -= 0.5;
    square += std::pow(p.error() * (hue_error(reference, p.sent, more) - hue_error(reference, p.sent, less)), 2);
  }
  return std::sqrt(square);
}

void add_hue(ClipCapture& out, const std::string& colour, const std::vector<Patch>& row, const Reference& reference) {
  if (row.size() < 3) return;
  const double first = hue_error(reference, row[0].sent, row[0].left), first_error = hue_uncertainty(reference, row[0]);
  double most = 0, error = 0;
  for (std::size_t i = 1; i < row.size(); ++i) {
    const double shift = turn_between(hue_error(reference, row[i].sent, row[i].left), first);
    if (std::fabs(shift) < std::fabs(most) && i > 1) continue;
    most = shift;
    error = std::hypot(first_error, hue_uncertainty(reference, row[i]));
  }
  auto f = figure_of(std::fabs(most), {{"steps of the code", error}}, 1e6);
  const double chance = colour::normal_factor(1 - (1 - colour::kCoverage) / static_cast<double>(row.size() - 1));
  if (f.value < chance * error) f.interval.lower = 0;
  f.interval.lower = std::max(0.0, f.interval.lower);
  out.hues.push_back({colour, std::move(f), most});
}

}  // namespace

Result<ClipCapture> measure_clip(const CapturedFrame& frame, const signal::TestPicture& picture) {
  if (auto same = check_same_raster(frame, picture, "clip_steps"); !same) return tl::unexpected(same.error());
  const Reference reference(picture.request().encoding);
  const Frame read(frame, picture, reference.black());
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
