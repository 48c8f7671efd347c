#pragma once
// What the findings from spectra share: the spectra of a step as read, and what is known of the instrument.
#include <optional>
#include <span>

#include "findings_internal.h"
#include "provenit/colour/spectrum.h"

namespace provenit::evaluation {

inline constexpr double kBandwidthKnown = 0.1;  ///< relative standard uncertainty of a data sheet's bandwidth: ours

/// The mean of a step's spectra, and the standard deviation of a sample of that mean: 0, with no degrees of freedom, of
/// a single spectrum.
struct ReadSpectrum {
  const StepLight* step = nullptr;
  colour::Spectrum mean;
  double deviation = 0, degrees_of_freedom = 0;
};
/// nullopt without the step, if a reading has no spectrum or another grid than the first, or a grid of more than 5 nm.
[[nodiscard]] std::optional<ReadSpectrum> spectrum_of(const StepLight* step, std::span<const RunData> runs);

struct SpectralInstrument {
  double bandwidth_nm = 0, wavelength_nm = 0;  ///< FWHM; standard uncertainty of the wavelength scale
};

/// Distance of white from D65, both for one observer, for each observer.
void add_observer_findings(Findings& out, const Study& study, const RunLight& run, const ReadSpectrum& white,
                           const SpectralInstrument& instrument);

}  // namespace provenit::evaluation
