// Matrices of primaries, and gamuts.
#include "provenit/colour/gamut.h"
#include "quantity.h"

namespace provenit::selfcheck {
namespace {

using namespace colour;

Values rgb_to_xyz(Reader& in) {
  return entries_of(rgb_to_xyz_matrix(in.rgb_space("primaries_xy_RGB", "white_xy")), in.row_major());
}
Values xyz_to_rgb(Reader& in) {
  return entries_of(xyz_to_rgb_matrix(in.rgb_space("primaries_xy_RGB", "white_xy")), in.row_major());
}

Matrix3<> between(Reader& in) {
  return rgb_to_rgb_matrix(in.rgb_space("from", "white"), in.rgb_space("to", "white"));
}
Values rgb_to_rgb(Reader& in) {
  return entries_of(between(in), in.row_major());
}
Values rgb_convert(Reader& in) {
  in.note("no clipping");
  const auto c = rgb_from_rgb(in.rgb<RelativeRgb>("RGB"), between(in));
  return {c.r, c.g, c.b};
}

ChromaticityPlane plane(Reader& in) {
  static constexpr std::array<std::string_view, 2> names{"xy", "u'v'"};
  return in.choice("plane", names) == 0 ? ChromaticityPlane::xy : ChromaticityPlane::uv_prime;
}
/// Three primaries make the triangle, more of them their hull.
Polygon<> gamut(Reader& in, ChromaticityPlane p, std::string_view key) {
  const auto primaries = in.primaries(key);
  return gamut_polygon<double>(p, primaries);
}

Values gamut_area_in(Reader& in) {
  return {area(gamut(in, plane(in), "primaries"))};
}
Values coverage(Reader& in) {
  const auto p = plane(in);
  return {polygon_coverage(gamut(in, p, "test"), gamut(in, p, "reference"))};
}
Values area_ratio(Reader& in) {
  const auto p = plane(in);
  return {area(gamut(in, p, "test")) / area(gamut(in, p, "reference"))};
}

constexpr Quantity kGamutQuantities[] = {
    {"rgb_to_xyz_matrix", rgb_to_xyz},   {"xyz_to_rgb_matrix", xyz_to_rgb}, {"rgb_to_rgb_matrix", rgb_to_rgb},
    {"rgb_convert_linear", rgb_convert}, {"gamut_area", gamut_area_in},     {"gamut_coverage", coverage},
    {"gamut_area_ratio", area_ratio},
};

}  // namespace

std::span<const Quantity> gamut_quantities() {
  return kGamutQuantities;
}

}  // namespace provenit::selfcheck
