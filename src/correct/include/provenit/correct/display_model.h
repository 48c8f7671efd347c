#pragma once
// The display as its readings describe it: signal in, light out, with what the readings leave uncertain.
//
//   L   = EOTF(signal)                      light of the container's primaries, cd/m2 (the encoding's own EOTF)
//   d   = A L                               light asked of the display's own channels; rows of A sum to 1
//   f_c = PQ(S_c(x_c - b z_c) + b z_c)      x_c = PQ^-1(d_c); S_c: a rising cubic B-spline: tracking, roll-off and clip
//                                           of the channel; z_c = max(x) - x_c: a backlight that follows the brightest
//                                           channel makes the others open further, b as far again as it goes down
//   g_c = f_c (1 + sum_j k_cj f_j / top)    how the channels act on each other; top: the brightest light they were
//                                           read at
//   XYZ = B + l top (max(f) / top)^gamma + sum_c s_c(t) g_c q_c(f_c)
//   B: black. l: leakage that follows the brightest channel (a dimmed backlight). q_c: the channel's colour, which may
//   move with its level. s_c(t): the channel's state over time, from the reference white; 1 at its last reading.
//   What is left of the readings is taken up by a Gaussian process over x in I, T, P.
//
// A, S_c, q_c and B are always fitted; b, k, l with gamma, and the moving colours as the data demand (second-order
// Akaike criterion). The form is our own; that light adds up from channels with curves of their own is that of IEC
// 61966-4 and of ASTM E1682 (titles), extended.
#include <memory>
#include <span>
#include <string>
#include <vector>

#include "provenit/base/error.h"
#include "provenit/colour/matrix3.h"
#include "provenit/colour/quantities.h"
#include "provenit/signal/signal.h"

namespace provenit::correct {

/// One reading of one colour, in a picture of fixed size (the window of the run).
struct ModelReading {
  std::string name;              ///< for messages: "patch 17"
  colour::SignalRgb<> signal;    ///< what was sent, E'
  colour::AbsoluteXyz<> light;   ///< as read; may be negative near black
  colour::Matrix3<> covariance;  ///< of its noise, (cd/m2)^2
  double time_s = 0;             ///< middle of the reading after the start of the run
  bool reference = false;        ///< the white that is read again and again: shows how the display changes
};

/// Terms of the model beside those always there.
struct ModelTerms {
  bool interaction = false;       ///< k, 6 numbers
  bool leakage = false;           ///< l and gamma, 4 numbers
  bool moving_primaries = false;  ///< 6 numbers
  bool dimming = false;           ///< beta, 1 number
  bool residual_field = false;    ///< the Gaussian process
  friend bool operator==(const ModelTerms&, const ModelTerms&) = default;
};
[[nodiscard]] std::string text_of(const ModelTerms& terms);  ///< "interaction, leakage"; "none"

/// What the model leaves of one reading.
struct ModelResidual {
  std::string name;
  double delta_e_itp = 0;           ///< of the reading against the fitted model
  double held_out_delta_e_itp = 0;  ///< against a model that has not seen it
  double expected_delta_e_itp = 0;  ///< root mean square that the reading's noise alone makes
};

struct ModelReport {
  ModelTerms terms;
  std::vector<std::pair<ModelTerms, double>> tried;      ///< and the criterion's value; the least was taken
  std::vector<ModelResidual> residuals;                  ///< references left out
  double mean_held_out = 0, percentile_95_held_out = 0;  ///< Delta E ITP, noise of the readings included
  double discrepancy = 0;   ///< what the terms cannot fit beyond the noise: standard deviation in I, T and P each x 720
  double field_length = 0;  ///< of the residual field, in PQ; 0 without it
  double largest_drift_percent = 0;  ///< of a channel against the first reference
};

struct FitOptions {
  bool diagnose = true;         ///< held-out residuals (five fits more)
  bool refuse_outliers = true;  ///< false while readings are still few: then a poor model looks like a bad reading
  /// Take these terms instead of choosing.
  const ModelTerms* terms = nullptr;
};

/// A prediction with its uncertainty.
struct Predicted {
  colour::AbsoluteXyz<> light;
  colour::Matrix3<> covariance;  ///< of I, T, P: that of the parameters and of the residual field together
  double delta_e_itp = 0;        ///< its square root mean square length x 720
  bool known = true;             ///< false: no reading is near enough to say (see kUnknownDeltaE)
};
inline constexpr double kUnknownDeltaE = 3;  ///< a prediction less certain than this counts as unknown; our own choice

inline constexpr int kFewestPatches = 24;

/// A fitted display. Immutable; may be used by any number of threads.
class DisplayModel {
 public:
  /// in      at least kFewestPatches readings beside the references: full red, green, blue, white, black, and colours
  ///         between
  /// errors  invalid_input naming the reading: not finite; too few; channels swapped (a primary's colour lies nearest
  ///         another's); a clip (readings that stay where the signal doubles); a display that changed by more than 8 %
  ///         or jumped by more than 3 % between two references; a reading that none of the rest can explain
  [[nodiscard]] static Result<DisplayModel> fit(const signal::Encoding& encoding,
                                                std::span<const ModelReading> readings, const FitOptions& options = {});

  /// Light in the state of the last reference. NaN counts as black; signals are clamped to [0, 1].
  [[nodiscard]] colour::AbsoluteXyz<> light(const colour::SignalRgb<>& signal) const;
  [[nodiscard]] Predicted predict(const colour::SignalRgb<>& signal) const;

  /// The signal whose light comes nearest to this one; exact where the display can show it.
  struct Inverse {
    colour::SignalRgb<> signal;
    double delta_e_itp = 0;  ///< of light(signal) against what was asked
  };
  [[nodiscard]] Inverse signal_for(const colour::AbsoluteXyz<>& light) const;

  /// Brightest light of this chromaticity that the model can show.
  [[nodiscard]] colour::Luminance<> peak_of(const colour::Xy<>& chromaticity) const;
  /// Chromaticities of the channels at full drive, black taken off.
  [[nodiscard]] std::array<colour::Xy<>, 3> primaries() const;
  [[nodiscard]] colour::AbsoluteXyz<> black() const;

  [[nodiscard]] const signal::Encoding& encoding() const;
  [[nodiscard]] const ModelReport& report() const;

  struct State;  ///< internal: what design.cpp works with
  [[nodiscard]] const State& state() const { return *state_; }

 private:
  explicit DisplayModel(std::shared_ptr<const State> state) : state_(std::move(state)) {}
  std::shared_ptr<const State> state_;
};

}  // namespace provenit::correct
