// Which kind of emitters a display has, by its primaries' peaks.
#include <algorithm>
#include <array>
#include <cmath>

#include "provenit/evaluation/spectra.h"

namespace provenit::evaluation {
namespace {

struct ClassSpread {
  double mean_nm, deviation_nm;
};
struct Template {
  const char* kind;
  std::array<ClassSpread, 3> centre, width;  // red, green, blue
  double lines;                              // probability that fluoride lines are seen
};

// Published: K2SiF6:Mn4+ and beta-sialon:Eu (535 nm, 54 nm), Wang et al., Opt. Express 23, 28707 (2015). Second hand:
// quantum dots green about 525 to 535, red 625 to 645, 20 to 35 nm wide. The rest, and all spreads, from memory.
constexpr std::array<Template, 7> kTemplates{{
    {"fluoride phosphor", {{{631, 4}, {537, 8}, {451, 5}}}, {{{8, 6}, {52, 12}, {20, 4}}}, 0.97},
    {"quantum dots", {{{635, 7}, {530, 6}, {450, 5}}}, {{{29, 6}, {31, 6}, {20, 4}}}, 0.005},
    {"self-emissive RGB", {{{620, 5}, {527, 5}, {460, 4}}}, {{{33, 6}, {33, 6}, {22, 6}}}, 0.005},
    {"broadband phosphor", {{{608, 12}, {545, 10}, {450, 6}}}, {{{65, 20}, {70, 18}, {22, 5}}}, 0.005},
    {"white emitter with filters", {{{613, 10}, {535, 10}, {460, 5}}}, {{{50, 15}, {55, 15}, {35, 10}}}, 0.005},
    {"laser", {{{640, 8}, {525, 8}, {455, 10}}}, {{{2, 2}, {2, 2}, {2, 2}}}, 0.005},
    {"none of these", {{{620, 40}, {535, 40}, {455, 30}}}, {{{40, 40}, {45, 40}, {30, 30}}}, 0.05},
}};

double log_density(const ClassSpread& s, double value) {
  const double z = (value - s.mean_nm) / s.deviation_nm;
  return -0.5 * z * z - std::log(s.deviation_nm);
}

/// A local maximum within `reach` of `nm` that stands out on both sides by at least `least`.
bool stands_out(const colour::Spectrum& s, double nm, double reach, double least) {
  const int span = std::max(1, static_cast<int>(std::lround(9 / s.step_nm)));
  for (int i = 1; i + 1 < s.size(); ++i) {
    if (std::fabs(s.wavelength_nm(i) - nm) > reach || s.values[i] < s.values[i - 1] || s.values[i] < s.values[i + 1])
      continue;
    double left = s.values[i], right = s.values[i];
    for (int d = 1; d <= span; ++d) {
      left = std::min(left, s.values[std::max(0, i - d)]);
      right = std::min(right, s.values[std::min(s.size() - 1, i + d)]);
    }
    if (s.values[i] - std::max(left, right) >= least) return true;
  }
  return false;
}

}  // namespace

bool has_fluoride_lines(const colour::Spectrum& red) {
  const auto top = std::ranges::max_element(red.values);
  if (top == red.values.end() || !(*top > 0)) return false;
  return stands_out(red, 631, 2.5, 0.05 * *top) && stands_out(red, 613, 3, 0.05 * *top);
}

std::vector<EmitterShare> emitter_shares(const EmitterEvidence& evidence) {
  std::array<double, kTemplates.size()> logs{};
  for (std::size_t t = 0; t < kTemplates.size(); ++t) {
    const auto& kind = kTemplates[t];
    logs[t] = std::log(evidence.fluoride_lines ? kind.lines : 1 - kind.lines);
    for (std::size_t c = 0; c < 3; ++c) {
      logs[t] += log_density(kind.centre[c], evidence.peaks[c].centre_nm);
      logs[t] += log_density(kind.width[c], evidence.peaks[c].width_nm);
    }
  }
  const double most = *std::ranges::max_element(logs);
  double sum = 0;
  for (double& l : logs) sum += l = std::exp(l - most);
  std::vector<EmitterShare> shares;
  for (std::size_t t = 0; t < kTemplates.size(); ++t) shares.push_back({kTemplates[t].kind, logs[t] / sum});
  std::ranges::stable_sort(shares, std::greater{}, &EmitterShare::probability);
  return shares;
}

}  // namespace provenit::evaluation
