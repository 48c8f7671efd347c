#include "provenit/simulated/capture.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>
#include <random>

#include "provenit/colour/primaries.h"
#include "provenit/signal/encoding.h"

namespace provenit::simulated {
namespace {

/// One line of samples at half resolution and back.
void halve(std::vector<double>& line, ChromaFilter filter) {
  const auto n = static_cast<int>(line.size());
  const auto at = [&](int i) { return line[static_cast<std::size_t>(std::clamp(i, 0, n - 1))]; };
  std::vector<double> few;
  for (int i = 0; i < n; i += 2)
    few.push_back(filter == ChromaFilter::drop  ? at(i)
                  : filter == ChromaFilter::box ? (at(i) + at(i + 1)) / 2
                                                : (at(i - 1) + 2 * at(i) + at(i + 1)) / 4);
  for (int i = 0; i < n; ++i) {
    const auto k = static_cast<std::size_t>(i / 2), next = std::min(k + 1, few.size() - 1);
    line[static_cast<std::size_t>(i)] =
        filter == ChromaFilter::linear && i % 2 == 1 ? (few[k] + few[next]) / 2 : few[k];
  }
}

}  // namespace

Frame frame_of(const signal::TestPicture& picture, int frame) {
  const auto size = picture.request().size;
  Frame out{.width = size.width, .height = size.height};
  for (int y = 0; y < size.height; ++y) {
    const auto row = picture.row(frame, y);
    out.rgb.insert(out.rgb.end(), row.begin(), row.end());
  }
  return out;
}

Frame with_chroma_halved(Frame frame, const signal::Encoding& encoding, bool across, bool down, ChromaFilter filter) {
  const auto m = colour::rgb_to_xyz_matrix(signal::primaries_of(encoding.container));
  const std::array<double, 3> weights{m(1, 0), m(1, 1), m(1, 2)};
  const auto pixels = frame.rgb.size() / 3;
  std::vector<double> luma(pixels);
  std::array<std::vector<double>, 2> chroma{std::vector<double>(pixels), std::vector<double>(pixels)};
  for (std::size_t i = 0; i < pixels; ++i) {
    const double* p = &frame.rgb[3 * i];
    luma[i] = weights[0] * p[0] + weights[1] * p[1] + weights[2] * p[2];
    chroma[0][i] = p[2] - luma[i];
    chroma[1][i] = p[0] - luma[i];
  }
  const auto w = static_cast<std::size_t>(frame.width), h = static_cast<std::size_t>(frame.height);
  for (auto& plane : chroma) {
    std::vector<double> line;
    for (std::size_t y = 0; across && y < h; ++y) {
      line.assign(plane.begin() + static_cast<std::ptrdiff_t>(y * w),
                  plane.begin() + static_cast<std::ptrdiff_t>((y + 1) * w));
      halve(line, filter);
      std::ranges::copy(line, plane.begin() + static_cast<std::ptrdiff_t>(y * w));
    }
    for (std::size_t x = 0; down && x < w; ++x) {
      line.resize(h);
      for (std::size_t y = 0; y < h; ++y) line[y] = plane[y * w + x];
      halve(line, filter);
      for (std::size_t y = 0; y < h; ++y) plane[y * w + x] = line[y];
    }
  }
  for (std::size_t i = 0; i < pixels; ++i) {
    const double b = chroma[0][i] + luma[i], r = chroma[1][i] + luma[i];
    frame.rgb[3 * i] = r;
    frame.rgb[3 * i + 1] = (luma[i] - weights[0] * r - weights[2] * b) / weights[1];
    frame.rgb[3 * i + 2] = b;
  }
  return frame;
}

double weight(Kernel kernel, double distance) {
  const double x = std::fabs(distance);
  switch (kernel) {
    case Kernel::nearest:
      return x <= 0.5 ? 1 : 0;
    case Kernel::bilinear:
      return std::max(0.0, 1 - x);
    case Kernel::bicubic:
      if (x < 1) return (1.5 * x - 2.5) * x * x + 1;
      return x < 2 ? ((-0.5 * x + 2.5) * x - 4) * x + 2 : 0;
    case Kernel::lanczos3:
      break;
  }
  if (x < 1e-9) return 1;
  const double p = std::numbers::pi * x;
  return x < 3 ? 3 * std::sin(p) * std::sin(p / 3) / (p * p) : 0;
}

Frame enlarged(const Frame& frame, int width, int height, Kernel kernel) {
  constexpr int reach = 3;
  const auto scale_lines = [&](const std::vector<double>& in, int from, int to, int lines, bool across) {
    const int in_width = across ? from : lines, out_width = across ? to : lines;
    std::vector<double> out(3 * static_cast<std::size_t>(to) * static_cast<std::size_t>(lines));
    for (int i = 0; i < to; ++i) {
      const double at = (i + 0.5) * from / to - 0.5;
      std::array<double, 2 * reach + 2> w{};
      const int first = static_cast<int>(std::floor(at)) - reach;
      double sum = 0;
      for (int k = 0; k < static_cast<int>(w.size()); ++k) sum += w[k] = weight(kernel, at - (first + k));
      for (int line = 0; line < lines; ++line)
        for (int c = 0; c < 3; ++c) {
          double value = 0;
          for (int k = 0; k < static_cast<int>(w.size()); ++k) {
            if (w[k] == 0) continue;
            const int source = std::clamp(first + k, 0, from - 1);
            const int x = across ? source : line, y = across ? line : source;
            value += w[k] / sum * in[3 * (static_cast<std::size_t>(y) * in_width + x) + c];
          }
          const int x = across ? i : line, y = across ? line : i;
          out[3 * (static_cast<std::size_t>(y) * out_width + x) + c] = value;
        }
    }
    return out;
  };
  Frame out{.width = width, .height = height};
  out.rgb =
      scale_lines(scale_lines(frame.rgb, frame.width, width, frame.height, true), frame.height, height, width, false);
  return out;
}

Frame captured(Frame frame, double noise, int highest, std::uint64_t seed) {
  std::mt19937_64 random(seed);
  std::normal_distribution<double> normal;
  for (double& v : frame.rgb) v = std::clamp<double>(std::round(v + noise * normal(random)), 0, highest);
  return frame;
}

}  // namespace provenit::simulated
