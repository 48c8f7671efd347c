// White by observer: distance from D65, both for one observer, from the spectrum of white.
#include <Eigen/Cholesky>
#include <Eigen/Core>
#include <array>
#include <optional>

#include "itp_internal.h"
#include "provenit/colour/illuminant.h"
#include "provenit/colour/observer.h"
#include "provenit/colour/spectrum_xyz.h"
#include "provenit/evaluation/spectra.h"
#include "spectra_internal.h"

namespace provenit::evaluation {
namespace {

using colour::Spectrum;
using colour::Uncertain;

const Method kObserver{"white-delta-uv/observer",
                       3,
                       {"CIE 15:2018", "ISO/CIE 11664-1:2019", "CIE 170-2:2015", "ISO/CIE 11664-2:2022 (D65)"}};

struct Named {
  const char* key;
  colour::Observer observer;
};
constexpr std::array<Named, 4> kObserverKeys{{{"cie1931_2deg", colour::Observer::cie1931_2deg},
                                              {"cie1964_10deg", colour::Observer::cie1964_10deg},
                                              {"cie2015_2deg", colour::Observer::cie2015_2deg},
                                              {"cie2015_10deg", colour::Observer::cie2015_10deg}}};

/// X, Y, Z for an observer without the instrument's bandwidth: twice those of the spectrum less those of it blurred
/// once more.
std::optional<std::array<double, 3>> freed_xyz(const Spectrum& read, double bandwidth_nm, colour::Observer observer) {
  const colour::XyzMethod method{.observer = observer, .summation = colour::Summation::linear};
  const auto once = colour::xyz_from_radiance(read, method),
             again = colour::xyz_from_radiance(blurred(read, bandwidth_nm), method);
  if (!once || !again || !(once->xyz.Y > 0)) return std::nullopt;
  const auto &a = once->xyz, &b = again->xyz;
  return std::array{2 * a.X - b.X, 2 * a.Y - b.Y, 2 * a.Z - b.Z};
}

/// The errors of the instrument's calibration, relative: those of its noise are the spectra's.
Uncertain calibration(const Uncertain& light, const Light& of) {
  Uncertain out(1);
  for (const auto& known : of.instrument) out += Uncertain(0, known.id, light.derivative(known.id) / light.value());
  return out;
}

/// What the noise of the spectrum's samples makes of X, Y, Z, which feel it together: the root of their covariance, as
/// three sources.
std::array<Uncertain, 3> noise_of(const ReadSpectrum& white, colour::Observer observer, colour::Sources& sources) {
  const auto pool = sources.add_pool(white.degrees_of_freedom);
  const double k = colour::kMaximumLuminousEfficacy * white.mean.step_nm * white.deviation;
  Eigen::Matrix3d covariance = Eigen::Matrix3d::Zero();
  for (int i = 0; i < white.mean.size(); ++i) {
    const auto m = colour::matching_functions(observer, {.nm = white.mean.wavelength_nm(i)});
    const Eigen::Vector3d sample(k * m.x, k * m.y, k * m.z);
    covariance += sample * sample.transpose();
  }
  const Eigen::Matrix3d root = covariance.llt().matrixL();
  std::array<Uncertain, 3> out;
  for (int j = 0; j < 3; ++j) {
    const auto source = sources.add({.name = kRepeatability, .standard_uncertainty = 1, .pool = pool});
    for (int i = j; i < 3; ++i) out[i] += Uncertain(0, source, root(i, j));
  }
  return out;
}

/// Of the instrument's scales, common to all observers; 1 is one standard uncertainty.
struct Errors {
  colour::SourceId wavelength, bandwidth;
};

/// White's light for an observer. X, Y, Z get the relative errors of the instrument that those of CIE 1931 have: the
/// certificate speaks of no other, and of the light it was calibrated with. Narrow peaks feel the wavelength scale and
/// the bandwidth besides.
std::optional<StepLight> white_for(const ReadSpectrum& white, const SpectralInstrument& instrument,
                                   colour::Observer observer, const Errors& errors, Light& light) {
  Spectrum moved = white.mean;
  moved.start_nm += instrument.wavelength_nm;
  const double wider = (1 + kBandwidthKnown) * instrument.bandwidth_nm;
  const auto xyz = freed_xyz(white.mean, instrument.bandwidth_nm, observer),
             by_wavelength = freed_xyz(moved, instrument.bandwidth_nm, observer),
             by_bandwidth = freed_xyz(white.mean, wider, observer);
  if (!xyz || !by_wavelength || !by_bandwidth) return std::nullopt;
  // One spectrum shows no noise of its own: then that of the readings of X, Y, Z stands for it.
  const bool repeated = white.degrees_of_freedom > 0 && white.deviation > 0;
  const auto noise = repeated ? noise_of(white, observer, light.sources) : std::array<Uncertain, 3>{};
  StepLight seen = *white.step;
  const auto set = [&](Uncertain& u, std::size_t k) {
    const Uncertain relative = repeated ? calibration(u, light) : u / u.value();
    u = (*xyz)[k] * relative + noise[k] + Uncertain(0, errors.wavelength, (*by_wavelength)[k] - (*xyz)[k]) +
        Uncertain(0, errors.bandwidth, (*by_bandwidth)[k] - (*xyz)[k]);
  };
  set(seen.light.X, 0);
  set(seen.light.Y, 1);
  set(seen.light.Z, 2);
  return seen;
}

}  // namespace

void add_observer_findings(Findings& out, const Study& study, const RunLight& run, const ReadSpectrum& white,
                           const SpectralInstrument& instrument) {
  Light light = study.light;
  const Errors errors{light.sources.add({.name = "wavelength scale", .standard_uncertainty = 1}),
                      light.sources.add({.name = "bandwidth", .standard_uncertainty = 1})};
  const Study own{light, study.input};
  for (const auto& [key, observer] : kObserverKeys) {
    const auto d65 = colour::xyz_from_radiance(colour::illuminant_d65_1nm(),
                                               {.observer = observer, .summation = colour::Summation::linear});
    const auto seen = white_for(white, instrument, observer, errors, light);
    if (!seen || !d65) continue;
    auto f = new_finding("white_delta_uv_by_observer", {{"observer", key}}, kObserver);
    use_step(f, run, *white.step);
    add_delta_uv(f, own, *seen, colour::xy_from_xyz(d65->xyz));
    const auto xy = colour::xy_from_xyz(light_at(*seen, std::vector<double>(light.sources.size())));
    f.parts["x"] = xy.x;
    f.parts["y"] = xy.y;
    out.push_back(std::move(f));
  }
}

}  // namespace provenit::evaluation
