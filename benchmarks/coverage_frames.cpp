// How often the 95 % intervals of findings from captured frames of scaled edges and waves, ramps and clip steps hold
// what is true of the simulated chain.
#include <cstdlib>

#include "figure.h"
#include "simulated_frames.h"
#include "trials.h"

namespace {

using namespace provenit;

using bench::first_seed;
using bench::trials;

struct Held {
  int held = 0, of = 0;
  void add(const evaluation::Figure& f, double truth) {
    ++of;
    held += f.interval.contains(truth);
  }
  [[nodiscard]] bench::Figure figure(const std::string& name, bool two_sided) const {
    const double percent = of > 0 ? 100.0 * held / of : 0;
    return {name, percent, "%", two_sided ? "93 to 97" : ">= 93", percent >= 93 && (!two_sided || percent <= 97)};
  }
};

template <class Trial>
void for_all(Trial trial) {
  for (int i = 0; i < trials(); ++i) trial(first_seed() + static_cast<std::uint64_t>(i));
}

signal::TestPicture picture(const char* key, signal::RasterSize size) {
  return signal::TestPicture::make({.key = key, .encoding = {}, .size = size}).value();
}

std::vector<bench::Figure> edges() {
  const auto shown = picture("scaling_set", {640, 360});
  bench::Enlargements enlarged(shown);
  Held rise, half, full, mtf50;
  for_all([&](std::uint64_t seed) {
    const auto capture = bench::simulated_scaling(enlarged, seed);
    const auto found = evaluation::measure_edges(capture.frame, shown);
    if (!found) return;
    for (const auto& e : *found) {
      rise.add(e.rise_source_px, capture.response.rise());
      half.add(e.half_percent, 100 * capture.response.at(0.25));
      full.add(e.full_percent, 100 * capture.response.at(0.5));
      if (e.mtf50) mtf50.add(*e.mtf50, capture.response.mtf50());
    }
  });
  return {rise.figure("coverage_edge_rise", true), half.figure("coverage_edge_mtf_half", true),
          full.figure("coverage_edge_mtf_full", true), mtf50.figure("coverage_edge_mtf50", true)};
}

std::vector<bench::Figure> alias() {
  const auto shown = picture("zone_plate", {640, 360});
  bench::Enlargements enlarged(shown);
  Held low, high;
  for_all([&](std::uint64_t seed) {
    const auto capture = bench::simulated_scaling(enlarged, seed);
    const auto found = evaluation::measure_alias(capture.frame, shown);
    if (!found) return;
    for (const auto& a : *found) (a.from < 0.2 ? low : high).add(a.percent, capture.response.alias(a.from, a.to));
  });
  return {low.figure("coverage_alias_low", true), high.figure("coverage_alias_high", true)};
}

/// Sizes at which a source pixel is no whole number of frame pixels. Each chain once: their errors are of the chain,
/// not of its noise.
std::vector<bench::Figure> alias_of_fractions() {
  constexpr std::pair<int, int> kSizes[] = {{6, 5}, {5, 4}, {4, 3}, {7, 5}, {3, 2}, {8, 5}, {5, 3},
                                            {7, 4}, {9, 5}, {9, 4}, {7, 3}, {5, 2}, {13, 5}};
  const auto shown = picture("zone_plate", {720, 360});
  const auto plain = simulated::frame_of(shown);
  Held held;
  for (const auto& [factor, of] : kSizes)
    for (int k = 0; k < 4; ++k) {
      const auto kernel = static_cast<simulated::Kernel>(k);
      const bench::KernelResponse truth(kernel, factor, 0, of);
      const auto frame = simulated::enlarged(plain, 720 * factor / of, 360 * factor / of, kernel);
      const auto found =
          evaluation::measure_alias(bench::as_captured(simulated::captured(frame, 1, 1023, first_seed())), shown);
      if (!found) continue;
      for (const auto& a : *found) held.add(a.percent, truth.alias(a.from, a.to));
    }
  return {held.figure("coverage_alias_fractions", true)};
}

std::vector<bench::Figure> ramp() {
  const auto shown = picture("luminance_ramp", {1920, 180});
  Held kept, bits, step;
  for_all([&](std::uint64_t seed) {
    const auto capture = bench::simulated_ramp(shown, seed);
    const auto found = evaluation::measure_ramp(capture.frame, shown);
    if (!found) return;
    kept.add(found->kept, capture.kept);
    bits.add(found->bits, capture.bits);
    step.add(found->largest_step, capture.largest_step);
  });
  return {kept.figure("coverage_ramp_levels", false), bits.figure("coverage_ramp_bits", false),
          step.figure("coverage_ramp_largest_step", false)};
}

std::vector<bench::Figure> clip() {
  const auto shown = picture("clip_steps", {960, 540});
  Held peak, start, softness, hue;
  int told = 0, wrong = 0;
  for_all([&](std::uint64_t seed) {
    const auto capture = bench::simulated_clip(shown, seed);
    const auto found = evaluation::measure_clip(capture.frame, shown);
    if (!found) return;
    if (found->clip_cdm2) peak.add(*found->clip_cdm2, capture.peak_cdm2);
    if (found->start_cdm2) start.add(*found->start_cdm2, capture.start_cdm2);
    const std::string kind = capture.clip.roll_off_start < 1 ? "rolled" : "hard";
    if (found->softness_percent) softness.add(*found->softness_percent, capture.softness_percent);
    told += found->kind == kind;
    wrong += !found->kind.empty() && found->kind != kind && found->kind != "not sure";
    for (std::size_t i = 0; i < found->hues.size(); ++i) hue.add(found->hues[i].shift_degrees, capture.hue_shifts[i]);
  });
  const double told_percent = 100.0 * told / trials(), wrong_percent = 100.0 * wrong / trials();
  return {peak.figure("coverage_clip_luminance", true),
          start.figure("coverage_clip_start", true),
          softness.figure("coverage_captured_clip_softness", true),
          hue.figure("coverage_captured_clip_hue", true),
          {"clip_kind_told_right", told_percent, "%", ">= 90", told_percent >= 90},
          {"clip_kind_told_wrong", wrong_percent, "%", "<= 2", wrong_percent <= 2}};
}

}  // namespace

int main(int argc, char** argv) {
  return bench::run(
      argc, argv,
      {{{"coverage_edge_rise", "coverage_edge_mtf_half", "coverage_edge_mtf_full", "coverage_edge_mtf50"}, edges},
       {{"coverage_alias_low", "coverage_alias_high"}, alias},
       {{"coverage_alias_fractions"}, alias_of_fractions},
       {{"coverage_ramp_levels", "coverage_ramp_bits", "coverage_ramp_largest_step"}, ramp},
       {{"coverage_clip_luminance", "coverage_clip_start", "coverage_captured_clip_softness",
         "coverage_captured_clip_hue", "clip_kind_told_right", "clip_kind_told_wrong"},
        clip}});
}
