#pragma once
// Simulated captures of scaled edges and waves, ramps and clip steps with what is true of them, for the coverage
// benchmark and the tests. Truths come from the kernels and the chains' own arithmetic, not from what is measured.
#include <algorithm>
#include <cmath>
#include <complex>
#include <map>
#include <numbers>
#include <random>
#include <set>
#include <string>
#include <utility>
#include <vector>

#include "provenit/colour/ictcp.h"
#include "provenit/colour/primaries.h"
#include "provenit/colour/spaces.h"
#include "provenit/colour/transfer.h"
#include "provenit/evaluation/code_captures.h"
#include "provenit/evaluation/scaled_captures.h"
#include "provenit/signal/codes.h"
#include "provenit/simulated/processed.h"
#include "simulated_captures.h"

namespace provenit::bench {

/// A kernel at the places of an enlargement's pixels within the source's (by factor / of: `factor` different places),
/// with `soft` of each pixel given to its neighbours in the source on either side (below 0: sharpened): the response of
/// the chain.
class KernelResponse {
 public:
  KernelResponse(simulated::Kernel kernel, int factor, double soft = 0, int of = 1) : factor_(factor) {
    const double first = std::fmod(0.5 * of / factor + 0.5, 1.0 / factor);
    for (int i = -8 * factor; i < 8 * factor; ++i) {
      place_.push_back(first + static_cast<double>(i) / factor);
      const auto at = [&](int away) {
        const double x = place_.back() - away;
        // Half way between two pixels both are taken.
        const bool tie = kernel == simulated::Kernel::nearest && std::fabs(std::fabs(x) - 0.5) < 1e-9;
        return tie ? 0.5 : simulated::weight(kernel, x);
      };
      weight_.push_back((1 - 2 * soft) * at(0) + soft * (at(-1) + at(1)));
    }
    // What is left of a constant is the same at every place.
    for (std::size_t place = 0, places = static_cast<std::size_t>(factor); place < places; ++place) {
      double sum = 0;
      for (std::size_t i = place; i < weight_.size(); i += places) sum += weight_[i];
      for (std::size_t i = place; i < weight_.size(); i += places) weight_[i] /= sum * factor;
    }
  }
  /// Modulation at f cycles per source pixel.
  [[nodiscard]] double at(double f) const {
    std::complex<double> sum = 0;
    for (std::size_t i = 0; i < place_.size(); ++i)
      sum += weight_[i] * std::polar(1.0, -2 * std::numbers::pi * f * place_[i]);
    return std::abs(sum);
  }
  /// Source pixels from 10 to 90 % of a step shown by square pixels.
  [[nodiscard]] double rise() const {
    std::vector<double> sum{0};
    for (const double w : weight_) sum.push_back(sum.back() + w);
    const auto above =
        static_cast<std::size_t>(std::ranges::find_if(sum, [](double v) { return v >= 0.5; }) - sum.begin());
    std::size_t low = above, high = above;
    while (sum[low - 1] >= 0.1) --low;
    while (sum[high] < 0.9) ++high;
    const auto cross = [&](std::size_t i, double share) {
      return static_cast<double>(i - 1) + (share - sum[i - 1]) / (sum[i] - sum[i - 1]);
    };
    return (cross(high, 0.9) - cross(low, 0.1)) / factor_;
  }
  [[nodiscard]] double mtf50() const {
    double f = 0.1;
    while (at(f) > 0.5) f += 1e-4;
    return f;
  }
  /// %, energy of the images of waves between two frequencies.
  [[nodiscard]] double alias(double from, double to) const {
    double sum = 0;
    constexpr int steps = 400;
    for (int i = 0; i < steps; ++i)
      for (int m = 1; m < factor_; ++m) sum += std::pow(at(from + (i + 0.5) * (to - from) / steps - m), 2);
    return 100 * sum / steps;
  }

 private:
  int factor_;
  std::vector<double> place_, weight_;
};

struct SimulatedScaling {
  evaluation::CapturedFrame frame;
  KernelResponse response;
};
/// A picture's enlargements, each made once.
class Enlargements {
 public:
  explicit Enlargements(const signal::TestPicture& picture) : picture_(picture) {}
  const simulated::Frame& get(simulated::Kernel kernel, int factor) {
    auto& frame = made_[{static_cast<int>(kernel), factor}];
    const auto size = picture_.request().size;
    if (frame.rgb.empty())
      frame = simulated::enlarged(simulated::frame_of(picture_), factor * size.width, factor * size.height, kernel);
    return frame;
  }

