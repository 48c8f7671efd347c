#pragma once
// The parts of the white-balance aid: errors against tolerance, what the controls do, which setting is best.
#include <Eigen/Dense>
#include <vector>

#include "provenit/correct/white_balance.h"

namespace provenit::correct::balance {

/// Errors: those of next_balance_step.
[[nodiscard]] Result<void> check(const BalanceTask& task);
[[nodiscard]] Result<void> check(const BalanceTask& task, const BalanceVisit& visit, std::size_t number);

/// Error of a level in units of the tolerance: at most three components, the length of the first two (or, for Delta E
/// ITP, of all) and the third by itself are what must not exceed 1.
struct Errors {
  Eigen::Vector3d e = Eigen::Vector3d::Zero();
  bool together = false;  ///< all three make one length
  [[nodiscard]] double ratio() const;
};
inline constexpr double kNoLight = 1e3;  ///< tolerances that a level without light is off
[[nodiscard]] Errors errors_of(const BalanceTask& task, std::size_t level, const colour::AbsoluteXyz<>& light);

/// The coordinates in which the light is close to linear in the settings.
class Coordinates {
 public:
  Coordinates(const BalanceTask& task, std::span<const BalanceVisit> visits);
  [[nodiscard]] Eigen::Vector3d z(std::size_t level, const colour::AbsoluteXyz<>& light) const;
  [[nodiscard]] colour::AbsoluteXyz<> light(std::size_t level, const Eigen::Vector3d& z) const;

 private:
  std::vector<Eigen::Vector3d> reference_;
};

/// Errors where the line has it; a level that it makes dark is far off, the more the darker.
[[nodiscard]] Errors errors_at(const BalanceTask& task, const Coordinates& coordinates, std::size_t level,
                               const Eigen::Vector3d& z);

/// Errors and their slopes over z.
struct Linear {
  Eigen::Vector3d e;
  Eigen::Matrix3d slope;
};
[[nodiscard]] Linear linear(const BalanceTask& task, const Coordinates& coordinates, std::size_t level,
                            const Eigen::Vector3d& z);

/// What the readings say of the light of one level around the centre: z = mean^T (1, t), t = (settings - centre) /
/// range, covariance x identity over the three components.
struct Response {
  Eigen::MatrixXd mean;        ///< (1 + controls) x 3
  Eigen::MatrixXd covariance;  ///< (1 + controls) square
  [[nodiscard]] Eigen::Vector3d z(const Eigen::VectorXd& t) const;
  [[nodiscard]] double variance(const Eigen::VectorXd& t) const;
};

/// Settings as shares of their ranges, from the centre.
[[nodiscard]] Eigen::VectorXd shares(const BalanceTask& task, const ControlSettings& settings,
                                     const ControlSettings& centre);

/// Which levels of which visits have light.
using Lit = std::vector<std::vector<bool>>;

/// One response per level, from the complete and incomplete visits. Where the centre's level has light, visits without
/// say nothing of how it changes.
[[nodiscard]] std::vector<Response> responses(const BalanceTask& task, std::span<const BalanceVisit> visits,
                                              const Lit& lit, const Coordinates& coordinates, std::size_t centre,
                                              const colour::Sources& sources, std::span<const colour::SourceId> common);

/// The visit before this one that a probe set out from: another in one control only, and no probe itself; nullptr if
/// somebody set more than was asked.
[[nodiscard]] const BalanceVisit* base_of(const BalanceVisit& probe, std::span<const BalanceVisit> visits);

/// Model of the whole display around one setting.
struct Model {
  const BalanceTask& task;
  const Coordinates& coordinates;
  ControlSettings centre;
  std::vector<Response> levels;
  std::vector<bool> inert;  ///< controls that were turned far and did nothing: they stay where they are

  /// Largest ratio over the levels at these settings: by the mean, or with the model's own uncertainty added.
  [[nodiscard]] double score(const ControlSettings& settings, bool expected) const;
};

/// Least squares over t: minimise t^T H t / 2 + g^T t.
struct Quadratic {
  Eigen::MatrixXd h;
  Eigen::VectorXd g;
};

struct Ends {
  Eigen::VectorXd lowest, highest;
};
/// The minimum within the ends, for H positive definite.
[[nodiscard]] Eigen::VectorXd within_ends(const Quadratic& q, const Ends& ends);

/// Best real-valued setting with the ends moved out by `beyond` ranges, as t; weights go to the levels that are worst.
struct Best {
  Eigen::VectorXd t;
  Quadratic quadratic;  ///< at it
};
/// `caution`: how much the model's own uncertainty counts; 1 as it stands, 0 not at all.
[[nodiscard]] Best best_real(const Model& model, double beyond, double caution);

/// Settings on the controls' steps, best first by the quadratic: the best one is exact as long as `complete`.
struct Candidates {
  std::vector<ControlSettings> settings;
  bool complete = true;
};
[[nodiscard]] Candidates best_on_steps(const Model& model, const Best& real, std::size_t count);

/// Setting number k of a control; how many there are beyond the lowest.
[[nodiscard]] double value_of(const Control& control, long k);
[[nodiscard]] long steps_of(const Control& control);

/// Uncertain without the errors that all readings share.
[[nodiscard]] colour::Uncertain noise_only(const colour::Uncertain& value, std::span<const colour::SourceId> common);

[[nodiscard]] std::vector<ControlEffect> effects_of(const Model& model);
/// Full-range effect of a control at its strongest level, in tolerances, with `deviations` of its uncertainty added,
/// and the strongest effect in its own uncertainty.
struct Strength {
  double tolerances = 0, deviations = 0;
};
[[nodiscard]] Strength strength_of(const Model& model, std::size_t control, double deviations);
[[nodiscard]] Strength strength_at(const Model& model, std::size_t control, std::size_t level, double deviations);

/// Nothing where every level is within tolerance.
[[nodiscard]] std::vector<BalanceReason> reasons_for(const Model& model, std::span<const LevelFigures> after,
                                                     bool capped);

}  // namespace provenit::correct::balance
