// A 3840 x 2160 frame through a 3D table, on one thread, by this project and by OpenColorIO's CPU path (tetrahedral,
// its best optimisation) in the same run, turn by turn. The least of several runs is the least disturbed one.
// OpenColorIO works on four numbers a pixel inside and is given the frame in both layouts; the faster one counts.
#include <OpenColorIO/OpenColorIO.h>

#include <algorithm>
#include <cmath>
#include <ctime>
#include <vector>

#include "figure.h"
#include "provenit/correct/frame.h"

namespace {

using namespace provenit;
namespace ocio = OCIO_NAMESPACE;

constexpr int kWidth = 3840, kHeight = 2160, kRounds = 7;
constexpr std::size_t kPixels = std::size_t{kWidth} * kHeight;

/// Processor time of this thread: what other programs take does not count.
double thread_seconds() {
  timespec t{};
  clock_gettime(CLOCK_THREAD_CPUTIME_ID, &t);
  return static_cast<double>(t.tv_sec) + 1e-9 * static_cast<double>(t.tv_nsec);
}

template <class Work>
void timed(double& least, const Work& work) {
  const double begun = thread_seconds();
  work();
  least = std::min(least, 1000 * (thread_seconds() - begun));
}

/// Smooth areas with grain, as pictures have: neighbours lie in the same or the next cell of the table.
std::vector<float> picture(int channels) {
  std::vector<float> frame;
  frame.reserve(kPixels * channels);
  unsigned random = 1;
  for (int y = 0; y < kHeight; ++y)
    for (int x = 0; x < kWidth; ++x) {
      random = random * 1664525U + 1013904223U;
      const float grain = static_cast<float>(random >> 24) / 16384.0F;
      const float u = static_cast<float>(x) / kWidth, v = static_cast<float>(y) / kHeight;
      frame.push_back(0.3F + 0.25F * std::sin(9 * u + 4 * v) + grain);
      frame.push_back(0.4F + 0.3F * std::sin(7 * v - 3 * u) + grain);
      frame.push_back(0.5F + 0.35F * std::cos(5 * u * v + 2) + grain);
      if (channels == 4) frame.push_back(1);
    }
  return frame;
}

correct::Lut3d table_of(int size) {
  correct::Lut3d table = correct::identity_3d(size);
  for (auto& node : table.nodes) {
    const auto [r, g, b] = node;
    node = {0.9 * std::pow(r, 1.1) + 0.05 * g, 0.95 * std::pow(g, 0.95) + 0.03 * b, 0.9 * b + 0.06 * r * g};
  }
  return table;
}

ocio::ConstCPUProcessorRcPtr ocio_processor(const correct::Lut3d& table) {
  const ocio::Lut3DTransformRcPtr transform = ocio::Lut3DTransform::Create(table.size);
  transform->setInterpolation(ocio::INTERP_TETRAHEDRAL);
  for (int r = 0; r < table.size; ++r)
    for (int g = 0; g < table.size; ++g)
      for (int b = 0; b < table.size; ++b) {
        const auto& v = table.node(r, g, b);
        transform->setValue(r, g, b, static_cast<float>(v[0]), static_cast<float>(v[1]), static_cast<float>(v[2]));
      }
  return ocio::Config::CreateRaw()->getProcessor(transform)->getDefaultCPUProcessor();
}

std::vector<bench::Figure> measure() {
  std::vector<bench::Figure> figures;
  std::vector<float> three = picture(3), four = picture(4), out(three.size()), out_four(four.size());
  const ocio::PackedImageDesc three_in(three.data(), kWidth, kHeight, 3), four_in(four.data(), kWidth, kHeight, 4);
  ocio::PackedImageDesc three_out(out.data(), kWidth, kHeight, 3), four_out(out_four.data(), kWidth, kHeight, 4);
  for (const int size : {33, 65}) {
    const correct::Lut3d table = table_of(size);
    const auto theirs = ocio_processor(table);
    const correct::Lut lut{.title = "", .input = {}, .output = {}, .stages = {table}};
    double reference = 1e9;
    std::vector<double> ours(correct::FrameLut::levels().size(), 1e9);
    for (int round = 0; round < kRounds; ++round) {
      timed(reference, [&] { theirs->apply(three_in, three_out); });
      timed(reference, [&] { theirs->apply(four_in, four_out); });
      for (std::size_t i = 0; i < ours.size(); ++i) {
        const auto processor = correct::FrameLut::make(lut, correct::FrameLut::levels()[i]);
        timed(ours[i], [&] { static_cast<void>(processor->apply(three, out, 1)); });
      }
    }
    const std::string name = "lut_frame_" + std::to_string(size);
    const double ratio = ours.front() / reference;
    figures.push_back({.name = name + "_over_opencolorio",
                       .value = ratio,
                       .unit = "times its time",
                       .bar = "<= 1",
                       .holds = ratio <= 1});
    figures.push_back(
        {.name = name + "_opencolorio_ms", .value = reference, .unit = "ms per 4K frame", .bar = "-", .holds = true});
    for (std::size_t i = 0; i < ours.size(); ++i)
      figures.push_back({.name = name + "_" + correct::FrameLut::levels()[i] + "_ms",
                         .value = ours[i],
                         .unit = "ms per 4K frame",
                         .bar = "-",
                         .holds = true});
  }
  return figures;
}

}  // namespace

int main(int argc, char** argv) {
  return bench::run(
      argc, argv, {{.names = {"lut_frame_33_over_opencolorio", "lut_frame_65_over_opencolorio"}, .compute = measure}});
}
