// Static metadata held against the measured figures, and the known ways in which it goes wrong.
#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>

#include "provenit/colour/primaries.h"
#include "provenit/programme/title.h"

namespace provenit::programme {
namespace {

using Triangle = std::array<std::array<double, 2>, 3>;

Triangle triangle_of(const colour::Primaries<>& p) {
  return {{{p.red.x, p.red.y}, {p.green.x, p.green.y}, {p.blue.x, p.blue.y}}};
}

struct Known {
  const char* name;
  Triangle primaries;
};
const std::array<Known, 3>& known_gamuts() {
  static const std::array<Known, 3> known{{{"BT.709", triangle_of(colour::bt709_primaries)},
                                           {"P3-D65", triangle_of(colour::p3_d65_primaries)},
                                           {"BT.2020", triangle_of(colour::bt2020_primaries)}}};
  return known;
}

// ST 2086 gives chromaticities in steps of 0.00002 and asks for four decimals.
bool same(const Triangle& a, const Triangle& b) {
  for (std::size_t i = 0; i < 3; ++i)
    for (std::size_t j = 0; j < 2; ++j)
      if (std::abs(a[i][j] - b[i][j]) > 1e-4) return false;
  return true;
}

std::string text_of(const Triangle& t) {
  return fmt::format("R {:.4f} {:.4f}, G {:.4f} {:.4f}, B {:.4f} {:.4f}", t[0][0], t[0][1], t[1][0], t[1][1], t[2][0],
                     t[2][1]);
}

DeclaredCheck primaries_check(const StaticMetadata::Mastering& m) {
  DeclaredCheck check{.name = "mastering primaries", .declared = text_of(m.primaries_xy), .measured = "-"};
  for (const Known& k : known_gamuts())
    if (same(m.primaries_xy, k.primaries)) {
      check.agrees = true;
      check.measured = k.name;
      return check;
    }
  std::array<std::size_t, 3> order{0, 1, 2};
  while (std::next_permutation(order.begin(), order.end()))
    for (const Known& k : known_gamuts()) {
      const Triangle permuted{k.primaries[order[0]], k.primaries[order[1]], k.primaries[order[2]]};
      if (!same(m.primaries_xy, permuted)) continue;
      constexpr std::array<const char*, 3> kName{"red", "green", "blue"};
      check.explanation = fmt::format(
          "fields in the wrong order: read as ST 2086 orders them, red, green and blue hold the {}, {} and {} of {}",
          kName[order[0]], kName[order[1]], kName[order[2]], k.name);
      return check;
    }
  check.agrees = true;  // a display may have primaries of its own
  check.measured = "no standard's";
  return check;
}

// Largest 99.9 % luminance of any frame: what the picture reaches beside lone pixels.
double largest_high(const TitleFigures& t) {
  return t.high_percentile.back();
}
// 5 % above a clip level is what lossy coding does to it (common practice, no source).
constexpr double kOvershoot = 1.05;

// ST 2086:2018: the maximum is 5 to 10 000 cd/m2, the minimum 0.0001 to 5 cd/m2.
DeclaredCheck maximum_check(const StaticMetadata::Mastering& m, const TitleFigures& t) {
  DeclaredCheck check{.name = "mastering maximum",
                      .declared = fmt::format("{:g} cd/m2", m.maximum_cdm2),
                      .measured = fmt::format("{:.0f} cd/m2 (99.9 %)", largest_high(t))};
  if (m.maximum_cdm2 < 5 && m.maximum_cdm2 > 0)
    check.explanation = fmt::format(
        "wrong unit: below the 5 cd/m2 that ST 2086 allows; 10 000 times as large it is {:g} cd/m2, so the field holds "
        "whole cd/m2 and not steps of 0.0001",
        m.maximum_cdm2 * 10000);
  else if (m.maximum_cdm2 == 0)
    check.explanation = "0 stands for unknown";
  else if (largest_high(t) > m.maximum_cdm2 * kOvershoot)
    check.explanation = "the programme goes above its mastering display, and not in lone pixels alone";
  check.agrees = check.explanation.empty();
  return check;
}

DeclaredCheck minimum_check(const StaticMetadata::Mastering& m) {
  DeclaredCheck check{
      .name = "mastering minimum", .declared = fmt::format("{:g} cd/m2", m.minimum_cdm2), .measured = "-"};
  if (m.minimum_cdm2 <= 0)
    check.explanation = "0 stands for unknown";
  else if (m.maximum_cdm2 > 0 && m.minimum_cdm2 >= m.maximum_cdm2)
    check.explanation = "not below the maximum";
  check.agrees = check.explanation.empty();
  return check;
}

bool rounds_to(double cdm2, int declared) {
  return declared_whole_cdm2(cdm2) == declared;
}

DeclaredCheck maxcll_check(int declared, const TitleFigures& t) {
  DeclaredCheck check{.name = "MaxCLL",
                      .declared = fmt::format("{}", declared),
                      .measured = fmt::format("{:.2f} cd/m2", t.maxcll.cdm2),
                      .agrees = rounds_to(t.maxcll.cdm2, declared)};
  if (check.agrees) return check;
  const double off = t.maxcll.cdm2 / declared - 1;
  if (declared == 0)
    check.explanation = "0 stands for unknown";
  else if (std::abs(off) <= kOvershoot - 1)
    check.explanation = fmt::format("{:+.1f} %: as when it was computed before the lossy coding", 100 * off);
  else if (off > 0 && largest_high(t) <= declared * kOvershoot)
    check.explanation = fmt::format(
        "lone overshoot, as grain, chroma subsampling and compression make it: 99.9 % of the pixels of every frame "
        "stay "
        "under {:.0f} cd/m2, and no 3 x 3 square goes above {:.0f}",
        largest_high(t), t.maxcll_robust.cdm2);
  else
    check.explanation = t.maxcll.cdm2 > declared ? "the decoded pictures go above the declared level"
                                                 : "the decoded pictures do not reach the declared level";
  return check;
}

DeclaredCheck maxfall_check(int declared, const TitleFigures& t) {
  DeclaredCheck check{.name = "MaxFALL",
                      .declared = fmt::format("{}", declared),
                      .measured = fmt::format("{:.2f} cd/m2", t.maxfall_active.cdm2),
                      .agrees = rounds_to(t.maxfall_active.cdm2, declared)};
  if (check.agrees) return check;
  if (declared == 0)
    check.explanation = "0 stands for unknown";
  else if (rounds_to(t.maxfall_full.cdm2, declared))
    check.explanation = "the mean over the whole frame was declared, bars included";
  else if (std::abs(t.mean_luminance_full.cdm2 - declared) <= std::max(1.0, 0.01 * declared))
    check.explanation = fmt::format("the mean luminance was declared ({:.2f} cd/m2) and not the mean of max(R,G,B)",
                                    t.mean_luminance_full.cdm2);
  else
    check.explanation = t.maxfall_active.cdm2 > declared ? "the decoded pictures go above the declared mean"
                                                         : "the decoded pictures do not reach the declared mean";
  return check;
}

}  // namespace

std::vector<DeclaredCheck> check_declared(const StaticMetadata& declared, const TitleFigures& measured) {
  std::vector<DeclaredCheck> checks;
  if (declared.maxcll_cdm2) checks.push_back(maxcll_check(*declared.maxcll_cdm2, measured));
  if (declared.maxfall_cdm2) checks.push_back(maxfall_check(*declared.maxfall_cdm2, measured));
  if (declared.mastering) {
    checks.push_back(primaries_check(*declared.mastering));
    checks.push_back(maximum_check(*declared.mastering, measured));
    checks.push_back(minimum_check(*declared.mastering));
  }
  return checks;
}

}  // namespace provenit::programme
