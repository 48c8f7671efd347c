#pragma once
// The simulated meter: reads the simulated display with the errors its certificate speaks of, noise, and time.
#include <array>
#include <cstdint>
#include <memory>

#include "provenit/base/clock.h"
#include "provenit/instrument/instrument.h"
#include "provenit/simulated/display.h"

namespace provenit::simulated {

struct MeterModel {
  std::string name = "Simulated meter";
  std::string serial = "SIM-0001";
  instrument::Certificate certificate;  ///< what is printed; the true errors are drawn from it
  instrument::Capabilities capabilities{.minimum_cdm2 = 0.0005, .maximum_cdm2 = 20000, .shot_noise = 0.001};
  /// Relative standard deviation that X and Z have beside Y's (chromaticity repeatability).
  double chromaticity_repeatability = 0.0002;
  /// Filters that do not quite match: standard deviation of the elements of a matrix that leaves the reference white as
  /// it is. 0 = none. Not covered by the certificate: keep it small.
  double mismatch = 0;
  double bandwidth_nm = 0;  ///< FWHM of the spectral reading (capabilities.spectral); 0 = none
};

/// The systematic errors of one meter, common to all its readings.
struct MeterErrors {
  double luminance_relative = 0;                  ///< Y is multiplied by 1 + this
  double x = 0, y = 0;                            ///< shift of the reference white's chromaticity
  std::array<double, 3> zero_cdm2{};              ///< added to X, Y, Z
  std::array<std::array<double, 3>, 3> matrix{};  ///< all of it but the zero: XYZ read = matrix * XYZ + zero
};

class SimulatedMeter final : public instrument::Instrument {
 public:
  /// Draws the errors from the certificate by the seed: normal with standard uncertainty U/k, at the warm
  /// display's white, full field at the highest PQ code, as reference white. display and clock must outlive the meter;
  /// clock is the display's.
  SimulatedMeter(MeterModel model, const SimulatedDisplay& display, Clock& clock, std::uint64_t seed);
  ~SimulatedMeter() override;

  [[nodiscard]] Result<instrument::Identity> identify() override;
  [[nodiscard]] const instrument::Capabilities& capabilities() const override;
  /// Integrates from the clock's time on (a whole number of the display's frames), then waits for the overhead.
  /// The noise depends on seed and index alone. Never fails.
  [[nodiscard]] Result<instrument::Measurement> measure(std::int64_t index) override;

  [[nodiscard]] const MeterModel& model() const;
  [[nodiscard]] const MeterErrors& errors() const;
  /// What this meter reads of a light on average: its errors, without noise, integration or flags. Not for spectral
  /// meters: theirs is a gain over wavelength, which equals errors().matrix at the reference white alone.
  [[nodiscard]] colour::AbsoluteXyz<> without_noise(const colour::AbsoluteXyz<>& light) const;
  /// The clock's time when measure() returned, for a reading that began at `taken`: set the clock to it to resume.
  [[nodiscard]] Timestamp end_of(Timestamp taken, Seconds integration) const;

 private:
  struct Impl;
  std::unique_ptr<Impl> impl_;
};

}  // namespace provenit::simulated
