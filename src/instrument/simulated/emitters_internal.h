#pragma once
// The spectra of a display as a basis: any light it gives is a weighted sum of these, so tristimulus values cost ten
// multiplications and a spectrum is made only when asked for.
#include <array>

#include "provenit/base/error.h"
#include "provenit/colour/quantities.h"
#include "provenit/simulated/physics.h"

namespace provenit::simulated {

inline constexpr double kFirstNm = 380;
inline constexpr int kSamples = 401;           ///< to 780 nm at 1 nm
using Samples = std::array<double, kSamples>;  ///< spectral radiance, W/(sr m2 nm)
using Vector = std::array<double, 3>;

/// How much of each basis spectrum a light has.
struct Mixture {
  Vector base{};   ///< of each primary, 1 = its share of white at peak
  Vector level{};  ///< of its change towards low drive
  Vector cold{};   ///< of its change towards cold
  double leak = 0;
};

class Emitters {
 public:
  /// Errors: out_of_range if no mixture of the primaries gives the white asked for, or nothing leaks where a leakage is
  /// asked for.
  [[nodiscard]] static Result<Emitters> make(const DisplayPhysics& physics);

  [[nodiscard]] colour::AbsoluteXyz<> xyz(const Mixture& mixture) const;
  [[nodiscard]] Samples spectrum(const Mixture& mixture) const;

 private:
  struct Basis {
    Samples samples{};
    Vector xyz{};
  };
  std::array<Basis, 3> base_, level_, cold_;
  Basis leak_;
};

/// X, Y, Z of a spectrum on the grid above: CIE 1931, Km = 683, sums at 1 nm.
[[nodiscard]] Vector xyz_of(const Samples& samples);
/// xbar, ybar, zbar on the grid.
[[nodiscard]] const std::array<Samples, 3>& matching_on_grid();
/// x of A x = b by Cramer's rule; columns[i] is the i-th column of A. All zero if A is singular.
[[nodiscard]] Vector solve3(const std::array<Vector, 3>& columns, const Vector& b);

}  // namespace provenit::simulated
