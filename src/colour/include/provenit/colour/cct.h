#pragma once
// Correlated colour temperature and Duv, three ways: the exact nearest point (what the bench uses), Ohno's table
// method and Robertson's, both as checks. All take CIE 1960 u, v of the CIE 1931 observer.
#include "provenit/base/error.h"
#include "provenit/colour/quantities.h"
#include "provenit/colour/scalar.h"

namespace provenit::colour {

/// CCT in kelvin; Duv positive above the Planckian locus (towards green).
template <class T = double>
struct CctDuv {
  T cct_kelvin{};
  T duv{};
};

/// Above this |Duv| a CCT describes nothing; CIE 15 draws the line here (from memory). The functions still answer.
inline constexpr double kLargestMeaningfulDuv = 0.05;

/// What a point's CCT and Duv are, and how they follow the point.
struct CctSolution {
  double cct_kelvin = 0, duv = 0;
  double dcct_du = 0, dcct_dv = 0;  ///< K per unit of u, v
  double dduv_du = 0, dduv_dv = 0;  ///< the unit normal of the locus; smooth through Duv = 0
};

/// The nearest point of the Planckian locus (planck.h) by Newton's method in reciprocal temperature, kept inside a
/// bracket; derivatives by the implicit function theorem.
/// range   1000 to 100000 K (a result up to 0.1 % outside is still given)
/// exact   for |Duv| <= 0.05: CCT within 1e-9 relative, Duv within 1e-12. Far below the locus (Duv < -0.1 or so) two
/// nearest
///         points can exist; the nearer one is taken, and derivatives do not hold across the switch
/// errors  out_of_range with the end of the range that was hit; invalid_input if u or v is not finite
/// source  CIE 15:2018, definition of CCT, c2 = 1.4388e-2 m K
[[nodiscard]] Result<CctSolution> solve_cct(const Uv1960<>& uv);

/// Ohno's combined method: triangular where |Duv| < 0.002, else parabolic, on a table of the locus in steps of 0.25 %
/// (the paper uses 1 %, with a correction factor that this step does not need).
/// range   1000 to 100000 K
/// exact   against solve_cct, |Duv| <= 0.05: CCT within 3e-5 relative (0.2 K at 6500 K), Duv within 1e-6; the largest
///         errors are those of the triangular part at its border, and shrink with the table's step
/// errors  as solve_cct
/// source  Ohno, LEUKOS 10(1), 47-55, 2014, "Practical use and calculation of CCT and Duv"
[[nodiscard]] Result<CctDuv<>> cct_duv_ohno(const Uv1960<>& uv);

/// Robertson's interpolation between 31 isotemperature lines; Duv along the interpolated line.
/// range   1667 to 100000 K
/// exact   against solve_cct: CCT within 0.06 %, Duv within 1.5e-4, from 1700 to 10000 K for |Duv| <= 0.01: a check,
/// not
///         a measurement
/// errors  out_of_range, invalid_input
/// source  Robertson, JOSA 58, 1528-1535, 1968; lines from Wyszecki and Stiles 1982, Table 1(3.11)
[[nodiscard]] Result<CctDuv<>> cct_duv_robertson(const Uv1960<>& uv);

namespace detail {
template <class T>
double plain_value(const T& x) {
  if constexpr (std::is_arithmetic_v<T>)
    return x;
  else if constexpr (requires {
                       { x.value() } -> std::convertible_to<double>;
                     })
    return x.value();
  else
    return x.value;
}
}  // namespace detail

/// CCT and Duv for any scalar: the value is solve_cct's, first derivatives flow through (second ones do not).
/// errors  as solve_cct
template <class T>
[[nodiscard]] Result<CctDuv<T>> cct_duv(const Uv1960<T>& uv) {
  const Uv1960<> at{.u = detail::plain_value(uv.u), .v = detail::plain_value(uv.v)};
  const auto s = solve_cct(at);
  if (!s) return tl::unexpected(s.error());
  const T du = uv.u - at.u, dv = uv.v - at.v;
  return CctDuv<T>{.cct_kelvin = s->cct_kelvin + (s->dcct_du * du + s->dcct_dv * dv),
                   .duv = s->duv + (s->dduv_du * du + s->dduv_dv * dv)};
}

}  // namespace provenit::colour
