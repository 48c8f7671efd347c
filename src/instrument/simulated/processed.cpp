#include "provenit/simulated/processed.h"

#include <algorithm>
#include <array>
#include <cmath>

#include "provenit/colour/transfer.h"
#include "provenit/signal/codes.h"

namespace provenit::simulated {
namespace {

/// Greys of the encoding's reference display with black at 0.
class Greys {
 public:
  explicit Greys(const signal::Encoding& e)
      : encoding_(e), black_(signal::black_code(e).code[0]), span_(signal::peak_code(e).code[0] - black_) {}
  [[nodiscard]] double cdm2(double code) const {
    const colour::Signal<> e{.value = (code - black_) / span_};
    if (encoding_.transfer == signal::Transfer::pq) return colour::pq_eotf(e).cdm2;
    if (encoding_.transfer == signal::Transfer::hlg) return colour::hlg_eotf_grey(e, hlg()).cdm2;
    return colour::bt1886_eotf(e, bt1886()).cdm2;
  }
  [[nodiscard]] double code(double cdm2) const {
    const colour::Luminance<> light{.cdm2 = cdm2};
    const double e = encoding_.transfer == signal::Transfer::pq    ? colour::pq_inverse_eotf(light).value
                     : encoding_.transfer == signal::Transfer::hlg ? colour::hlg_inverse_eotf_grey(light, hlg()).value
                                                                   : colour::bt1886_inverse_eotf(light, bt1886()).value;
    return black_ + span_ * e;
  }

 private:
  [[nodiscard]] colour::HlgDisplay<> hlg() const {
    return colour::hlg_display(colour::Luminance<>{.cdm2 = encoding_.nominal_peak_cdm2},
                               colour::Luminance<>{.cdm2 = 0});
  }
  [[nodiscard]] colour::Bt1886Display<> bt1886() const {
    return {.peak = {.cdm2 = encoding_.nominal_peak_cdm2}, .black = {.cdm2 = 0}};
  }
  signal::Encoding encoding_;
  double black_, span_;
};

}  // namespace

double held(const Clip& clip, double cdm2) {
  const double s = clip.roll_off_start, drive = cdm2 / clip.peak_cdm2;
  if (drive <= s) return cdm2;
  if (drive >= 2 - s) return clip.peak_cdm2;
  return clip.peak_cdm2 * (drive - (drive - s) * (drive - s) / (4 * (1 - s)));
}

Frame clipped(Frame frame, const signal::Encoding& encoding, const Clip& clip) {
  const Greys greys(encoding);
  std::array<double, 3> before{-1, -1, -1}, after{};  // neighbours are mostly alike
  for (std::size_t i = 0; i + 2 < frame.rgb.size(); i += 3) {
    const std::array<double, 3> now{frame.rgb[i], frame.rgb[i + 1], frame.rgb[i + 2]};
    if (now != before) {
      before = after = now;
      std::array<double, 3> light{};
      for (std::size_t c = 0; c < 3; ++c) light[c] = greys.cdm2(now[c]);
      const double largest = *std::ranges::max_element(light);
      const double factor = largest > 0 ? held(clip, largest) / largest : 1;
      for (std::size_t c = 0; c < 3; ++c) {
        const double left = clip.keeps_hue ? light[c] * factor : held(clip, light[c]);
        // What is not held goes through untouched, below black too.
        if (left != light[c]) after[c] = greys.code(left);
      }
    }
    std::ranges::copy(after, frame.rgb.begin() + static_cast<std::ptrdiff_t>(i));
  }
  return frame;
}

Frame requantised(Frame frame, const signal::Encoding& encoding, int bits) {
  const double step = encoding.range == signal::Range::narrow
                          ? std::ldexp(1, encoding.bits - bits)
                          : (std::ldexp(1, encoding.bits) - 1) / (std::ldexp(1, bits) - 1);
  for (double& v : frame.rgb) v = std::round(std::round(v / step) * step);
  return frame;
}

}  // namespace provenit::simulated
