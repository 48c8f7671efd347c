#pragma once
// A greyscale run as a series of steps with targets, and the one pass of draws that all its findings share.
#include <span>
#include <vector>

#include "findings_internal.h"
#include "itp_internal.h"

namespace provenit::evaluation {

/// Light that each signal is to give. PQ: of the signal alone. HLG and BT.1886: for the display's own peak and black as
/// measured, which carry their errors into the target.
class Target {
 public:
  /// Takes peak and black from the greyscale run itself where it has the codes for E' = 1 and 0, else from the window
  /// of the same size and from the full-field black. `known()` is false if HLG or BT.1886 lacks one of them.
  Target(const Study& study, const RunLight& greyscale);
  [[nodiscard]] bool known() const { return known_; }
  /// The display's peak and black as inputs of the model; empty for PQ.
  [[nodiscard]] const std::vector<colour::Uncertain>& inputs() const { return inputs_; }
  [[nodiscard]] const std::vector<const StepLight*>& steps() const { return steps_; }
  /// Writes the luminance of each signal for one draw of errors.
  void at(std::span<const double> signals, std::span<const double> errors, std::span<double> cdm2) const;
  /// "eotf-tracking/BT.2100-3-PQ" and the like, with the documents and what was taken from where.
  [[nodiscard]] Method method(const char* what) const;
  [[nodiscard]] nlohmann::json details() const;

 private:
  signal::Encoding encoding_;
  double surround_cdm2_ = 5;
  bool known_ = false;
  std::vector<colour::Uncertain> inputs_;  // peak, black
  std::vector<const StepLight*> steps_;
};

struct GreyStep {
  const StepLight* step = nullptr;
  int code = 0;
  double signal = 0;  ///< E'
};

/// Steps "grey_<code>" of one run, in rising order of code.
struct Greyscale {
  const RunLight* run = nullptr;
  std::vector<GreyStep> steps;
  std::vector<double> signals;
  std::vector<double> target_cdm2;  ///< as computed from the readings
  std::size_t clip = 0;             ///< index of the first step on the plateau; steps.size() if there is none
};
/// Errors: invalid_input naming the reading if a step's patch is no grey or its code is not the one of its key.
[[nodiscard]] Result<Greyscale> greyscale_of(const RunLight& run, const Target& target,
                                             const instrument::Capabilities& capabilities);

/// First step of the plateau that ends at the highest code: all from it on give the highest luminance within the
/// procedure's tolerance (0.5 %, or four times the repeatability). steps.size() if only the highest code does.
[[nodiscard]] std::size_t clip_step(std::span<const double> cdm2, double tolerance);
[[nodiscard]] double clip_tolerance(const RunLight& run, const instrument::Capabilities& capabilities);

/// Numbers per step of the shared pass.
enum Component : std::size_t { whole = 0, luminance = 3, chromaticity = 4, uv = 7, deviation = 9, components = 10 };

struct GreyscaleSample {
  LengthProblem all;  ///< `components` numbers per step; errors of every draw
  Sampling sampling;
  std::vector<std::vector<float>> cdm2;  ///< per step: luminance in each draw
};
[[nodiscard]] GreyscaleSample sample_greyscale(const Study& study, const Greyscale& greyscale, const Target& target);
/// Some components of some steps, of the first `draws` draws, as a problem of its own.
[[nodiscard]] LengthProblem slice(const LengthProblem& all, std::span<const std::size_t> steps, Component first,
                                  std::size_t dimension, std::size_t draws);

void add_clip_findings(Findings& out, const Study& study, const Greyscale& greyscale, const Target& target,
                       const GreyscaleSample& sample);
void add_white_tracking(Findings& out, const Study& study, const Greyscale& greyscale, const GreyscaleSample& sample);

}  // namespace provenit::evaluation
