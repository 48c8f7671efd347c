// Flicker: the light's period, its mean shape over one period, and what that shape is summed up to.
#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <complex>
#include <numbers>
#include <unsupported/Eigen/FFT>

#include "provenit/colour/monte_carlo.h"
#include "traces/figure.h"
#include "traces/pulses.h"

namespace provenit::evaluation {
namespace {

constexpr int kFlickerParts = 64;  // of a period
constexpr int kSegments = 16;      // of the trace, for the frequency
constexpr int kFlickerDraws = 400;
constexpr double kFewestPeriods = 20, kFewestPerPeriod = 8;
using Complex = std::complex<double>;

struct FlickerSpectrum {
  std::vector<double> amplitude;  ///< of a sine at each line, window corrected
  double line_hz = 0;
  double noise = 0;  ///< median amplitude
};

/// Hann window: amplitudes are divided by its mean (1/2), and the highest line by the window's shape between lines.
FlickerSpectrum spectrum_of(std::span<const double> values, double mean, double rate_hz) {
  std::size_t size = 1;
  while (2 * size <= values.size() && size < (std::size_t{1} << 18)) size *= 2;
  std::vector<double> windowed(size);
  for (std::size_t i = 0; i < size; ++i)
    windowed[i] = (values[i] - mean) *
                  (0.5 - 0.5 * std::cos(2 * std::numbers::pi * static_cast<double>(i) / static_cast<double>(size)));
  Eigen::FFT<double> fft;
  std::vector<Complex> lines;
  fft.fwd(lines, windowed);
  FlickerSpectrum out{.line_hz = rate_hz / static_cast<double>(size)};
  for (std::size_t k = 0; k <= size / 2; ++k)
    out.amplitude.push_back(4 * std::abs(lines[k]) / static_cast<double>(size));
  auto sorted = out.amplitude;
  std::ranges::sort(sorted);
  out.noise = colour::quantile(sorted, 0.5);
  return out;
}

struct Peak {
  double hz = 0, amplitude = 0;
};
/// Between the lines by the ratio of the highest to its larger neighbour, exact for one sine under a Hann window.
Peak peak_at(const FlickerSpectrum& s, std::size_t k) {
  const double left = s.amplitude[k - 1], right = s.amplitude[k + 1], top = s.amplitude[k];
  const double ratio = std::max(left, right) / top;
  const double off = std::clamp((2 * ratio - 1) / (ratio + 1), -0.5, 0.5) * (right >= left ? 1 : -1);
  const double pi_off = std::numbers::pi * off;
  const double droop = std::fabs(off) < 1e-6 ? 1 : std::sin(pi_off) / pi_off / (1 - off * off);
  return {(static_cast<double>(k) + off) * s.line_hz, top / droop};
}
std::size_t highest_line(const FlickerSpectrum& s, double from_hz, double to_hz) {
  const auto last = s.amplitude.size() - 2;
  std::size_t best = std::clamp<std::size_t>(static_cast<std::size_t>(std::ceil(from_hz / s.line_hz)), 3, last);
  for (std::size_t k = best; k <= last && static_cast<double>(k) * s.line_hz <= to_hz; ++k)
    if (s.amplitude[k] > s.amplitude[best]) best = k;
  return best;
}

/// The strongest line, or the line of half, a third or a quarter of its frequency if the light repeats only so often.
Peak fundamental_of(const FlickerSpectrum& s, const Peak& peak) {
  for (int divisor = 4; divisor > 1; --divisor) {
    const double hz = peak.hz / divisor;
    if (hz < 4 * s.line_hz) continue;
    const auto line = peak_at(s, highest_line(s, hz - 1.5 * s.line_hz, hz + 1.5 * s.line_hz));
    if (line.amplitude > 8 * s.noise && line.amplitude > 0.03 * peak.amplitude &&
        std::fabs(line.hz - hz) < 0.5 * s.line_hz)
      return {hz, line.amplitude};
  }
  return peak;
}

/// Phase of the fundamental, segment by segment, against time: its slope corrects the frequency, its scatter says how
/// well it is known.
Figure frequency_figure(const Samples& light, double mean, double hz) {
  const std::size_t length = light.values.size() / kSegments;
  std::vector<double> time, phase;
  for (int s = 0; s < kSegments; ++s) {
    Complex sum;
    for (std::size_t i = 0; i < length; ++i) {
      const auto at = static_cast<std::size_t>(s) * length + i;
      const double window =
          1 - std::cos(2 * std::numbers::pi * (static_cast<double>(i) + 0.5) / static_cast<double>(length));
      sum += window * (light.values[at] - mean) *
             std::polar(1.0, -2 * std::numbers::pi * hz * static_cast<double>(at) / light.rate_hz);
    }
    double p = std::arg(sum);
    if (!phase.empty()) p = phase.back() + std::remainder(p - phase.back(), 2 * std::numbers::pi);
    phase.push_back(p);
    time.push_back((static_cast<double>(s) + 0.5) * static_cast<double>(length) / light.rate_hz);
  }
  const double t0 = colour::mean(time), p0 = colour::mean(phase);
  double tt = 0, tp = 0, rest = 0;
  for (int s = 0; s < kSegments; ++s) tt += std::pow(time[s] - t0, 2), tp += (time[s] - t0) * (phase[s] - p0);
  const double slope = tp / tt;
  for (int s = 0; s < kSegments; ++s) rest += std::pow(phase[s] - p0 - slope * (time[s] - t0), 2);
  const double u = std::sqrt(rest / (kSegments - 2) / tt) / (2 * std::numbers::pi);
  const double found = hz + slope / (2 * std::numbers::pi);
  return figure_of(found, {{"phase noise over the trace", u}, {"recorder's rate", light.rate_relative * found}},
                   kSegments - 2);
}

/// Mean light in each part of the period, and its standard uncertainty.
struct Period {
  std::array<double, kFlickerParts> light{};
  double noise = 0;
};
Period fold(const Samples& light, double dark, double hz) {
  Period out;
  std::array<double, kFlickerParts> squares{}, count{};
  for (std::size_t i = 0; i < light.values.size(); ++i) {
    const double turns = hz * static_cast<double>(i) / light.rate_hz;
    const int part = std::min(kFlickerParts - 1, static_cast<int>(kFlickerParts * (turns - std::floor(turns))));
    const double v = light.values[i] - dark;
    out.light[part] += v;
    squares[part] += v * v;
    count[part] += 1;
  }
  // Median over the parts: those that hold an edge of the light spread for another reason.
  std::vector<double> variance;
  for (int k = 0; k < kFlickerParts; ++k) {
    const double n = std::max(2.0, count[k]);
    out.light[k] /= n;
    variance.push_back(std::max(0.0, squares[k] - n * out.light[k] * out.light[k]) / (n - 1));
  }
  std::ranges::sort(variance);
  const double per_part = static_cast<double>(light.values.size()) / kFlickerParts;
  out.noise = std::sqrt(colour::quantile(variance, 0.5) / per_part);
  return out;
}

constexpr int kWaves = 5, kFlickerFine = 4 * kFlickerParts;
using Waves = std::array<Complex, kFlickerParts / 2>;
Waves waves_of(const std::array<double, kFlickerParts>& light) {
  Waves wave{};
  for (int h = 1; h < kFlickerParts / 2; ++h)
    for (int k = 0; k < kFlickerParts; ++k)
      wave[h] += light[k] * std::polar(2.0 / kFlickerParts, -2 * std::numbers::pi * h * (k + 0.5) / kFlickerParts);
  return wave;
}

/// A few waves make up the period: no pulses.
bool is_smooth(const Period& period) {
  const auto wave = waves_of(period.light);
  double few = 0, rest = 0;
  for (int h = 1; h < kFlickerParts / 2; ++h) (h <= kWaves ? few : rest) += std::norm(wave[h]);
  constexpr int others = kFlickerParts / 2 - 1 - kWaves;
  rest -= 4 * period.noise * period.noise / kFlickerParts * others;  // what noise alone gives
  return rest < 0.003 * few + 20 * 4 * period.noise * period.noise / kFlickerParts;
}

/// Such a period as these waves: less noise, and what the sensor took from each given back.
/// The waves straight from the samples over whole periods: parts of the period may hold few samples, off their middle.
std::array<double, kFlickerParts> period_from_waves(const Samples& light, double dark, double hz) {
  const double period = light.rate_hz / hz;
  const auto n = static_cast<std::size_t>(std::floor(static_cast<double>(light.values.size()) / period) * period);
  const auto part = light.values.first(n);
  const double mean = colour::mean(part);
  std::array<Complex, kWaves + 1> wave{};
  for (std::size_t i = 0; i < n; ++i) {
    const auto turn = std::polar(1.0, -2 * std::numbers::pi * hz * static_cast<double>(i) / light.rate_hz);
    Complex power = turn;
    for (int h = 1; h <= kWaves; ++h, power *= turn) wave[h] += power * ((part[i] - mean) * 2 / static_cast<double>(n));
  }
  std::array<double, kFlickerParts> out;
  out.fill(mean - dark);
  for (int k = 0; k < kFlickerParts; ++k)
    for (int h = 1; h <= kWaves; ++h)
      out[k] += std::real(wave[h] * std::polar(1.0, 2 * std::numbers::pi * h * (k + 0.5) / kFlickerParts));
  return out;
}

/// On a grid fine enough to hold the highest and the lowest place.
std::array<double, kFlickerFine> smoothed(const std::array<double, kFlickerParts>& light, double hz,
                                          double bandwidth_hz) {
  const auto wave = waves_of(light);
  std::array<double, kFlickerFine> out;
  out.fill(colour::mean(light));
  for (int h = 1; h <= kWaves; ++h) {
    const Complex back = bandwidth_hz > 0 ? Complex(1, h * hz / bandwidth_hz) : 1;
    for (int k = 0; k < kFlickerFine; ++k)
      out[k] += std::real(back * wave[h] * std::polar(1.0, 2 * std::numbers::pi * h * (k + 0.5) / kFlickerFine));
  }
  return out;
}

double percent_of(std::span<const double> light) {
  const auto [low, high] = std::ranges::minmax(light);
  return 100 * (high - low) / (high + low);
}
double index_of(std::span<const double> light) {
  const double mean = colour::mean(light);
  double above = 0;
  for (const double v : light) above += std::max(0.0, v - mean);
  return above / (mean * static_cast<double>(light.size()));
}

/// A summary of the period without the bias that noise gives it. Noise is added once more; what that adds is
/// extrapolated to none: `order` 1 if the bias goes with the noise's size (the highest of equal parts), 2 if with its
/// square. source  Cook and Stefanski, J. Am. Stat. Assoc. 89 (1994) 1314 (from memory)
template <class F>
Figure noisy_figure(const Period& period, F summary, std::uint64_t seed, int order, double method) {
  colour::Sources sources;
  for (int k = 0; k < kFlickerParts; ++k)
    sources.add({.name = "noise of the trace", .standard_uncertainty = std::max(period.noise, 1e-300)});
  const colour::ErrorSampler sampler(sources, seed);
  std::vector<double> errors(kFlickerParts), drawn;
  for (int d = 0; d < kFlickerDraws; ++d) {
    sampler.draw(static_cast<std::uint64_t>(d), errors);
    auto light = period.light;
    for (int k = 0; k < kFlickerParts; ++k) light[k] += errors[k];
    drawn.push_back(summary(light));
  }
  const double as_read = summary(period.light), added = colour::mean(drawn) - as_read;
  const double bias = order == 1 ? added / (std::numbers::sqrt2 - 1) : added;
  auto f = figure_of(std::max(0.0, as_read - bias),
                     {{"noise of the trace", std::hypot(colour::standard_deviation(drawn), 0.5 * bias)},
                      {"sensor's bandwidth", method / std::sqrt(3.0)}},
                     1e6);
  f.interval.lower = std::max(0.0, f.interval.lower);
  f.interval_method = "noise added anew, bias extrapolated to none";
  return f;
}

}  // namespace

Result<Flicker> measure_flicker(const Samples& light, double dark, std::uint64_t seed) {
  if (light.values.size() < 1024 || !(light.rate_hz > 0))
    return fail(ErrorCode::invalid_input, fmt::format("{} samples are too few", light.values.size()),
                "Record two seconds at a kilohertz or more.");
  const double mean = colour::mean(light.values);
  if (!(mean - dark > 0))
    return fail(ErrorCode::invalid_input, "the mean is not above the sensor's dark level",
                "Check the dark level, or put more light on the sensor.");
  const auto spectrum = spectrum_of(light.values, mean, light.rate_hz);
  const auto peak = peak_at(spectrum, highest_line(spectrum, 3 * spectrum.line_hz, light.rate_hz / 2));
  Flicker out{.peak_hz = peak.hz, .peak_percent = 100 * peak.amplitude / (mean - dark)};
  if (peak.amplitude < 6 * spectrum.noise) {
    out.below_noise = true;
    const double most = 100 * 6 * spectrum.noise / (mean - dark);
    out.percent = {.value = 0,
                   .standard_uncertainty = most / 2,
                   .interval = {0, most},
                   .interval_method = "six times the noise of the spectrum"};
    return out;
  }
  const auto fundamental = fundamental_of(spectrum, peak);
  const double seconds = static_cast<double>(light.values.size()) / light.rate_hz;
  if (seconds * fundamental.hz < kFewestPeriods || light.rate_hz / fundamental.hz < kFewestPerPeriod)
    return fail(ErrorCode::invalid_input,
                fmt::format("the light repeats at {:.5g} Hz: {:.3g} periods, {:.3g} samples in each", fundamental.hz,
                            seconds * fundamental.hz, light.rate_hz / fundamental.hz),
                fmt::format("Record {} periods or more, at a rate of {} samples per period or more.", kFewestPeriods,
                            kFewestPerPeriod));
  out.frequency_hz = frequency_figure(light, mean, fundamental.hz);
  const double hz = out.frequency_hz.value;
  auto period = fold(light, dark, hz);
  if (is_smooth(period)) {
    period.light = period_from_waves(light, dark, hz);
    const auto given_back = [&](auto summary) {
      return [=, &light](const std::array<double, kFlickerParts>& p) {
        return summary(smoothed(p, hz, light.bandwidth_hz));
      };
    };
    const auto percent = given_back(percent_of), index = given_back(index_of);
    // A tenth of what was given back counts as its limit.
    out.percent =
        noisy_figure(period, percent, seed, 2, 0.1 * std::fabs(percent(period.light) - percent_of(period.light)));
    out.index = noisy_figure(period, index, seed + 1, 2, 0.1 * std::fabs(index(period.light) - index_of(period.light)));
    const auto fine = smoothed(period.light, hz, light.bandwidth_hz);
    for (int k = 0; k < kFlickerParts; ++k)
      period.light[k] = fine[k * (kFlickerFine / kFlickerParts) + kFlickerFine / kFlickerParts / 2];
  } else {
    out.percent = noisy_figure(period, percent_of, seed, 1, 0);
    const double per_part = static_cast<double>(light.values.size()) / kFlickerParts;
    const auto& f = out.frequency_hz;
    const double u_hz =
        std::sqrt(std::max(0.0, std::pow(f.standard_uncertainty, 2) - std::pow(light.rate_relative * f.value, 2)));
    out.index = pulse_index(light, dark, hz, u_hz, period.noise * std::sqrt(per_part));
  }
  for (const double v : period.light) out.period.push_back(v / (mean - dark));
  return out;
}

}  // namespace provenit::evaluation
