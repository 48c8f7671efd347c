#pragma once
// Colour volume: the solid that a display's colours fill in ICtCp, I T P or CIELAB, its size, and how much of another
// solid it covers. The boundary of the RGB cube is sampled and carried into the space; what lies between samples is
// flat, so that finer sampling brings the volume of a curved solid closer (figures at each function).
#include <array>
#include <vector>

#include "provenit/colour/difference.h"
#include "provenit/colour/primaries.h"

namespace provenit::colour {

/// A closed surface of triangles. Corner order: outward by the right-hand rule, or inward everywhere (the volume then
/// comes out negative).
template <class T = double>
struct Solid {
  std::vector<std::array<T, 3>> vertices;
  std::vector<std::array<int, 3>> triangles;
};

/// The surface of the cube [0, 1]^3 with n x n samples on each of its six faces (shared along edges): 6 (n-1)^2 + 2
/// vertices, 386 for n = 9. These are the R', G', B' to show when a display's volume is measured.
/// range   n >= 2
[[nodiscard]] Solid<> rgb_cube_surface(int n);

/// Volume by signed tetrahedra from the first vertex: exact for the solid of flat triangles, any scalar.
/// range   triangles form a closed surface that does not cut itself
template <class T>
[[nodiscard]] T signed_volume(const Solid<T>& solid) {
  T six(0.0);
  for (const auto& t : solid.triangles) {
    std::array<std::array<T, 3>, 3> e;
    for (std::size_t corner = 0; corner < 3; ++corner)
      for (std::size_t axis = 0; axis < 3; ++axis)
        e[corner][axis] = solid.vertices[t[corner]][axis] - solid.vertices[0][axis];
    six = six + e[0][0] * (e[1][1] * e[2][2] - e[1][2] * e[2][1]) - e[0][1] * (e[1][0] * e[2][2] - e[1][2] * e[2][0]) +
          e[0][2] * (e[1][0] * e[2][1] - e[1][1] * e[2][0]);
  }
  return T(six / 6.0);
}
template <class T>
[[nodiscard]] T volume(const Solid<T>& solid) {
  const T v = signed_volume(solid);
  return v < 0.0 ? T(-v) : v;
}

/// A display that adds: light = black + sum over the primaries of (peak - black) x linear R, G, B. Black has the
/// chromaticity of the white. A display measured not to add has its samples read instead (see rgb_cube_surface).
template <class T = double>
struct AdditiveDisplay {
  Primaries<T> primaries;
  Luminance<T> peak;   ///< white, cd/m2
  Luminance<T> black;  ///< cd/m2
};

/// The cube's samples as light of the display. The sample value s stands for PQ^-1(s x PQ(peak)) / peak of linear
/// light, so that the samples lie evenly in I whatever the display's own EOTF: a volume does not depend on it.
template <class T>
[[nodiscard]] std::vector<AbsoluteXyz<T>> surface_light(const Solid<>& cube, const AdditiveDisplay<T>& display) {
  const Matrix3<T> to_xyz = rgb_to_xyz_matrix(display.primaries);
  const T span = display.peak.cdm2 - display.black.cdm2;
  const Signal<T> top = pq_inverse_eotf(display.peak);
  std::vector<AbsoluteXyz<T>> light;
  light.reserve(cube.vertices.size());
  const auto channel = [&](double s) {
    const T linear = pq_eotf(Signal<T>{.value = s * top.value}).cdm2 / display.peak.cdm2;
    return T(display.black.cdm2 + span * linear);
  };
  for (const auto& s : cube.vertices)
    light.push_back(xyz_from_rgb(AbsoluteRgb<T>{.r = channel(s[0]), .g = channel(s[1]), .b = channel(s[2])}, to_xyz));
  return light;
}

/// Surface samples as ICtCp (PQ form); axes I, Ct, Cp.
/// in      light[i] of cube.vertices[i], calculated or read
template <class T>
[[nodiscard]] Solid<T> ictcp_solid(const Solid<>& cube, const std::vector<AbsoluteXyz<T>>& light) {
  constexpr Matrix3<> to_rgb = xyz_to_rgb_matrix(bt2020_primaries);
  Solid<T> out{{}, cube.triangles};
  for (const auto& c : light) {
    const auto p = ictcp_from_pq_rgb(rgb_from_xyz(c, to_rgb));
    out.vertices.push_back({p.i, p.ct, p.cp});
  }
  return out;
}

/// Surface samples as CIELAB for a stated white; axes L*, a*, b*. The white is part of the figure's name: a display's
/// own white is the usual one; no chromatic adaptation is applied here.
template <class T>
[[nodiscard]] Solid<T> lab_solid(const Solid<>& cube, const std::vector<AbsoluteXyz<T>>& light,
                                 const AbsoluteXyz<T>& white) {
  Solid<T> out{{}, cube.triangles};
  for (const auto& c : light) {
    const auto p = lab_from_xyz(c, white);
    out.vertices.push_back({p.L, p.a, p.b});
  }
  return out;
}

/// An ICtCp volume in cubes of one Delta E ITP: 720^3 x 1/2, since T = Ct / 2 (BT.2124).
template <class T>
[[nodiscard]] T itp_cubes(const T& ictcp_volume) {
  return T(720.0 * 720.0 * 720.0 * 0.5 * ictcp_volume);
}

/// Samples per face and edge that the functions below use unless told otherwise.
inline constexpr int kVolumeSamples = 33;

/// ICtCp volume of an additive display.
/// exact   BT.2020 at 10 000 cd/m2, black 0: 9 samples 1.5 %, 33 samples 0.1 % below the limit of fine sampling,
/// 0.23516
template <class T>
[[nodiscard]] T ictcp_volume(const AdditiveDisplay<T>& display, int samples = kVolumeSamples) {
  const auto cube = rgb_cube_surface(samples);
  return volume(ictcp_solid(cube, surface_light(cube, display)));
}

/// CIELAB volume of an additive display for its own white.
/// exact   BT.709: 9 samples 0.04 %, 33 samples 0.002 % below the limit of fine sampling, 8.2030e5; hit counting agrees
///         (tests)
template <class T>
[[nodiscard]] T lab_volume(const AdditiveDisplay<T>& display, int samples = kVolumeSamples) {
  const auto cube = rgb_cube_surface(samples);
  const auto white = xyz_from_xy(display.primaries.white, display.peak);
  return volume(lab_solid(cube, surface_light(cube, display), white));
}

struct Overlap {
  double test = 0, reference = 0, both = 0;  ///< volumes as the columns see them
  [[nodiscard]] double coverage() const { return both / reference; }
};

/// How much of the reference solid lies inside the test solid. Columns along the first axis (I, L*) stand on a regular
/// grid of columns x columns over the reference's other two axes; in each, the stretches inside either solid are found
/// exactly from the triangles it crosses. The volumes returned count the columns over the reference only.
/// range   both closed; columns >= 1
/// exact   with 256 columns the reference's own volume comes out within 1e-5, coverage within 2e-4 (tests)
[[nodiscard]] Overlap volume_overlap(const Solid<>& test, const Solid<>& reference, int columns = 256);

}  // namespace provenit::colour
