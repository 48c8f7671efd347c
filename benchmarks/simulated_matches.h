#pragma once
// Spectra of two simulated displays, read with one instrument or two, and where their whites truly match; for the
// coverage benchmark and the tests.
#include <algorithm>

#include "colour_loans.h"
#include "provenit/evaluation/visual_match.h"

namespace provenit::bench {

inline colour::Spectrum true_spectrum(const ColourLoan& loan, const std::string& step) {
  const auto s =
      loan.display->truth_spectrum(loan.truth.at(step).first, simulated::SimulatedDisplay::settled_thermal());
  return {.start_nm = s.start_nm, .step_nm = s.step_nm, .values = s.radiance};
}

inline evaluation::ReadSpectra read_spectra(const ColourLoan& loan) {
  const auto& certificate = loan.input.certificate;
  evaluation::ReadSpectra out{.white = {},
                              .primaries = {},
                              .x_standard = certificate.x_expanded / certificate.coverage_factor,
                              .y_standard = certificate.y_expanded / certificate.coverage_factor};
  const std::vector<std::string> names{"red", "green", "blue", "white"};
  for (const auto& r : loan.runs.front().readings) {
    const auto patch = std::ranges::find(names, r.step);
    if (patch == names.end()) continue;
    const auto& s = *r.measurement.spectrum;
    const auto i = static_cast<std::size_t>(patch - names.begin());
    (i == 3 ? out.white : out.primaries[i])
        .push_back({.start_nm = s.start_nm, .step_nm = s.step_nm, .values = s.radiance});
  }
  return out;
}

struct SimulatedMatch {
  evaluation::MatchQuestion question;
  evaluation::MatchOffset truth;
};

inline SimulatedMatch simulated_match(std::uint64_t seed, bool same_instrument) {
  // An instrument's errors go with the seed, so one seed is one instrument.
  const auto read = [](std::uint64_t s, const char* display) {
    return colour_loan(s, "spectra", {.spectral = true, .bandwidth_nm = 5, .wavelength_nm = 0.3, .display = display});
  };
  const auto a = read(seed, "tern-32"), b = read(same_instrument ? seed : seed + 500000, "curlew-27");
  SimulatedMatch out{
      .question = {.reference = read_spectra(a), .adjusted = read_spectra(b), .same_instrument = same_instrument},
      .truth = {}};
  const auto truth = evaluation::visual_match_offset(
      true_spectrum(a, "white"), {true_spectrum(b, "red"), true_spectrum(b, "green"), true_spectrum(b, "blue")},
      out.question.observer);
  if (truth) out.truth = *truth;
  return out;
}

}  // namespace provenit::bench
