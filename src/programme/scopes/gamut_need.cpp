#include <algorithm>

#include "kernel/decoder.h"
#include "provenit/colour/primaries.h"
#include "provenit/programme/scopes.h"

namespace provenit::programme {
namespace {

constexpr double kTolerance = 1e-6;  // of the largest component; as the survey has it (docs/survey.md)

/// Whether `light` has a negative component in the other primaries. Equal primaries hold it by definition.
bool outside(const colour::AbsoluteRgb<>& light, const colour::Matrix3<>& to_other) {
  const double largest = kernel::max_rgb(light);
  if (!(largest > 0)) return false;
  const auto c = colour::rgb_from_rgb(light, to_other);
  return std::min({c.r, c.g, c.b}) < -kTolerance * largest;
}

template <const colour::Primaries<>& To>
const colour::Matrix3<>& to(Gamut from) {
  static const std::array<colour::Matrix3<>, 3> matrices{
      colour::rgb_to_rgb_matrix(kernel::primaries_of(Gamut::bt709), To),
      colour::rgb_to_rgb_matrix(kernel::primaries_of(Gamut::p3_d65), To),
      colour::rgb_to_rgb_matrix(kernel::primaries_of(Gamut::bt2020), To)};
  return matrices[static_cast<std::size_t>(from)];
}

}  // namespace

GamutNeed gamut_need(const colour::AbsoluteRgb<>& light, Gamut primaries) {
  if (primaries == Gamut::bt709 || !outside(light, to<colour::bt709_primaries>(primaries)))
    return GamutNeed::inside_bt709;
  if (primaries == Gamut::p3_d65 || !outside(light, to<colour::p3_d65_primaries>(primaries)))
    return GamutNeed::beyond_bt709;
  return GamutNeed::beyond_p3;
}

GamutShares gamut_shares(const LightImage& image) {
  std::array<std::size_t, 3> count{};
  for (const auto& l : image.light)
    ++count[static_cast<std::size_t>(gamut_need({.r = l[0], .g = l[1], .b = l[2]}, image.format.gamut))];
  const double n = std::max<double>(1, static_cast<double>(image.light.size()));
  return {.beyond_bt709 = static_cast<double>(count[1] + count[2]) / n, .beyond_p3 = static_cast<double>(count[2]) / n};
}

}  // namespace provenit::programme
