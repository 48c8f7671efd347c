#include "kernel/level.h"

namespace provenit::programme::kernel {
namespace {

std::size_t hash_of(const Samples& s) {
  std::uint64_t h = 0;
  for (const std::int32_t v : s.value) h = (h ^ static_cast<std::uint32_t>(v)) * 0x9e3779b97f4a7c15ULL;
  return h >> 54;
}

}  // namespace

void ExactCache::clear() {
  for (Entry& e : entries_) e.used = false;
}

ExactCache::Light ExactCache::at(const Plan& plan, const Picture& picture, int x, int y) {
  const Samples samples = samples_at(picture, x, y);
  Entry& e = entries_[hash_of(samples)];
  if (!e.used || e.samples != samples) {
    const auto rgb = plan.decoder.light(samples);
    e = {.used = true, .samples = samples, .light = {.max_rgb = max_rgb(rgb), .luminance = plan.decoder.xyz(rgb).Y}};
  }
  return e.light;
}

float* AlignedFloats::reserve(std::size_t count) {
  if (floats_.size() < count + kFloatsPerLine) floats_.resize(count + kFloatsPerLine);
  const auto address = reinterpret_cast<std::uintptr_t>(floats_.data()) / sizeof(float);
  return floats_.data() + (kFloatsPerLine - address % kFloatsPerLine) % kFloatsPerLine;
}

void Tally::clear() {
  histogram.clear();
  above.fill(0);
  below.fill(0);
  outside_bt709 = outside_p3 = 0;
}

Scratch& thread_scratch() {
  thread_local Scratch scratch;
  return scratch;
}

}  // namespace provenit::programme::kernel
