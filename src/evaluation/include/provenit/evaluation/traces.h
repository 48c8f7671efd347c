#pragma once
// Figures from a light sensor's trace: zones by a walking box, rise and fall, afterglow, flicker, delay. Pure: samples
// in, figures with 95 % intervals out. All are ratios or times, so the sensor's scale does not matter; its linearity
// does, and is not in the intervals. Methods and limits: docs/methods/zone_walk.md, light_steps.md, flicker.md,
// input_delay.md.
#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "provenit/base/error.h"
#include "provenit/colour/statistics.h"

namespace provenit::evaluation {

/// A figure, its 95 % interval, and what its variance is made of (largest first, fractions of 1).
struct Figure {
  double value = 0, standard_uncertainty = 0;
  colour::Interval interval;
  std::string interval_method;
  struct Share {
    std::string source;
    double fraction = 0;
  };
  std::vector<Share> variance;
};

/// One channel of a trace.
struct Samples {
  std::span<const double> values;  ///< finite, any unit, rising with light, linear
  double rate_hz = 0;              ///< > 0, of the recorder
  double rate_relative = 1e-4;     ///< standard uncertainty of the rate, relative
  double bandwidth_hz = 0;         ///< of the sensor (-3 dB, first order); 0: far above anything looked for
};

/// How the box walked: frame k covers [k step, k step + along) of `length`.
struct WalkPath {
  int frames = 0;
  double step = 1, along = 1, length = 1;  ///< pixels
  double frame_s = 0;                      ///< how long each frame stayed, > 0
};

struct ZoneCount {
  bool steps_seen = false;  ///< false: no steps stand out; the rest is empty
  int zones = 0;            ///< along the walk: the most probable whole number
  double probability = 0;   ///< of that number, 0 to 1
  Figure count;             ///< value = zones; interval: whole numbers that hold 95 % of the probability between them
  Figure pitch;             ///< pixels
  double start_s = 0;       ///< when the walk begins in the trace
  struct Candidate {
    int zones = 0;
    double probability = 0;
  };
  std::vector<Candidate> candidates;  ///< those above 0.001, rising
  std::vector<double> light;          ///< mean of each frame, for the chart
};

/// Counts zones along a walk by the period of its steps (a jump of light when the box enters a zone, or a bump while it
/// lies in two). In the trace it is black for a quarter of a second at least before the walk, which begins where light
/// first rises; `start_s` states that moment instead (to a few frames), for a sensor that does not see the beginning.
/// Assumes a regular grid that spans the raster, of zones at least three boxes long.
/// errors  invalid_input if the trace ends before the walk, the box is not shorter than the length, or fewer than 32
///         frames; out_of_range for times and lengths not above 0
/// source  common practice, no source (period of the read light along the walk); the comb and its probability: ours
[[nodiscard]] Result<ZoneCount> count_zones(const Samples& light, const WalkPath& path,
                                            std::optional<double> start_s = {});
/// The same from one value per frame of the walk (a camera clip's region means), in order. `errors` as above.
[[nodiscard]] Result<ZoneCount> count_zones(std::span<const double> light_per_frame, const WalkPath& path);

/// Zones of both walks together: product, with the interval of products that hold 95 % of the joint probability.
[[nodiscard]] Figure zone_product(const ZoneCount& across, const ZoneCount& down);

struct LightSteps {
  int rises = 0, falls = 0;       ///< edges used
  std::optional<Figure> rise_ms;  ///< 10 % to 90 % of the step; nullopt: fewer than 3 edges
  std::optional<Figure> fall_ms;  ///< 90 % to 10 %
  struct Afterglow {
    double after_s = 0;
    Figure percent;  ///< of the step left, that long after the light has fallen to 90 %
  };
  std::vector<Afterglow> afterglow;
  bool rise_at_limit = false, fall_at_limit = false;  ///< sensor or rate too slow: the true time is at most the value
};

/// Light switched on and off at least 3 times, each state held until it has settled (its last third is its level).
/// Times are corrected for the sensor's own (0.35 / bandwidth, in quadrature).
/// errors  invalid_input if no two levels or fewer than 3 edges of a kind stand out
/// source  10-90 % response: IDMS (name from memory); interpolation and intervals: ours
[[nodiscard]] Result<LightSteps> measure_light_steps(const Samples& light, std::span<const double> after_s);

struct Flicker {
  Figure frequency_hz;                   ///< of the light's period
  Figure percent;                        ///< 100 (max - min) / (max + min) over the mean period
  Figure index;                          ///< area above the mean / whole area, over the mean period
  double peak_hz = 0, peak_percent = 0;  ///< strongest line of the spectrum, its amplitude in % of the mean
  bool below_noise = false;              ///< no line stands out: frequency is empty, percent an upper bound
  std::vector<double> period;            ///< mean period in 64 equal parts, mean = 1, for the chart
};
/// `dark`: what the sensor gives without light, in the unit of the values. At least 8 samples per period and 20
/// periods. Random draws come from `seed`.
/// errors  invalid_input if the mean is not above dark, or the trace is too short or too slow
/// source  percent flicker and flicker index: IES Lighting Handbook (from memory); Hann window and its correction:
///         Harris, Proc. IEEE 66 (1978) 51 (from memory)
[[nodiscard]] Result<Flicker> measure_flicker(const Samples& light, double dark, std::uint64_t seed);

struct Delay {
  Figure mean_ms;    ///< from half way of the marker's rise to half way of the light's
  Figure jitter_ms;  ///< standard deviation of the single delays
  std::vector<double> delays_ms;
};
/// Both channels are of one recorder and as long. Each rise of the marker is paired with the next rise of the light
/// before the marker's next. At least 5 pairs.
/// errors  invalid_input if edges do not stand out or cannot be paired
/// source  ours; interval of a standard deviation after Bonett, Comput. Stat. Data Anal. 50 (2006) 775 (from memory)
[[nodiscard]] Result<Delay> measure_delay(const Samples& marker, const Samples& light);

}  // namespace provenit::evaluation
