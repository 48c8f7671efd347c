#pragma once
// What the files that compute findings share: records from linear results, from samples and from lengths.
#include <functional>
#include <span>
#include <string>
#include <vector>

#include "provenit/colour/monte_carlo.h"
#include "provenit/colour/uncertainty.h"
#include "provenit/evaluation/evaluate.h"
#include "provenit/evaluation/lengths.h"
#include "provenit/evaluation/measurement_model.h"

namespace provenit::evaluation {

using Findings = std::vector<store::FindingRecord>;

/// A computing method: what a finding cites.
struct Method {
  std::string id;  ///< with the edition where editions differ
  int version = 1;
  std::vector<std::string> sources;
};

/// Everything a computation may look at.
struct Study {
  const Light& light;
  const EvaluationInput& input;
};

/// quantity, conditions, unit, method, readings; the rest is empty.
[[nodiscard]] store::FindingRecord new_finding(std::string_view quantity, nlohmann::json conditions,
                                               const Method& method);
/// Adds the step's readings, and to the flags if some were below the instrument's range or drift could not be taken
/// out.
void use_step(store::FindingRecord& finding, const RunLight& run, const StepLight& step);

/// Value, uncertainty, t-interval, shares, contributions by linear propagation.
void set_linear(store::FindingRecord& finding, const colour::Uncertain& value, const Study& study);

/// Ratio with Fieller's interval: exact for a denominator near 0, where the ratio is not normal. When the denominator
/// is not shown to differ from 0, the interval has no upper end (infinity), and value is its lower end. source Fieller,
/// J. R. Stat. Soc. B 16 (1954) 175-185 (from memory)
void set_ratio(store::FindingRecord& finding, const colour::Uncertain& numerator, const colour::Uncertain& denominator,
               const Study& study);

/// The errors drawn for one computation, kept by source for what dominates.
struct Sampling {
  std::vector<std::vector<double>> instrument;  ///< per InstrumentSource, one error per draw
  int draws = 0;
};
/// Calls use(draw, errors) for each draw of the sources that `inputs` depend on.
[[nodiscard]] Sampling sample_errors(const Study& study, std::span<const colour::Uncertain> inputs, int draws,
                                     const std::function<void(std::size_t, std::span<const double>)>& use);

/// Shares of the variance of a sample: that of the conditional mean given one instrument source, bias removed; the rest
/// is repeatability, drift and what sources do together.
void set_shares(store::FindingRecord& finding, const std::vector<double>& sample, const Sampling& sampling,
                const Study& study);

/// Value as read, standard deviation and shortest interval of a Monte Carlo sample.
void set_sampled(store::FindingRecord& finding, double value, const std::vector<double>& sample,
                 const Sampling& sampling, const Study& study);

/// A length or a largest length, see lengths.h. `factor` turns it into the finding's unit.
void set_length(store::FindingRecord& finding, const LengthResult& result, const Sampling& sampling, const Study& study,
                double factor = 1);

[[nodiscard]] nlohmann::json interval_json(double value, const colour::Interval& interval);

/// Distance in u'v' of a step from a chromaticity.
void add_delta_uv(store::FindingRecord& finding, const Study& study, const StepLight& step, const colour::Xy<>& target);

/// Vectors that a length is taken of, one per point, as functions of the errors.
struct Vectors {
  std::size_t points = 0, dimension = 0;
  /// Writes points x dimension numbers.
  std::function<void(std::span<const double> errors, std::span<double> out)> at;
  /// Per point: the sources of its own random error.
  std::vector<std::vector<colour::SourceId>> own_sources;
};
/// The step's own random errors.
[[nodiscard]] std::vector<colour::SourceId> repeatability_of(const StepLight& step, const colour::Sources& sources);
/// Fills a problem except for its errors: vectors as read, own noise, effects of common sources (those of the
/// instrument and of drift that `inputs` depend on).
/// errors[] of the problem are reading less truth: what the model takes away from the vectors as read.
[[nodiscard]] LengthProblem length_problem(const Study& study, const Vectors& vectors,
                                           std::span<const colour::Uncertain> inputs);

/// A single vector: its length, drawn and evaluated.
void set_single_length(store::FindingRecord& finding, const Study& study, const Vectors& vectors,
                       std::span<const colour::Uncertain> inputs);
/// The largest length of several.
void set_largest_length(store::FindingRecord& finding, const Study& study, const Vectors& vectors,
                        std::span<const colour::Uncertain> inputs);
/// The range (largest less smallest) of several values, see ranges_internal.h; `in_unit` turns a range into the
/// finding's unit and must rise with it. `values` are functions of the errors.
void set_range(store::FindingRecord& finding, const Study& study, std::span<const colour::Uncertain> values,
               const std::function<double(double)>& in_unit);
/// 0 stays the least of what cannot be negative: the interval is cut, a value below 0 counts as 0.
void keep_above_zero(store::FindingRecord& finding);
/// A parameter of the run; `otherwise` where the run does not hold it.
[[nodiscard]] double parameter(const RunLight& run, const char* key, double otherwise);
/// {key: value}; a whole number stays one, so that a question's 10 and a finding's 10 are the same JSON.
[[nodiscard]] nlohmann::json number_condition(const char* key, double value);

// One file each. Each adds the findings that the run supports.
void add_warm_up_findings(Findings& out, const Study& study, const RunLight& run);
void add_black_findings(Findings& out, const Study& study, const RunLight& run);
void add_peak_findings(Findings& out, const Study& study, const RunLight& run);
void add_contrast_findings(Findings& out, const Study& study);
[[nodiscard]] Result<void> add_greyscale_findings(Findings& out, const Study& study, const RunLight& run);
void add_white_findings(Findings& out, const Study& study, const RunLight& run);
void add_primaries_findings(Findings& out, const Study& study, const RunLight& run);
void add_uniformity_findings(Findings& out, const Study& study, const RunLight& run);
void add_off_axis_findings(Findings& out, const Study& study, const RunLight& run);
void add_halo_findings(Findings& out, const Study& study, const RunLight& run);
void add_sustained_findings(Findings& out, const Study& study, const RunLight& run);
void add_stability_findings(Findings& out, const Study& study, const RunLight& run);
void add_checkerboard_findings(Findings& out, const Study& study, const RunLight& run);
void add_volume_findings(Findings& out, const Study& study, const RunLight& run);
void add_set_accuracy_findings(Findings& out, const Study& study, const RunLight& run);
void add_chart_findings(Findings& out, const Study& study, const RunLight& run);
void add_hue_findings(Findings& out, const Study& study, const RunLight& run);
void add_clip_hue_findings(Findings& out, const Study& study, const RunLight& run);
/// Takes the spectra themselves from `runs`.
void add_spectra_findings(Findings& out, const Study& study, const RunLight& run, std::span<const RunData> runs);
[[nodiscard]] Result<void> add_near_black_findings(Findings& out, const Study& study, const RunLight& run);
[[nodiscard]] Result<void> add_step_resolution_findings(Findings& out, const Study& study, const RunLight& run);

}  // namespace provenit::evaluation
