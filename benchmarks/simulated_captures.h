#pragma once
// Simulated captures with what is true of them, for the coverage benchmark and the tests.
#include <random>
#include <string>

#include "provenit/evaluation/captures.h"
#include "provenit/simulated/capture.h"

namespace provenit::bench {

inline evaluation::CapturedFrame as_captured(const simulated::Frame& frame) {
  return {.width = frame.width, .height = frame.height, .rgb = {frame.rgb.begin(), frame.rgb.end()}};
}

struct SimulatedChroma {
  evaluation::CapturedFrame frame;
  std::string kept;
  double across_1px = 100, down_1px = 100, across_4px = 100;  ///< %, of the chain free of noise
};

/// chroma_lines on a small raster through a chain of known filters. Lines of one pixel are a wave of half a cycle per
/// pixel: every filter of the two-sample kind takes all of it. Lines of four pixels begin with a sample of chroma:
/// repeated samples keep them whole; 1 2 1 and linear interpolation leave, at the four pixels of a line, 7/8, 1, 1 and
/// 3/4 -> computed below from the impulse response.
inline SimulatedChroma simulated_chroma(const signal::TestPicture& picture, std::uint64_t seed) {
  std::mt19937_64 random(seed * 31 + 7);
  const auto pick = [&](int n) { return static_cast<int>(random() % static_cast<std::uint64_t>(n)); };
  const bool across = pick(2) == 1, down = across && pick(2) == 1;
  const auto filter = static_cast<simulated::ChromaFilter>(pick(3));
  const double noise = 0.5 + pick(40) / 10.0;
  SimulatedChroma out;
  out.kept = across ? (down ? "4:2:0" : "4:2:2") : "4:4:4";
  if (across) out.across_1px = 0;
  if (down) out.down_1px = 0;
  if (across && filter == simulated::ChromaFilter::linear) {
    // A square wave of period 8 through 1 2 1 at even samples, linear between: mean over one half less over the other.
    const auto wave = [](int i) { return ((i % 8) + 8) % 8 < 4 ? 1.0 : 0.0; };
    const auto even = [&](int i) { return (wave(i - 1) + 2 * wave(i) + wave(i + 1)) / 4; };
    double difference = 0;
    for (int i = 0; i < 8; ++i)
      difference += (wave(i) > 0 ? 25.0 : -25.0) * (i % 2 == 0 ? even(i) : (even(i - 1) + even(i + 1)) / 2);
    out.across_4px = difference;
  }
  auto frame = simulated::frame_of(picture);
  if (across) frame = simulated::with_chroma_halved(frame, picture.request().encoding, across, down, filter);
  out.frame = as_captured(simulated::captured(std::move(frame), noise, 1023, seed));
  return out;
}

struct SimulatedEdges {
  evaluation::CapturedFrame frame;
  double percent = 0;  ///< along both axes, of the chain free of noise
};

/// scaling_set enlarged by a known kernel. The truth is the kernel's own step response at the output pixels' places.
inline SimulatedEdges simulated_edges(const signal::TestPicture& picture, std::uint64_t seed) {
  std::mt19937_64 random(seed * 17 + 5);
  const auto pick = [&](int n) { return static_cast<int>(random() % static_cast<std::uint64_t>(n)); };
  const auto kernel = static_cast<simulated::Kernel>(1 + pick(3));
  const int factor = 2 + pick(2);
  const auto size = picture.request().size;
  SimulatedEdges out;
  for (int k = 0; k < factor; ++k)
    for (int i = -4; i <= 4; ++i) {
      const double at = i + (k + 0.5) / factor - 0.5;  // from the last pixel before the edge, in source pixels
      double step = 0, sum = 0;
      for (int j = -8; j <= 8; ++j) {
        const double w = simulated::weight(kernel, at - j);
        sum += w;
        if (j > 0) step += w;
      }
      out.percent = std::max({out.percent, 100 * (step / sum - 1), -100 * step / sum});
    }
  const double noise = 0.3 + pick(20) / 10.0;
  out.frame = as_captured(simulated::captured(
      simulated::enlarged(simulated::frame_of(picture), factor * size.width, factor * size.height, kernel), noise, 1023,
      seed));
  return out;
}

}  // namespace provenit::bench
