// Spectra of primaries: peaks and widths, kind of emitters.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <optional>

#include "provenit/colour/monte_carlo.h"
#include "provenit/evaluation/spectra.h"
#include "spectra_internal.h"

namespace provenit::evaluation {
namespace {

using colour::Spectrum;

const Method kPeak{
    "spectral-peak/half-height",
    1,
    {"This project (docs/methods/spectra.md)", "CIE 214:2014 (bandwidth; from memory)", "JCGM 101:2008"}};
const Method kEmitters{"emitter-class/templates",
                       1,
                       {"This project (docs/methods/spectra.md)", "Wang et al., Opt. Express 23, 28707 (2015)"}};
constexpr int kMostSpectraDraws = 400;
constexpr std::array kSpectraNames{"red", "green", "blue"};

double sum_of(const std::vector<double>& values) {
  double sum = 0;
  for (double v : values) sum += v;
  return sum;
}

class Peaks {
 public:
  Peaks(const Study& study, const RunLight& run, std::array<ReadSpectrum, 3> read, SpectralInstrument instrument)
      : study_(study), run_(run), read_(std::move(read)), instrument_(instrument) {}

  void add_to(Findings& out) {
    for (std::size_t c = 0; c < 3; ++c) {
      const auto as_read = strongest_peak(read_[c].mean);
      const auto peak = peak_without_bandwidth(read_[c].mean, instrument_.bandwidth_nm);
      if (!as_read || !peak) return;
      as_read_[c] = *as_read;
      value_[c] = *peak;
    }
    draw();
    for (std::size_t c = 0; c < 3; ++c) add_peak(out, c);
    add_emitters(out);
  }

 private:
  // Errors of the wavelength scale and of the bandwidth, common to all three; noise of every sample.
  void draw() {
    colour::Sources sources;
    sources.add({.name = "wavelength", .standard_uncertainty = instrument_.wavelength_nm});
    sources.add({.name = "bandwidth", .standard_uncertainty = kBandwidthKnown * instrument_.bandwidth_nm});
    for (const auto& r : read_) {
      const auto pool = sources.add_pool(std::max(1.0, r.degrees_of_freedom));
      for (std::size_t i = 0; i < r.mean.values.size(); ++i)
        sources.add({.name = "noise", .standard_uncertainty = r.deviation, .pool = pool});
    }
    const colour::ErrorSampler sampler(sources, study_.input.seed);
    std::vector<double> errors(sources.size());
    const int draws = std::min(study_.input.monte_carlo_draws, kMostSpectraDraws);
    for (int d = 0; d < draws; ++d) {
      sampler.draw(static_cast<std::uint64_t>(d), errors);
      std::array<SpectralPeak, 3> peaks;
      std::size_t at = 2;
      bool whole = true;
      for (std::size_t c = 0; c < 3; ++c) {
        Spectrum s = read_[c].mean;
        s.start_nm -= errors[0];
        for (double& v : s.values) v -= errors[at++];
        const auto peak = peak_without_bandwidth(s, std::max(0.0, instrument_.bandwidth_nm - errors[1]));
        whole = whole && peak.has_value();
        if (peak) peaks[c] = *peak;
      }
      if (whole) drawn_.push_back(peaks);
    }
  }

  store::FindingRecord finding(const char* quantity, nlohmann::json conditions, const Method& method,
                               std::span<const ReadSpectrum> used) const {
    auto f = new_finding(quantity, std::move(conditions), method);
    for (const auto& r : used) use_step(f, run_, *r.step);
    f.parts["bandwidth_nm"] = instrument_.bandwidth_nm;
    return f;
  }

