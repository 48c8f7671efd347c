#include "provenit/programme/probe.h"

#include <fmt/format.h>

#include <cmath>
#include <nlohmann/json.hpp>

#include "kernel/decoder.h"
#include "provenit/colour/cct.h"
#include "provenit/colour/spaces.h"
#include "provenit/programme/scopes.h"

namespace provenit::programme {
namespace {

using nlohmann::ordered_json;

ordered_json optional_json(const std::optional<double>& value) {
  return value ? ordered_json(*value) : ordered_json(nullptr);
}
template <class C>
ordered_json rgb_json(const C& c) {
  return {c.r, c.g, c.b};
}

}  // namespace

Result<ProbeReading> probe(const Picture& picture, int x, int y) {
  if (auto checked = check_picture(picture); !checked) return tl::unexpected(checked.error());
  const auto& f = picture.format;
  if (x < 0 || y < 0 || x >= f.width || y >= f.height)
    return fail(ErrorCode::out_of_range, fmt::format("the pixel {},{} is outside the picture", x, y),
                fmt::format("Give x from 0 to {} and y from 0 to {}.", f.width - 1, f.height - 1),
                {.frame = picture.index, .field = "probe"});
  ProbeReading r{.x = x, .y = y, .pixel = pixel_at(picture, x, y)};
  r.luminance_cdm2 = r.pixel.xyz.Y;
  r.max_rgb_cdm2 = kernel::max_rgb(r.pixel.rgb);
  const GamutNeed need = gamut_need(r.pixel.rgb, f.gamut);
  r.inside_bt709 = need == GamutNeed::inside_bt709;
  r.inside_p3 = need != GamutNeed::beyond_p3;
  if (!(r.pixel.xyz.Y > 0)) return r;
  r.xy = colour::xy_from_xyz(r.pixel.xyz);
  r.uv_prime = colour::uv_prime_from_xyz(r.pixel.xyz);
  const auto cct = colour::solve_cct(colour::uv1960_from_uv_prime(*r.uv_prime));
  if (cct && std::abs(cct->duv) <= colour::kLargestMeaningfulDuv) r.cct_kelvin = cct->cct_kelvin, r.duv = cct->duv;
  return r;
}

ordered_json to_json(const ProbeReading& r) {
  const auto& p = r.pixel;
  return {{"x", r.x},
          {"y", r.y},
          {"code", p.code},
          {"signal", rgb_json(p.signal)},
          {"linear_rgb_cdm2", rgb_json(p.rgb)},
          {"xyz_cdm2", {p.xyz.X, p.xyz.Y, p.xyz.Z}},
          {"luminance_cdm2", r.luminance_cdm2},
          {"max_rgb_cdm2", r.max_rgb_cdm2},
          {"xy", r.xy ? ordered_json{r.xy->x, r.xy->y} : ordered_json(nullptr)},
          {"uv_prime", r.uv_prime ? ordered_json{r.uv_prime->u, r.uv_prime->v} : ordered_json(nullptr)},
          {"cct_kelvin", optional_json(r.cct_kelvin)},
          {"duv", optional_json(r.duv)},
          {"inside_bt709", r.inside_bt709},
          {"inside_p3", r.inside_p3}};
}

}  // namespace provenit::programme