 private:
  const signal::TestPicture& picture_;
  std::map<std::pair<int, int>, simulated::Frame> made_;
};
/// `soft` of each pixel given to those so many pixels away on either side, across and down.
inline simulated::Frame softened(const simulated::Frame& in, int away, double soft) {
  simulated::Frame across = in;
  const auto row = static_cast<std::size_t>(3) * static_cast<std::size_t>(in.width);
  const auto pass = [&](const std::vector<double>& from, std::vector<double>& to, std::size_t step, auto&& inside) {
    for (std::size_t i = 0; i < from.size(); ++i)
      if (inside(i)) to[i] = (1 - 2 * soft) * from[i] + soft * (from[i - step] + from[i + step]);
  };
  const std::size_t sideways = static_cast<std::size_t>(3 * away), down = static_cast<std::size_t>(away) * row;
  pass(in.rgb, across.rgb, sideways, [&](std::size_t i) { return i % row >= sideways && i % row < row - sideways; });
  simulated::Frame out = across;
  pass(across.rgb, out.rgb, down, [&](std::size_t i) { return i >= down && i + down < across.rgb.size(); });
  return out;
}
/// The picture enlarged by 2 or 3 with a kernel drawn from four, sharpened or softened by a drawn amount, captured with
/// noise: no two chains are alike, so that what a method cannot know of a chain is drawn too.
inline SimulatedScaling simulated_scaling(Enlargements& enlarged, std::uint64_t seed) {
  std::mt19937_64 random(seed * 23 + 3);
  const auto pick = [&](int n) { return static_cast<int>(random() % static_cast<std::uint64_t>(n)); };
  const auto kernel = static_cast<simulated::Kernel>(pick(4));
  const int factor = 2 + pick(2);
  const double noise = 1 + pick(40) / 10.0, soft = -0.06 + pick(1000) * 1.6e-4;
  return {as_captured(simulated::captured(softened(enlarged.get(kernel, factor), factor, soft), noise, 1023, seed)),
          KernelResponse(kernel, factor, soft)};
}

struct SimulatedRamp {
  evaluation::CapturedFrame frame;
  double kept = 0, bits = 0, largest_step = 0;
};
/// A ramp through 6 to 10 bits and, at times, a gain that leaves out codes; captured with noise.
inline SimulatedRamp simulated_ramp(const signal::TestPicture& picture, std::uint64_t seed) {
  std::mt19937_64 random(seed * 29 + 11);
  const auto pick = [&](int n) { return static_cast<int>(random() % static_cast<std::uint64_t>(n)); };
  const auto& encoding = picture.request().encoding;
  const int bits = std::min(encoding.bits, 7 + pick(4));
  const double gain = pick(3) == 0 ? 0.8 + pick(20) / 100.0 : 1, noise = 0.3 + pick(30) / 10.0;
  auto frame = simulated::frame_of(picture);
  for (double& v : frame.rgb) v *= gain;
  frame = simulated::requantised(std::move(frame), encoding, bits);
  SimulatedRamp out;
  std::set<double> levels;
  double before = frame.rgb[0];
  const auto sent = picture.row(0, 0);
  std::set<int> codes;
  for (std::size_t x = 0; x < sent.size(); x += 3) {
    levels.insert(frame.rgb[x]);
    codes.insert(sent[x]);
    out.largest_step = std::max(out.largest_step, frame.rgb[x] - before);
    before = frame.rgb[x];
  }
  const double mean_gain = (*levels.rbegin() - *levels.begin()) / (*codes.rbegin() - *codes.begin());
  out.largest_step /= mean_gain;
  out.kept = static_cast<double>(levels.size());
  out.bits = encoding.bits + std::log2((out.kept - 1) / (static_cast<double>(codes.size()) - 1));
  out.frame = as_captured(simulated::captured(std::move(frame), noise, (1 << encoding.bits) - 1, seed));
  return out;
}

/// What is true of a chain that clips, before it rounds.
struct SimulatedClip {
  evaluation::CapturedFrame frame;
  simulated::Clip clip;
  double peak_cdm2 = 0, start_cdm2 = 0;  ///< highest light left; light sent of which 95 % is left
  double softness_percent = 0;           ///< of the steps
  std::vector<double> hue_shifts;        ///< degrees, largest of orange, mint and violet against their lowest step
};
/// Clip steps held at 0.7 to 1.5 of the picture's peak, hard or rolled, hue kept or not, bent and rounded by
/// the chain. It bends by less than half a code, by another amount at each code: of what goes through untouched nothing
/// would be rounded. PQ.
inline SimulatedClip simulated_clip(const signal::TestPicture& picture, std::uint64_t seed) {
  std::mt19937_64 random(seed * 37 + 1);
  const auto pick = [&](int n) { return static_cast<int>(random() % static_cast<std::uint64_t>(n)); };
  const auto& encoding = picture.request().encoding;
  SimulatedClip out;
  const bool rolled = pick(2) == 1;
  out.clip = {.peak_cdm2 = (0.8 + pick(60) / 100.0) * encoding.nominal_peak_cdm2,
              .roll_off_start = rolled ? 0.7 + pick(20) / 100.0 : 1,
              .keeps_hue = pick(2) == 1};
  const double noise = pick(30) / 10.0, pace = 0.05 + pick(1000) * 3e-4, start = pick(1000) / 1000.0;
  const auto bent = [&](double code) {
    return code + std::fabs(std::remainder(pace * code + start, 1.0)) * 1.998 - 0.4995;
  };
  auto left = simulated::clipped(simulated::frame_of(picture), encoding, out.clip);
  for (double& code : left.rgb) code = bent(code);

  const double black = signal::black_code(encoding).code[0], span = signal::peak_code(encoding).code[0] - black;
  const auto cdm2 = [&](double code) {
    return colour::pq_eotf(colour::Signal<>{.value = std::clamp((code - black) / span, 0.0, 1.0)}).cdm2;
  };
  const auto bent_light = [&](double light) {
    return cdm2(bent(black + span * colour::pq_inverse_eotf(colour::Luminance<>{.cdm2 = light}).value));
  };
  out.peak_cdm2 = bent_light(out.clip.peak_cdm2);
  out.start_cdm2 = out.clip.peak_cdm2 * out.clip.roll_off_start;
  while (bent_light(simulated::held(out.clip, out.start_cdm2)) >= 0.95 * out.start_cdm2) out.start_cdm2 *= 1 + 1e-5;
  std::map<std::string, std::vector<double>> hues;
  for (const auto& place : picture.places(0)) {
    const auto end = place.name.find(" step ");
    if (end == std::string::npos) continue;
    const auto x = place.area.left + place.area.width / 2, y = place.area.top + place.area.height / 2;
    const double* code = &left.rgb[static_cast<std::size_t>(3 * (y * left.width + x))];
    const auto& sent = place.code.code;
    const auto colour = place.name.substr(0, end);
    if (colour == "white") {
      const double missing = 100 * (1 - cdm2(code[0]) / std::min(cdm2(sent[0]), out.peak_cdm2));
      out.softness_percent = std::max(out.softness_percent, missing);
      continue;
    }
    using Rgb = colour::AbsoluteRgb<>;
    const auto luminance = [](const Rgb& c) {
      constexpr auto to_xyz = colour::rgb_to_xyz_matrix(colour::bt2020_primaries);
      return colour::xyz_from_rgb(c, to_xyz).Y;
    };
    const auto hue = [](const Rgb& c) {
      const auto i = colour::ictcp_from_pq_rgb(c);
      return std::atan2(i.cp, i.ct) * 180 / std::numbers::pi;
    };
    const Rgb held{.r = cdm2(code[0]), .g = cdm2(code[1]), .b = cdm2(code[2])};
    const Rgb meant{.r = cdm2(sent[0]), .g = cdm2(sent[1]), .b = cdm2(sent[2])};
    // Against the colour sent at the luminance that is left, as the method has it.
    const double k = luminance(held) / luminance(meant);
    hues[colour].push_back(hue(held) - hue({.r = k * meant.r, .g = k * meant.g, .b = k * meant.b}));
  }
  for (const char* colour : {"orange", "mint", "violet"}) {
    double most = 0;
    for (const double error : hues[colour])
      most = std::max(most, std::fabs(std::remainder(error - hues[colour][0], 360.0)));
    out.hue_shifts.push_back(most);
  }
  auto frame = simulated::requantised(std::move(left), encoding, encoding.bits);
  out.frame = as_captured(simulated::captured(std::move(frame), noise, (1 << encoding.bits) - 1, seed));
  return out;
}

}  // namespace provenit::bench