  template <class Number>
  void set(store::FindingRecord& f, double value, double bandwidth_part, double wavelength_part,
           Number&& number) const {
    std::vector<double> sample;
    for (const auto& peaks : drawn_) sample.push_back(number(peaks));
    if (sample.size() < 2) sample.assign(2, value);
    const auto summary = colour::summarise(sample);
    f.value = value;
    f.standard_uncertainty = summary.standard_uncertainty;
    f.lower95 = std::min(value, summary.symmetric.lower);
    f.upper95 = std::max(value, summary.symmetric.upper);
    f.interval_method = fmt::format("Monte Carlo, symmetric (JCGM 101 7.7.2), {} draws", sample.size());
    const double total = std::pow(summary.standard_uncertainty, 2);
    const auto share = [&](double part) { return total > 0 ? std::min(1.0, part * part / total) : 0.0; };
    std::vector<std::pair<const char*, double>> shares{{"wavelength scale", share(wavelength_part)},
                                                       {"bandwidth", share(bandwidth_part)}};
    shares.emplace_back("noise of the spectra", std::max(0.0, 1 - shares[0].second - shares[1].second));
    std::ranges::stable_sort(shares, std::greater{}, &std::pair<const char*, double>::second);
    f.parts["variance"] = nlohmann::json::array();
    for (const auto& [name, fraction] : shares)
      f.parts["variance"].push_back({{"source", name}, {"fraction", fraction}});
    f.dominant = fmt::format("{} ({:.0f} % of variance)", shares[0].first, 100 * shares[0].second);
    if (read_[0].degrees_of_freedom <= 0)
      f.parts["flags"] = nlohmann::json::array({"one reading only: noise of the spectrum is not in the interval"});
  }

  void add_peak(Findings& out, std::size_t c) const {
    const auto other = peak_without_bandwidth(read_[c].mean, (1 + kBandwidthKnown) * instrument_.bandwidth_nm);
    auto place = finding("peak_wavelength", {{"primary", kSpectraNames[c]}}, kPeak, std::span(read_).subspan(c, 1));
    set(place, value_[c].centre_nm, other ? other->centre_nm - value_[c].centre_nm : 0, instrument_.wavelength_nm,
        [c](const auto& peaks) { return peaks[c].centre_nm; });
    place.parts["as_read"] = as_read_[c].centre_nm;
    if (study_.input.series)
      for (int i = 0; i < read_[c].mean.size(); ++i)
        place.series.push_back({{"nm", read_[c].mean.wavelength_nm(i)}, {"radiance", read_[c].mean.values[i]}});
    out.push_back(std::move(place));

    auto width = finding("peak_width", {{"primary", kSpectraNames[c]}}, kPeak, std::span(read_).subspan(c, 1));
    set(width, value_[c].width_nm, other ? other->width_nm - value_[c].width_nm : 0, 0,
        [c](const auto& peaks) { return peaks[c].width_nm; });
    width.parts["as_read"] = as_read_[c].width_nm;
    // A line narrower than the bandwidth has lost its width: what can be said is that it is no wider than it reads.
    if (as_read_[c].width_nm < 1.5 * instrument_.bandwidth_nm) {
      width.lower95 = 0;
      width.upper95 = std::max(width.upper95, as_read_[c].width_nm);
      width.parts["flags"].push_back("hardly wider than the instrument's bandwidth: the width is an upper limit");
    }
    out.push_back(std::move(width));
  }

