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

#include "provenit/colour/transfer.h"
#include "provenit/evaluation/code_captures.h"
#include "provenit/evaluation/scaled_captures.h"
#include "provenit/signal/codes.h"
#include "provenit/simulated/processed.h"
#include "simulated_captures.h"

namespace provenit::bench {

/// A kernel at the places of a whole enlargement's pixels within the source's: the response of the chain.
class KernelResponse {
 public:
  KernelResponse(simulated::Kernel kernel, int factor) : factor_(factor) {
    double sum = 0;
    for (int i = -8 * factor; i < 8 * factor; ++i) {
      place_.push_back((i + 0.5) / factor - 0.5);
      sum += weight_.emplace_back(simulated::weight(kernel, place_.back()));
    }
    for (double& w : weight_) w /= sum;
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
/// The picture enlarged by 2 or 3 with a kernel drawn from four, captured with noise.
inline SimulatedScaling simulated_scaling(Enlargements& enlarged, std::uint64_t seed) {
  std::mt19937_64 random(seed * 23 + 3);
  const auto pick = [&](int n) { return static_cast<int>(random() % static_cast<std::uint64_t>(n)); };
  const auto kernel = static_cast<simulated::Kernel>(pick(4));
  const int factor = 2 + pick(2);
  const double noise = 1 + pick(40) / 10.0;
  return {as_captured(simulated::captured(enlarged.get(kernel, factor), noise, 1023, seed)),
          KernelResponse(kernel, factor)};
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

struct SimulatedClip {
  evaluation::CapturedFrame frame;
  simulated::Clip clip;
  double start_cdm2 = 0;  ///< light whose held light is 95 % of it
};
/// Clip steps held at 0.7 to 1.5 of the picture's peak, hard or rolled, hue kept or not, rounded by the chain.
inline SimulatedClip simulated_clip(const signal::TestPicture& picture, std::uint64_t seed) {
  std::mt19937_64 random(seed * 37 + 1);
  const auto pick = [&](int n) { return static_cast<int>(random() % static_cast<std::uint64_t>(n)); };
  const auto& encoding = picture.request().encoding;
  SimulatedClip out;
  const bool rolled = pick(2) == 1;
  out.clip = {.peak_cdm2 = (0.8 + pick(60) / 100.0) * encoding.nominal_peak_cdm2,
              .roll_off_start = rolled ? 0.7 + pick(20) / 100.0 : 1,
              .keeps_hue = pick(2) == 1};
  out.start_cdm2 = out.clip.peak_cdm2 * out.clip.roll_off_start;
  while (simulated::held(out.clip, out.start_cdm2) >= 0.95 * out.start_cdm2) out.start_cdm2 *= 1 + 1e-5;
  const double noise = pick(30) / 10.0;
  auto frame = simulated::requantised(simulated::clipped(simulated::frame_of(picture), encoding, out.clip), encoding,
                                      encoding.bits);
  out.frame = as_captured(simulated::captured(std::move(frame), noise, (1 << encoding.bits) - 1, seed));
  return out;
}

}  // namespace provenit::bench
