#pragma once
// Light that codes of any colour are to give, and what lies between it and the light shown.
#include <array>
#include <optional>
#include <span>
#include <vector>

#include "findings_internal.h"
#include "itp_internal.h"

namespace provenit::evaluation {

/// Monte Carlo draws that findings of many colours take at most, as each is a whole set of lights: enough for ends of
/// intervals good to 2 % of their width, and within seconds for hundreds of patches.
inline constexpr int kMostDraws = 4000;

/// PQ: light of the codes, each component of the container held at the luminance of the display's own white (the
/// clipped colour). HLG and BT.1886: for the display's own peak and black. Both from the run's steps "white" and
/// "black", which carry their errors into the target.
class ColourTarget {
 public:
  struct Display {
    double peak_cdm2 = 0, black_cdm2 = 0;
  };

  ColourTarget(const Study& study, const RunLight& run);
  /// False if the run has no white, or HLG or BT.1886 no black.
  [[nodiscard]] bool known() const { return known_; }
  [[nodiscard]] const std::vector<colour::Uncertain>& inputs() const { return inputs_; }
  [[nodiscard]] bool uses(const StepLight& step) const { return &step == white_ || &step == black_; }
  [[nodiscard]] Display display_at(std::span<const double> errors) const;
  /// `clipped` as above; false leaves PQ light as the codes ask for it.
  [[nodiscard]] colour::AbsoluteXyz<> at(const signal::CodeRgb& code, const Display& display,
                                         bool clipped = true) const;
  /// Adds the readings the target is made of.
  void use(store::FindingRecord& finding, const RunLight& run) const;
  /// "what/BT.2100-3-PQ" and the like, with the encoding's documents and those given.
  [[nodiscard]] Method method(const char* what, const std::vector<std::string>& documents) const;

 private:
  signal::Encoding encoding_;
  colour::Matrix3<> to_xyz_;
  double surround_cdm2_ = 5;
  bool known_ = false;
  const StepLight *white_ = nullptr, *black_ = nullptr;
  std::vector<colour::Uncertain> inputs_;
};

/// 720 x (dI, dT, dP), light less target: its length is Delta E ITP. source  Rec. ITU-R BT.2124-0 (01/2019)
[[nodiscard]] std::array<double, 3> itp_between(const colour::AbsoluteXyz<>& light,
                                                const colour::AbsoluteXyz<>& target);
/// A vector of the length of CIEDE2000, in the direction of the CIELAB difference. source  ISO/CIE 11664-6:2014
[[nodiscard]] std::array<double, 3> ciede2000_between(const colour::AbsoluteXyz<>& light,
                                                      const colour::AbsoluteXyz<>& target,
                                                      const colour::AbsoluteXyz<>& white);
/// Hue angle in ICtCp, degrees: atan2(Cp, Ct).
[[nodiscard]] double ictcp_hue_degrees(const colour::AbsoluteXyz<>& light);
/// a - b, brought to -180 to 180.
[[nodiscard]] double turn_between(double a_degrees, double b_degrees);

/// Steps whose key begins with this, in the order read.
[[nodiscard]] std::vector<const StepLight*> steps_with_prefix(const RunLight& run, std::string_view prefix);
/// X, Y, Z of these steps and what the target is made of.
[[nodiscard]] std::vector<colour::Uncertain> inputs_of(std::span<const StepLight* const> steps,
                                                       const ColourTarget& target);
/// Per step its own random errors; none for a step that the target is made of, or for `base`.
[[nodiscard]] std::vector<std::vector<colour::SourceId>> own_sources_of(std::span<const StepLight* const> steps,
                                                                        const ColourTarget& target, const Study& study,
                                                                        const StepLight* base = nullptr);

/// Vectors of a computation with the errors of every draw filled in.
struct SampledVectors {
  LengthProblem problem;
  Sampling sampling;
};
[[nodiscard]] SampledVectors sample_vectors(const Study& study, const Vectors& vectors,
                                            std::span<const colour::Uncertain> inputs, int draws);

/// The value and interval of a count: what is shown at least, what is found, what is possible at most. The standard
/// uncertainty is that of a rectangle over the interval.
void set_count(store::FindingRecord& finding, double value, double least, double most, const char* interval_method);

}  // namespace provenit::evaluation