  void add_emitters(Findings& out) const {
    EmitterEvidence evidence{.peaks = value_, .fluoride_lines = has_fluoride_lines(read_[0].mean)};
    const auto shares = emitter_shares(evidence);
    const auto probability_of_best = [&](const std::array<SpectralPeak, 3>& peaks) {
      for (const auto& s : emitter_shares({.peaks = peaks, .fluoride_lines = evidence.fluoride_lines}))
        if (s.kind == shares.front().kind) return s.probability;
      return 0.0;
    };
    auto f = finding("emitter_class", nlohmann::json::object(), kEmitters, read_);
    set(f, shares.front().probability, 0, 0, probability_of_best);
    f.lower95 = std::max(0.0, f.lower95);
    f.upper95 = std::min(1.0, f.upper95);
    f.dominant = "how far the templates spread";
    const bool sure = shares.front().probability >= 0.9 && shares.front().kind != "none of these";
    f.parts["kind"] = shares.front().kind;
    f.parts["answer"] = sure ? shares.front().kind : "not sure";
    auto& list = f.parts["kinds"] = nlohmann::json::array();
    for (const auto& s : shares) list.push_back({{"kind", s.kind}, {"probability", s.probability}});
    auto& seen = f.parts["evidence"] = {{"fluoride_lines", evidence.fluoride_lines}};
    for (std::size_t c = 0; c < 3; ++c)
      seen[kSpectraNames[c]] = {{"centre_nm", value_[c].centre_nm}, {"width_nm", value_[c].width_nm}};
    out.push_back(std::move(f));
  }

  const Study& study_;
  const RunLight& run_;
  std::array<ReadSpectrum, 3> read_;
  SpectralInstrument instrument_;
  std::array<SpectralPeak, 3> as_read_{}, value_{};
  std::vector<std::array<SpectralPeak, 3>> drawn_;
};

}  // namespace

std::optional<ReadSpectrum> spectrum_of(const StepLight* step, std::span<const RunData> runs) {
  if (step == nullptr) return std::nullopt;
  std::vector<const instrument::SpectralReading*> read;
  for (const auto& run : runs)
    for (const auto& r : run.readings)
      if (std::ranges::find(step->readings, r.id) != step->readings.end()) {
        if (!r.measurement.spectrum) return std::nullopt;
        read.push_back(&*r.measurement.spectrum);
      }
  if (read.empty() || read[0]->radiance.size() < 3 || read[0]->step_nm > 5) return std::nullopt;
  const std::size_t n = read[0]->radiance.size();
  ReadSpectrum out{
      .step = step,
      .mean = {.start_nm = read[0]->start_nm, .step_nm = read[0]->step_nm, .values = std::vector<double>(n, 0.0)}};
  const auto count = static_cast<double>(read.size());
  for (const auto* s : read) {
    if (s->radiance.size() != n || s->start_nm != out.mean.start_nm || s->step_nm != out.mean.step_nm)
      return std::nullopt;
    for (std::size_t i = 0; i < n; ++i) out.mean.values[i] += s->radiance[i] / count;
  }
  // Readings differ in amount too (drift, repeatability): that moves no peak and is taken out.
  const double total = sum_of(out.mean.values);
  double squares = 0;
  for (const auto* s : read) {
    const double k = total / sum_of(s->radiance);
    for (std::size_t i = 0; i < n; ++i) squares += std::pow(k * s->radiance[i] - out.mean.values[i], 2);
  }
  out.degrees_of_freedom = (count - 1) * static_cast<double>(n - 1);
  if (count > 1) out.deviation = std::sqrt(squares / out.degrees_of_freedom / count);
  return out;
}

void add_spectra_findings(Findings& out, const Study& study, const RunLight& run, std::span<const RunData> runs) {
  const auto number = [&](const char* key, double standard) {
    return run.parameters.is_object() ? run.parameters.value(key, standard) : standard;
  };
  const SpectralInstrument instrument{number("bandwidth_nm", 5), number("wavelength_standard_nm", 0.3)};
  std::array<ReadSpectrum, 3> read;
  bool whole = true;
  for (std::size_t c = 0; c < 3; ++c) {
    auto spectrum = spectrum_of(run.find(kSpectraNames[c]), runs);
    whole = whole && spectrum.has_value();
    if (spectrum) read[c] = std::move(*spectrum);
  }
  if (whole) Peaks(study, run, std::move(read), instrument).add_to(out);
  if (const auto white = spectrum_of(run.find("white"), runs); white && white->step->light.Y > 0.0)
    add_observer_findings(out, study, run, *white, instrument);
}

}  // namespace provenit::evaluation
