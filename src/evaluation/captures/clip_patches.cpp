#include "captures/clip_patches.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace provenit::evaluation {
namespace {

/// Mean of each channel over the middle of the area, with the scatter of a pixel.
struct Mean {
  CodeTriple value{};
  double scatter = 0, pixels = 0;
};
Mean mean_over(const CapturedFrame& frame, signal::PixelRectangle a) {
  const int edge = std::min(a.width, a.height) / 6;
  a = {.left = a.left + edge, .top = a.top + edge, .width = a.width - 2 * edge, .height = a.height - 2 * edge};
  Mean out;
  CodeTriple squares{};
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

}  // namespace

ClipRows::ClipRows(const CapturedFrame& frame, const signal::TestPicture& picture, double black_code)
    : frame_(frame), places_(picture.places(0)), black_code_(black_code) {
  // The picture's corner is black.
  const auto dark = mean_over(frame, {.left = 0, .top = 0, .width = frame.width / 20, .height = frame.height / 20});
  black_ = dark.value;
  if (const auto* lowest = find("white", 1)) {
    const auto light = mean_over(frame, lowest->area);
    double rise = 0;
    for (std::size_t c = 0; c < 3; ++c) rise += (light.value[c] - dark.value[c]) / 3;
    gain_ = rise / (lowest->code.code[0] - black_code);
  }
}

std::vector<ClipPatch> ClipRows::row(const std::string& name) const {
  std::vector<ClipPatch> out;
  for (int k = 1; const auto* place = find(name, k); ++k) {
    const auto mean = mean_over(frame_, place->area);
    ClipPatch p;
    for (std::size_t c = 0; c < 3; ++c) {
      p.sent[c] = place->code.code[c];
      p.left[c] = black_code_ + (mean.value[c] - black_[c]) / gain_;
    }
    // Noise, or the file's rounding where neither noise averages it nor its codes are whole multiples of the
    // picture's.
    const bool exact = gain_ > 0.5 && std::fabs(gain_ - std::round(gain_)) < 1e-3 * gain_;
    const double of_frame = mean.scatter > 0.25 ? mean.scatter / std::sqrt(mean.pixels)
                            : exact             ? 0
                                                : 1 / std::sqrt(12.0);
    p.of_frame = of_frame / gain_;
    out.push_back(p);
  }
  return out;
}

const signal::PicturePlace* ClipRows::find(const std::string& name, int step) const {
  const auto begin = fmt::format("{} step {},", name, step);
  const auto found =
      std::ranges::find_if(places_, [&](const signal::PicturePlace& p) { return p.name.starts_with(begin); });
  return found == places_.end() ? nullptr : &*found;
}

}  // namespace provenit::evaluation
