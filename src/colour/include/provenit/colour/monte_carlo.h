#pragma once
// Propagation of distributions by Monte Carlo (JCGM 101) over the sources of uncertainty.h.
//
// Reproducible: each number is a pure function of (seed, draw, source), by a counter-based generator in integer
// arithmetic, so a result depends neither on the order of the draws nor on which other sources are drawn. Normal
// numbers are made by the inverse distribution function in this library. From one C library to another the results can
// differ in the last bits of log and pow, not in the stream.
#include <cstdint>
#include <functional>
#include <span>
#include <vector>

#include "provenit/base/error.h"
#include "provenit/colour/statistics.h"
#include "provenit/colour/uncertainty.h"

namespace provenit::colour {

/// Standard normal quantile, 0 < p < 1, within 1e-15 relative.
/// source  Wichura, Algorithm AS 241 (PPND16), Applied Statistics 37 (1988) 477-484
[[nodiscard]] double normal_quantile(double p);

/// 128 random bits from a 128-bit counter and a 64-bit key.
/// source  Salmon, Moraes, Dror, Shaw, "Parallel random numbers: as easy as 1, 2, 3", SC11 (2011): Philox4x32-10
struct Bits128 {
  std::uint32_t word[4];
};
[[nodiscard]] Bits128 philox4x32(const Bits128& counter, std::uint64_t key);

/// Draws the errors of sources. Normal and correlated normal sources; rectangular and triangular ones (JCGM 101, 6.4.2,
/// 6.4.5); sources of a pool with finite degrees of freedom nu get the scaled t-distribution (6.4.9), with one common
/// chi-square factor for all sources of the pool, as they share one variance estimate.
class ErrorSampler {
 public:
  /// Draws every source, or only `wanted` (any order; a correlated group comes whole). Keeps a reference to `sources`.
  ErrorSampler(const Sources& sources, std::uint64_t seed);
  ErrorSampler(const Sources& sources, std::uint64_t seed, std::span<const SourceId> wanted);
  /// Writes the errors of draw number `draw`, indexed by source, into `errors` (size sources.size(); the others are
  /// left alone).
  void draw(std::uint64_t draw, std::span<double> errors) const;

 private:
  const Sources& sources_;
  std::uint64_t seed_;
  std::vector<SourceId> independent_;
  std::vector<const CorrelatedGroup*> groups_;
  std::vector<PoolId> pools_;
};

/// The sources that these numbers depend on, ascending.
[[nodiscard]] std::vector<SourceId> sources_of(std::span<const Uncertain> numbers);

/// Outputs (written) from one draw of errors (indexed by source).
using Model = std::function<void(std::span<const double> errors, std::span<double> outputs)>;

struct MonteCarloOptions {
  std::uint64_t seed = 1;
  int draws = 20000;
};

/// Values of every output over the draws: sample[output][draw].
[[nodiscard]] std::vector<std::vector<double>> propagate(const Sources& sources, const Model& model,
                                                         std::size_t outputs, const MonteCarloOptions& options);

struct MonteCarloSummary {
  double mean = 0;
  double standard_uncertainty = 0;  ///< standard deviation of the draws
  Interval symmetric, shortest;     ///< coverage intervals, JCGM 101 7.7.2 and 5.3.4
  std::int64_t draws = 0;
};
/// Takes the sample by value because it sorts it. At least 2 finite values.
/// source  JCGM 101:2008, 7.6, 7.7
[[nodiscard]] MonteCarloSummary summarise(std::vector<double> sample, double coverage = kCoverage);

struct AdaptiveOptions {
  std::uint64_t seed = 1;
  int significant_digits = 2;  ///< of the standard uncertainty that are to be right
  std::int64_t maximum_draws = 10'000'000;
  double coverage = kCoverage;
};
struct AdaptiveResult {
  MonteCarloSummary summary;
  double tolerance = 0;    ///< delta of 7.9.2
  bool converged = false;  ///< false if maximum_draws came first
};
/// Draws in blocks of 10,000 until mean, standard uncertainty and the ends of the shortest interval of every output
/// have settled within the numerical tolerance of the digits asked for. source  JCGM 101:2008, 7.9.2, 7.9.4
[[nodiscard]] std::vector<AdaptiveResult> propagate_adaptively(const Sources& sources, const Model& model,
                                                               std::size_t outputs, const AdaptiveOptions& options);

}  // namespace provenit::colour
