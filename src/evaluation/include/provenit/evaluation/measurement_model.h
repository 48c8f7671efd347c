#pragma once
// The measurement model: what the readings of a loan say about the display's light, with every error as a named source.
//
//   reading_k = M_k D_k(t) light_k + zero_k + noise_k        k = X, Y, Z
//
//   M      the instrument's gains. M_Y = 1 + s; M_X = (1 + s) (1 + g_X), M_Z = (1 + s) (1 + g_Z), where g_X and g_Z are
//          the relative changes of X/Y and Z/Y that a chromaticity error dx, dy of the calibration source (white
//          x 0.3127, y 0.3290) makes: g_X = dx/x - dy/y, g_Z = -(dx + dy)/z - dy/y. s, dx, dy ~ N(0, U/k) from the
//          certificate, common to all readings of the instrument. Other colours get the same relative errors of X and
//          Z: an assumption (docs/methods/evaluation.md), as a certificate says nothing of them.
//   zero   dark offset of each channel, N(0, certificate), independent between channels, common to all readings.
//   noise  repeatability, pooled over the repeats of all steps with the instrument's capabilities as prior (JCGM 100
//          G.4.2: taken as good to 25 %, so 8 degrees of freedom): sqrt((a v)^2 + f^2) of the capabilities times a
//          factor estimated apart for light where the relative part dominates and where the floor does. What the three
//          channels' relative parts have in common is estimated from the repeats alone (more than three degrees of
//          freedom, else nothing). If the repeats contradict the prior (F test, 1 %) it is dropped.
//   matrix of a colorimeter, if EvaluationInput has one: the readings go through it first; what it leaves unknown is
//   common
//          to all of them (the covariance of its entries) or each colour's own (its misfit). M and its errors are then
//          those of the reference it was made with.
//   D      state of the display against that at the run's FIRST reference reading: the reference readings' ratio,
//          linear in time between them, with their own noise; per channel for greys (R' = G' = B'), by luminance for
//          colours. Curvature between references is estimated from the references themselves.
//
// light_k is then the display in the state of the run's first reference reading: what findings refer to.
#include <array>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "provenit/colour/uncertainty.h"
#include "provenit/evaluation/evaluate.h"

namespace provenit::evaluation {

/// Names of sources, as they appear in findings.
inline constexpr const char* kLuminanceScale = "instrument's luminance scale";
inline constexpr const char* kChromaticityX = "instrument's chromaticity x";
inline constexpr const char* kChromaticityY = "instrument's chromaticity y";
inline constexpr const char* kZeroOffset = "instrument's zero offset";
inline constexpr const char* kRepeatability = "repeatability";
inline constexpr const char* kColorimeterMatrix = "colorimeter's matrix";
inline constexpr const char* kColorimeterMisfit = "colour that the matrix does not fit";
inline constexpr const char* kDriftReference = "noise of the drift reference";
inline constexpr const char* kDriftBetween = "drift between references";

/// Errors common to all readings of the instrument, with the keys under which findings carry them.
struct InstrumentSource {
  const char* key;  ///< "luminance_scale", "chromaticity_x", "chromaticity_y", "zero_x", "zero_y", "zero_z"
  colour::SourceId id;
};

/// One step of a run, all its repeats together.
struct StepLight {
  std::string key;
  signal::Signal signal;
  colour::AbsoluteXyz<colour::Uncertain> light;  ///< in the state of the run's first reference reading
  std::vector<store::Id> readings;
  int below_range = 0;  ///< readings the instrument flagged so
  double time_s = 0;    ///< mean of the middles of its readings, after the start of the run's first reading
  nlohmann::json context = nlohmann::json::object();  ///< of its first reading: placement, time since it was shown
};

/// A reference reading as read (instrument and drift not taken out).
struct ReferenceReading {
  double time_s = 0;  ///< middle of the integration after the start of the first one
  colour::AbsoluteXyz<> xyz;
  store::Id reading = 0;
};

struct RunLight {
  std::string procedure;
  int procedure_version = 1;
  nlohmann::json parameters;
  std::vector<StepLight> steps;  ///< without "reference", in the order first read
  std::vector<ReferenceReading> references;
  bool drift_corrected = false;  ///< at least two reference readings, and not watches_drift
  /// One of the procedures that watch how the display changes (warm_up, sustained, stability): its steps are the light
  /// at the time they were read.
  bool watches_drift = false;
  /// nullptr if the run has no such step.
  [[nodiscard]] const StepLight* find(std::string_view key) const;
};

struct Light {
  colour::Sources sources;
  std::array<InstrumentSource, 6> instrument{};
  std::vector<colour::SourceId> matrix;  ///< errors of a colorimeter's matrix that all greys share
  /// One standard deviation of a single reading of Y by the pooled estimate, and its degrees of freedom.
  struct Repeatability {
    double factor = 1;  ///< on the capabilities' sqrt((a Y)^2 + f^2)
    double degrees_of_freedom = 8;
    bool prior_dropped = false;
  };
  Repeatability bright, dark;
  std::vector<RunLight> runs;  ///< by procedure, the newest first
  /// The newest run of this procedure; nullptr if there is none.
  [[nodiscard]] const RunLight* find(std::string_view procedure) const;
};

/// Of several runs of one procedure with the same parameters (procedure::identity_of) the latest one with readings
/// counts; open ones only if no run of the procedure is finished, aborted ones never.
/// Errors: invalid_input naming the reading: saturated, not finite, one step key with two signals, a reference of no
/// luminance; out_of_range for a certificate with a coverage factor <= 0 or a negative uncertainty.
[[nodiscard]] Result<Light> model_light(std::span<const RunData> runs, const EvaluationInput& input);

}  // namespace provenit::evaluation
