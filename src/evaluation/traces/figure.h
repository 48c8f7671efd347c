#pragma once
// Figures from repeated values and from what is common to them all.
#include <span>
#include <string>
#include <utility>
#include <vector>

#include "provenit/evaluation/traces.h"

namespace provenit::evaluation {

/// Mean of repeated values with the standard uncertainties that are common to all of them (each normal): t-interval,
/// effective degrees of freedom by Welch-Satterthwaite (JCGM 100 G.4.1). At least 2 values.
[[nodiscard]] Figure mean_figure(std::span<const double> values,
                                 const std::vector<std::pair<std::string, double>>& common,
                                 const std::string& repeat_name = "scatter of the repeats");
/// Figure from a list of named standard uncertainties; the first has `degrees_of_freedom`, the others none.
[[nodiscard]] Figure figure_of(double value, const std::vector<std::pair<std::string, double>>& parts,
                               double degrees_of_freedom);

/// An edge between two settled levels.
struct Edge {
  bool rising = false;
  std::size_t from = 0, to = 0;  ///< samples: middle of the state before, and of the one after
  std::size_t until = 0;         ///< last sample of the state after
  double before = 0, after = 0;  ///< levels: means near the end of each state, from 75 to 92 % of it
  std::size_t crossing = 0;      ///< sample nearest to half way
};
/// Edges between two levels that stand out from the noise, into states that last (at least half as long as most of
/// their kind) and are near their level half way through. Empty if none do.
[[nodiscard]] std::vector<Edge> find_edges(std::span<const double> values);
/// Parabola through the samples within half_width of `at`, by least squares: its value and slope (per sample) there.
/// NaN where the samples end sooner. half_width at least 1.
struct LocalFit {
  double value = 0, slope = 0;
};
[[nodiscard]] LocalFit local_fit(std::span<const double> values, double at, std::size_t half_width);
/// Time in samples at which the edge passes this share (0 to 1) of its step, between samples: root of a parabola fitted
/// to those around. NaN if there is none. in  `half_width`: samples on either side, at least 1
[[nodiscard]] double crossing_time(std::span<const double> values, const Edge& edge, double share,
                                   std::size_t half_width);

}  // namespace provenit::evaluation
