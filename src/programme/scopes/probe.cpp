#include "provenit/programme/probe.h"

#include <fmt/format.h>

#include <cmath>

#include "kernel/decoder.h"
#include "provenit/colour/cct.h"
#include "provenit/colour/spaces.h"
#include "provenit/programme/scopes.h"

namespace provenit::programme {

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

}  // namespace provenit::programme
