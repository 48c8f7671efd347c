// The frame meter by itself, on one thread: processor milliseconds per 3840 x 2160 10-bit 4:2:0 PQ frame for each
// instruction set, on decoded frames of a clip (a moving view over an HDR photograph, with grain) and on noise, where
// nothing repeats. Beside it a plain read of the same frames. The least of several runs is the least disturbed one.
#include <algorithm>
#include <ctime>
#include <filesystem>
#include <memory>
#include <random>

#include "../tests/support/hdr_clip.h"
#include "figure.h"
#include "provenit/programme/frame_meter.h"
#include "provenit/programme/reader.h"

namespace {

using namespace provenit;
namespace fs = std::filesystem;

constexpr int kFrames = 6, kRounds = 6;
constexpr double kFrameBytes = 3840.0 * 2160 * 3;

/// Processor time of this thread: what other programs take does not count.
double thread_seconds() {
  timespec t{};
  clock_gettime(CLOCK_THREAD_CPUTIME_ID, &t);
  return static_cast<double>(t.tv_sec) + 1e-9 * static_cast<double>(t.tv_nsec);
}

std::vector<programme::Picture> decoded_frames() {
  const std::string photograph = PROVENIT_SOURCE_DIR "/tests/programme/media/venice_sunset_1k.hdr";
  const std::string clip = (fs::temp_directory_path() / "provenit_survey_kernel.mp4").string();
  std::vector<programme::Picture> frames;
  if (!fs::exists(clip) &&
      !support::make_hdr_clip(photograph, clip, {.width = 3840, .height = 2160, .frames = kFrames}))
    return frames;
  auto reader = programme::open_reader(clip);
  if (!reader) {
    fmt::print(stderr, "{}\n", reader.error().text());
    return frames;
  }
  while (static_cast<int>(frames.size()) < kFrames) {
    auto picture = (*reader)->next();
    if (!picture || !*picture) break;
    frames.push_back(**picture);
  }
  return frames;
}

programme::Picture noise_frame() {
  programme::Picture p;
  p.format = {.width = 3840, .height = 2160};
  auto samples = std::make_shared<std::vector<std::uint16_t>>(static_cast<std::size_t>(kFrameBytes / 2));
  std::mt19937 random(1);
  for (auto& s : *samples) s = static_cast<std::uint16_t>(64 + random() % 877);
  const auto* first = reinterpret_cast<const std::byte*>(samples->data());
  constexpr std::ptrdiff_t kLuma = 3840 * 2160 * 2, kChroma = kLuma / 4;
  p.planes[0] = {.data = first, .stride = 7680, .width = 3840, .height = 2160};
  p.planes[1] = {.data = first + kLuma, .stride = 3840, .width = 1920, .height = 1080};
  p.planes[2] = {.data = first + kLuma + kChroma, .stride = 3840, .width = 1920, .height = 1080};
  p.owner = samples;
  return p;
}

template <class Work>
double least_milliseconds(const std::vector<programme::Picture>& frames, const Work& work) {
  double least = 1e9;
  for (int round = 0; round < kRounds; ++round)
    for (const auto& frame : frames) {
      const double begun = thread_seconds();
      work(frame);
      least = std::min(least, 1000 * (thread_seconds() - begun));
    }
  return least;
}

/// Reads every byte once.
void read_frame(const programme::Picture& frame) {
  std::uint64_t sum = 0;
  for (const auto& plane : frame.planes)
    for (int y = 0; y < plane.height; ++y) {
      const std::byte* row = plane.data + y * plane.stride;
      for (std::ptrdiff_t i = 0; i + 8 <= 2 * std::ptrdiff_t{plane.width}; i += 8) {
        std::uint64_t word = 0;
        std::copy_n(row + i, 8, reinterpret_cast<std::byte*>(&word));
        sum += word;
      }
    }
  [[maybe_unused]] const volatile std::uint64_t sink = sum;
}

std::vector<bench::Figure> measure() {
  const auto frames = decoded_frames();
  if (frames.empty()) return {{.name = "survey_kernel_ms", .unit = "ms", .bar = "a clip to decode", .holds = false}};
  const std::vector<programme::Picture> noise{noise_frame()};
  std::vector<bench::Figure> figures;
  const auto told = [&](const std::string& name, double value, const std::string& unit) {
    figures.push_back({.name = name, .value = value, .unit = unit, .bar = "-", .holds = true});
  };
  double best = 0;
  for (const auto& level : programme::simd_levels()) {
    if (level == "scalar") continue;
    auto meter = programme::FrameMeter::make(frames.front().format, level);
    auto noise_meter = programme::FrameMeter::make(noise.front().format, level);
    if (!meter || !noise_meter) continue;
    const double ms = least_milliseconds(frames, [&](const auto& f) { static_cast<void>(meter->measure(f)); });
    const double of_noise =
        least_milliseconds(noise, [&](const auto& f) { static_cast<void>(noise_meter->measure(f)); });
    if (figures.empty()) {
      best = ms;
      figures.push_back(
          {.name = "survey_kernel_ms", .value = ms, .unit = "ms per 4K frame", .bar = "<= 8", .holds = ms <= 8});
    }
    told("survey_kernel_" + level + "_ms", ms, "ms per 4K frame");
    told("survey_kernel_" + level + "_noise_ms", of_noise, "ms per 4K frame");
    told("survey_kernel_" + level + "_rate", 1e-6 * kFrameBytes / ms, "GB/s");
  }
  const double read = least_milliseconds(frames, read_frame);
  told("survey_kernel_read_rate", 1e-6 * kFrameBytes / read, "GB/s");
  told("survey_kernel_over_read", best / read, "times a plain read");
  return figures;
}

}  // namespace

int main(int argc, char** argv) {
  return bench::run(argc, argv, {{.names = {"survey_kernel_ms"}, .compute = measure}});
}
