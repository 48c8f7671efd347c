// Surface-colour chart: CIE test colour samples, a Munsell renotation subset, and colours computed between it and grey.
#include <fmt/format.h>

#include <array>
#include <cmath>

#include "pictures/patches.h"
#include "provenit/base/text.h"
#include "provenit/colour/illuminant.h"
#include "provenit/colour/reflectance.h"
#include "signal_assets.h"

namespace provenit::signal::pictures {
namespace {

/// A surface under D65, relative to the perfect diffuser.
struct Surface {
  std::string name;
  colour::RelativeXyz<> xyz;
};

colour::RelativeXyz<> xyz_of(const colour::Xy<>& c, double Y) {
  return {.X = Y * c.x / c.y, .Y = Y, .Z = Y * (1 - c.x - c.y) / c.y};
}

struct Munsell {
  std::string name;
  colour::Xy<> xy;
  double Y = 0;
};

/// The D65 columns of the embedded table. It is part of the build: a line that cannot be read is left out, and the
/// tests count the patches.
std::vector<Munsell> munsell() {
  std::vector<Munsell> out;
  for (const auto line : split(find_signal_asset("/surface_chart_munsell.csv"), '\n')) {
    const auto fields = split(trim(line), ',');
    if (fields.size() != 8) continue;
    const auto x = parse_double(fields[4]), y = parse_double(fields[5]), Y = parse_double(fields[6]);
    if (x && y && Y) out.push_back({.name = std::string(fields[0]), .xy = {.x = *x, .y = *y}, .Y = *Y / 100});
  }
  return out;
}

std::vector<Surface> test_colour_samples() {
  std::vector<Surface> out;
  const auto d65 = colour::illuminant("D65");
  for (const auto name : colour::test_colour_sample_names()) {
    const auto reflectance = colour::test_colour_sample(name);
    if (!reflectance || !d65) continue;
    if (const auto xyz = colour::xyz_from_reflectance(*reflectance, *d65, colour::Observer::cie1931_2deg))
      out.push_back({.name = std::string(name), .xyz = *xyz});
  }
  return out;
}

/// Between two Munsell colours of one hue and value, or between grey and one: straight in x y, at the same Y.
Surface computed(const Munsell& from, const Munsell& to, double share, std::string name) {
  const colour::Xy<> c{.x = from.xy.x + share * (to.xy.x - from.xy.x), .y = from.xy.y + share * (to.xy.y - from.xy.y)};
  return {.name = std::move(name), .xyz = xyz_of(c, from.Y + share * (to.Y - from.Y))};
}

std::vector<Surface> chart() {
  auto out = test_colour_samples();
  const auto table = munsell();
  std::vector<Surface> between;
  constexpr colour::Xy<> kWhite{.x = 0.3127, .y = 0.3290};
  for (std::size_t i = 0; i < table.size(); ++i) {
    const auto& m = table[i];
    out.push_back({.name = m.name, .xyz = xyz_of(m.xy, m.Y)});
    if (m.name.starts_with("N ")) continue;
    between.push_back(
        computed({.name = {}, .xy = kWhite, .Y = m.Y}, m, 0.5, fmt::format("computed, half of {}", m.name)));
    const auto chroma_at = m.name.find(" 5/6");
    if (chroma_at != std::string::npos && i + 1 < table.size())
      between.push_back(
          computed(m, table[i + 1], 0.5, fmt::format("computed, between {} and {}", m.name, table[i + 1].name)));
  }
  std::ranges::move(between, std::back_inserter(out));
  return out;
}

Painter surface_chart(Setting& s) {
  const double white = s.number("white_cdm2");
  (void)s.grey("white_cdm2");  // refused if the encoding does not reach it
  std::vector<Patch> patches;
  for (const auto& surface : chart()) {
    const auto& c = surface.xyz;
    patches.push_back(
        {.name = surface.name,
         .code = s.light.code(colour::AbsoluteXyz<>{.X = white * c.X, .Y = white * c.Y, .Z = white * c.Z})});
  }
  constexpr int kColumns = 15;
  return patch_painter(s, patches, kColumns);
}

}  // namespace

std::vector<Kind> surface_chart_kinds() {
  return {{{.key = "surface_chart",
            .title = "Surface colours",
            .purpose =
                "114 colours of surfaces under D65: the 14 test colour samples of CIE 13.3, 40 Munsell colours of ten "
                "hues with ten greys, and 50 computed between these and grey, so that accuracy is known where real "
                "pictures are. Colours that the container does not hold are left out (at least 96 stay in BT.709). "
                "A good display shows each as its codes say.",
            .source = "CIE 13.3-1995 table 1 under ISO/CIE 11664-2 D65, 5 nm sum; Newhall, Nickerson, Judd, JOSA 33, "
                      "1943, adapted from illuminant C to D65 by CAT16; the computed ones lie half-way in x y at the "
                      "same Y and are no renotation colours; layout: own design",
            .caution = kStepCaution,
            .parameters = with_patch_parameters({white_level("white_cdm2", "luminance of the perfect diffuser")})},
           surface_chart}};
}

}  // namespace provenit::signal::pictures
