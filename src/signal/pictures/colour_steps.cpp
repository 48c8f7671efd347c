// Saturation and hue steps at one luminance.
#include <fmt/format.h>

#include <cmath>
#include <numbers>

#include "pictures/patches.h"
#include "provenit/colour/primaries.h"
#include "provenit/colour/spaces.h"
#include "provenit/signal/encoding.h"

namespace provenit::signal::pictures {
namespace {

using colour::UvPrime;

const colour::Primaries<>& gamut_of(const Setting& s) {
  const int gamut = s.whole("gamut");
  return primaries_of(gamut == 1 ? Container::bt709 : gamut == 2 ? Container::p3_d65 : Container::bt2020);
}

colour::AbsoluteXyz<> xyz_of(const UvPrime<>& c, double cdm2) {
  const auto xy = colour::xy_from_uv_prime(c);
  return {.X = cdm2 * xy.x / xy.y, .Y = cdm2, .Z = cdm2 * (1 - xy.x - xy.y) / xy.y};
}

struct Hue {
  const char* name;
  double r, g, b;
};
constexpr Hue kHues[] = {{"red", 1, 0, 0},  {"yellow", 1, 1, 0}, {"green", 0, 1, 0},
                         {"cyan", 0, 1, 1}, {"blue", 0, 0, 1},   {"magenta", 1, 0, 1}};

UvPrime<> between(const UvPrime<>& a, const UvPrime<>& b, double share) {
  return {.u = a.u + share * (b.u - a.u), .v = a.v + share * (b.v - a.v)};
}

Painter saturation_steps(Setting& s) {
  const auto& gamut = gamut_of(s);
  const auto to_xyz = colour::rgb_to_xyz_matrix(gamut);
  const auto white = colour::uv_prime_from_xy(gamut.white);
  const double level = s.number("level_cdm2");
  const int steps = s.whole("steps");
  std::vector<Patch> patches;
  for (const auto& hue : kHues) {
    const auto end = colour::uv_prime_from_xyz(
        colour::xyz_from_rgb(colour::AbsoluteRgb<>{.r = hue.r, .g = hue.g, .b = hue.b}, to_xyz));
    patches.push_back({.name = fmt::format("{} 0 %", hue.name), .code = s.grey("level_cdm2")});
    for (int k = 1; k <= steps; ++k)
      patches.push_back({.name = fmt::format("{} {:.4g} %", hue.name, 100.0 * k / steps),
                         .code = s.colour(xyz_of(between(white, end, 1.0 * k / steps), level), "level_cdm2")});
  }
  return patch_painter(s, patches, steps + 1);
}

/// Distance from `white` at this angle to the side of the triangle that the ray meets, in u' v'.
double distance_to_edge(const UvPrime<>& white, const UvPrime<> (&corner)[3], double angle) {
  const double du = std::cos(angle), dv = std::sin(angle);
  double nearest = HUGE_VAL;
  for (int i = 0; i < 3; ++i) {
    const auto &a = corner[i], &b = corner[(i + 1) % 3];
    // white + t (du, dv) on the line through a and b: cross products with its direction.
    const double eu = b.u - a.u, ev = b.v - a.v;
    const double across = du * ev - dv * eu;
    const double t = ((a.u - white.u) * ev - (a.v - white.v) * eu) / across;
    if (t > 0) nearest = std::min(nearest, t);
  }
  return nearest;
}

Painter hue_steps(Setting& s) {
  const auto& gamut = gamut_of(s);
  const auto white = colour::uv_prime_from_xy(gamut.white);
  const UvPrime<> corner[3] = {colour::uv_prime_from_xy(gamut.red), colour::uv_prime_from_xy(gamut.green),
                               colour::uv_prime_from_xy(gamut.blue)};
  const int steps = s.whole("steps");
  std::vector<Patch> patches;
  for (int k = 0; k < steps; ++k) {
    const double degrees = 360.0 * k / steps, angle = degrees * std::numbers::pi / 180;
    const double reach = s.number("saturation_percent") / 100 * distance_to_edge(white, corner, angle);
    const UvPrime<> c{.u = white.u + reach * std::cos(angle), .v = white.v + reach * std::sin(angle)};
    patches.push_back({.name = fmt::format("hue {:.4g} deg", degrees),
                       .code = s.colour(xyz_of(c, s.number("level_cdm2")), "level_cdm2")});
  }
  constexpr int kColumns = 8;
  return patch_painter(s, patches, std::min(steps, kColumns));
}

PictureParameter gamut_parameter() {
  return count("gamut", 1, 1, 3, "1 BT.709, 2 P3-D65, 3 BT.2020");
}
PictureParameter level_parameter() {
  // Five hundredths of white: blue of BT.2020 has 0.059 of the white's luminance, and can reach no more.
  return white_level("level_cdm2", "luminance of every patch", 0.05);
}

}  // namespace

std::vector<Kind> colour_step_kinds() {
  return {
      {{.key = "saturation_steps",
        .title = "Saturation steps",
        .purpose =
            "From white to the primaries and their mixtures, all at one luminance, in equal steps of u' v'. Mixing "
            "light between white and a primary gives the same straight line; steps are equal in u' v' because errors "
            "are told in it, so that an error is the same share of a step everywhere. On a good display each row "
            "keeps its hue and all patches look equally bright.",
        .source = "own design; u' v' of ISO/CIE 11664-5; primaries of BT.709-6, SMPTE ST 2113, BT.2020-2",
        .caution = kStepCaution,
        .parameters = with_patch_parameters(
            {gamut_parameter(), count("steps", 5, 1, 20, "steps from white"), level_parameter()})},
       saturation_steps},
      {{.key = "hue_steps",
        .title = "Hue steps",
        .purpose = "Hues all round white in equal angles of u' v', all at one luminance and at the same share of the "
                   "way to the gamut's edge. On a good display the hue goes round evenly and all look equally bright.",
        .source = "own design; u' v' of ISO/CIE 11664-5; primaries of BT.709-6, SMPTE ST 2113, BT.2020-2",
        .caution = kStepCaution,
        .parameters = with_patch_parameters({gamut_parameter(), count("steps", 24, 3, 120, "hues"),
                                             number("saturation_percent", 80, 1, 100, "of the way to the edge"),
                                             level_parameter()})},
       hue_steps},
  };
}

}  // namespace provenit::signal::pictures
