// A 3D table that maps PQ of BT.2020 into a P3 display of 600 cd/m2 (soft shoulder, hue kept), made and written as CLF:
// wall seconds on two threads. The least of several runs is the least disturbed one.
#include <tbb/global_control.h>

#include <algorithm>
#include <chrono>
#include <filesystem>

#include "figure.h"
#include "provenit/correct/gamut_map.h"
#include "provenit/correct/lut_files.h"

namespace {

using namespace provenit;

double seconds_of(int size) {
  const tbb::global_control two(tbb::global_control::max_allowed_parallelism, 2);
  const correct::Target target{.primaries = colour::p3_d65_primaries, .peak = {.cdm2 = 600}, .black = {.cdm2 = 0.002}};
  const correct::Values pq{.encoding = {.bits = 12, .range = signal::Range::full}};
  const std::string path = (std::filesystem::temp_directory_path() / "provenit_correct_lut.clf").string();
  double least = 1e9;
  for (int round = 0; round < 3; ++round) {
    const auto begun = std::chrono::steady_clock::now();
    const auto map = correct::GamutMap::make(target, {});
    if (!map) return 1e9;
    const auto lut = correct::gamut_lut(*map, size, pq, pq);
    if (!lut || !correct::write_lut(*lut, path, {})) return 1e9;
    least = std::min(least, std::chrono::duration<double>(std::chrono::steady_clock::now() - begun).count());
  }
  std::filesystem::remove(path);
  return least;
}

bench::Figure figure(const std::string& name, int size, double bar) {
  const double s = seconds_of(size);
  return {.name = name, .value = s, .unit = "s", .bar = fmt::format("<= {}", bar), .holds = s <= bar};
}

}  // namespace

int main(int argc, char** argv) {
  return bench::run(
      argc, argv,
      {{.names = {"lut_gamut_33_s"}, .compute = [] { return std::vector{figure("lut_gamut_33_s", 33, 1)}; }},
       {.names = {"lut_gamut_65_s"}, .compute = [] { return std::vector{figure("lut_gamut_65_s", 65, 5)}; }}});
}
