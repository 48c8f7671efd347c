#pragma once
// The formula of display_model.h with its parameters, without the residual field.
#include <array>
#include <vector>

#include "curve.h"
#include "provenit/colour/matrix3.h"
#include "provenit/colour/quantities.h"
#include "provenit/correct/display_model.h"
#include "provenit/signal/signal.h"

namespace provenit::correct::model {

using Vector = colour::Vector3<>;

/// Delta E ITP of a distance in I, T, P (Rec. ITU-R BT.2124).
inline constexpr double kDeltaE = 720;

double pq_of(double cdm2);   ///< PQ^-1; 0 for light <= 0
double light_of(double pq);  ///< PQ; 0 for signals <= 0
/// d PQ^-1 / d light at a light above 0.
double pq_slope(double cdm2);

/// I, T, P of light, cone signals held at or above a hair above 0 so that the slope stays finite.
[[nodiscard]] Vector itp_of(const Vector& xyz);
/// d(I, T, P) / d(X, Y, Z).
[[nodiscard]] colour::Matrix3<> itp_slope(const Vector& xyz);

/// Places of the parameters in their vector. Curves come last: what is not in a term's choice stays at its prior.
struct Layout {
  static constexpr int kMixing = 0;         ///< 6: off-diagonal elements of A, row by row
  static constexpr int kChromaticity = 6;   ///< 6: x, y of q_c against the start
  static constexpr int kBlack = 12;         ///< 3: X, Y, Z of B over kBlackScale
  static constexpr int kLeakage = 15;       ///< 3: X, Y, Z of l x 1000
  static constexpr int kLeakagePower = 18;  ///< 1
  static constexpr int kInteraction = 19;   ///< 6: off-diagonal k, row by row
  static constexpr int kMoving = 25;        ///< 6: change of x, y of q_c from full drive to none
  static constexpr int kDimming = 31;       ///< 1: beta
  static constexpr int kCurves = 32;        ///< per curve: increments of its coefficients, the first of which is 0
  static constexpr double kBlackScale = 0.01;
};

/// What is fixed before the fit: the start of it.
struct Start {
  CurveKnots knots{0.8};
  colour::Matrix3<> mixing;            ///< A, rows sum to 1
  std::array<colour::Xy<>, 3> colour;  ///< of q_c
  Vector luminance{};                  ///< Y of q_c per cd/m2; sums to 1
  Vector black{};                      ///< cd/m2
  double top_cdm2 = 1000;
};

/// One channel triple's way through the formula.
class Physics {
 public:
  Physics(const Start& start, std::vector<double> parameters);

  /// Light that is asked of the channels; may be negative.
  [[nodiscard]] Vector asked(const Vector& container_light) const { return mixing_ * container_light; }
  /// PQ^-1 of it, from 0 to the top of the curves.
  [[nodiscard]] Vector drive(const Vector& container_light) const;
  /// Light at these drives, each channel in this state.
  [[nodiscard]] Vector xyz(const Vector& drive, const Vector& state) const;
  /// Light of each channel that makes this light in the state 1, by fixed-point steps over what couples the channels,
  /// from these on. Held from 0 to twice the top.
  [[nodiscard]] Vector channels_for(const Vector& xyz, Vector from) const;
  [[nodiscard]] Vector half_way() const { return {start_.top_cdm2 / 2, start_.top_cdm2 / 2, start_.top_cdm2 / 2}; }
  /// Drives that make the channels give this light. Held to what the curves reach.
  [[nodiscard]] Vector drives_of(const Vector& f) const;
  /// Container light that asks this of the channels; may be negative.
  [[nodiscard]] Vector container_light(const Vector& drive) const;

  [[nodiscard]] const std::vector<double>& parameters() const { return parameters_; }
  [[nodiscard]] const Start& start() const { return start_; }
  [[nodiscard]] const Vector& black() const { return black_; }
  /// l (f / top)^power x top: what leaks while the brightest channel gives f.
  [[nodiscard]] Vector leakage(double brightest) const;
  [[nodiscard]] double dimming() const { return parameters_[Layout::kDimming]; }
  /// PQ of a channel's light at its drive, with the brightest drive given.
  [[nodiscard]] double lit(int channel, double drive, double brightest) const;
  [[nodiscard]] double interaction(int channel, int other) const { return interaction_(channel, other); }
  [[nodiscard]] Vector colour(int channel, double f) const;  ///< q_c at that light
  [[nodiscard]] const double* curve(int channel) const {
    return curves_.data() + static_cast<std::ptrdiff_t>(channel) * start_.knots.size();
  }

 private:
  /// Drive at which the channel's curve is y; the ends beyond them, the first place of a level stretch at the top.
  [[nodiscard]] double inverse_curve(int channel, double y) const;

  Start start_;
  std::vector<double> parameters_, curves_;
  double pq_of_top_ = 1;
  std::array<std::vector<double>, 3> sampled_;  ///< the curves at equal steps, for their inverse
  colour::Matrix3<> mixing_, unmixing_;
  Vector black_{}, leakage_{};
  colour::Matrix3<> interaction_;
};

[[nodiscard]] int parameter_count(const Start& start);
[[nodiscard]] std::vector<double> prior_mean(const Start& start);

}  // namespace provenit::correct::model
