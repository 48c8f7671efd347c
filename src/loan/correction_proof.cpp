// A proof run's readings as pairs, and the proof as findings.
#include <fmt/format.h>

#include <algorithm>
#include <map>

#include "correction_internal.h"
#include "provenit/colour/difference.h"
#include "provenit/loan/colorimeter.h"
#include "provenit/loan/loan.h"
#include "provenit/procedure/catalogue.h"
#include "provenit/signal/encoded_light.h"
#include "provenit/signal/encoding.h"

namespace provenit::loan {
namespace {

/// Luminance of the reference against its first reading, straight lines between.
class Drift {
 public:
  explicit Drift(std::span<const store::ReadingRecord> readings) {
    for (const auto& r : readings)
      if (r.step == kReferenceStep) references_.emplace_back(r.taken.unix_s, r.measurement.xyz.Y);
  }
  [[nodiscard]] double at(double unix_s) const {
    if (references_.empty() || !(references_.front().second > 0)) return 1;
    const auto next = std::ranges::lower_bound(references_, unix_s, {}, [](const auto& r) { return r.first; });
    if (next == references_.begin()) return 1;
    const double first = references_.front().second;
    if (next == references_.end()) return references_.back().second / first;
    const auto& [t0, y0] = *(next - 1);
    const auto& [t1, y1] = *next;
    return (y0 + (y1 - y0) * (unix_s - t0) / (t1 - t0)) / first;
  }

 private:
  std::vector<std::pair<double, double>> references_;
};

store::FindingRecord finding(const LoanProof& proof, const char* quantity, nlohmann::json conditions,
                             const correct::ProofFigure& f) {
  store::FindingRecord out;
  out.quantity = quantity;
  out.conditions = std::move(conditions);
  out.unit = procedure::find_quantity(quantity)->unit;
  out.value = f.value;
  out.standard_uncertainty = f.standard_uncertainty;
  out.lower95 = f.lower;
  out.upper95 = f.upper;
  out.interval_method = "Monte Carlo with resampled colours, normal";
  out.dominant = "noise of the readings, the choice of colours, and the instrument's shared errors together";
  out.method = kProofProcedure;
  out.sources = {"Rec. ITU-R BT.2124-0 (01/2019)", "JCGM 101:2008"};
  out.readings = proof.readings;
  out.parts = {{"correction", proof.correction}, {"draws", proof.result.draws}};
  return out;
}

/// Every colour of the proof with its difference before and after, for the chart.
nlohmann::json series_of(const LoanProof& proof) {
  auto out = nlohmann::json::array();
  for (const auto& p : proof.pairs)
    out.push_back({{"name", p.name},
                   {"asked_cdm2", p.asked.Y},
                   {"before", colour::itp_difference(p.asked, p.before).total},
                   {"after", colour::itp_difference(p.asked, p.after).total}});
  return out;
}

}  // namespace

Result<std::optional<LoanProof>> proof_of(const store::Bench& bench, const store::LoanRecord& loan) {
  const auto instrument = bench.instrument(loan.instrument);
  if (!instrument) return tl::unexpected(instrument.error());
  const auto basis = reading_basis(bench, loan);
  if (!basis) return tl::unexpected(basis.error());
  const auto runs = bench.runs(loan.id);
  if (!runs) return tl::unexpected(runs.error());
  for (auto run = runs->rbegin(); run != runs->rend(); ++run) {
    if (run->procedure != kProofProcedure || run->state != store::RunState::finished) continue;
    const auto readings = readings_set_right(bench, *basis, run->id);
    if (!readings) return tl::unexpected(readings.error());
    if (readings->empty()) continue;
    const auto& encoding = readings->front().signal.encoding;
    const auto colours = codes_from_json(run->parameters.value("codes", nlohmann::json::array()));
    if (!colours) return tl::unexpected(colours.error());
    const signal::EncodedLight asked(encoding);
    const Drift drift(*readings);
    std::map<std::string, const store::ReadingRecord*> steps;
    LoanProof proof{.run = run->id, .correction = run->parameters.value("correction", store::Id{0})};
    for (const auto& r : *readings) {
      steps[r.step] = &r;
      proof.readings.push_back(r.id);
    }
    for (std::size_t i = 0; i < colours->size(); ++i) {
      const auto before = steps.find(fmt::format("before_{:03}", i + 1)),
                 after = steps.find(fmt::format("after_{:03}", i + 1));
      if (before == steps.end() || after == steps.end()) continue;
      const auto light = [&](const store::ReadingRecord& r) {
        const double state = drift.at(r.taken.unix_s + r.measurement.integration.s / 2);
        const auto& c = r.measurement.xyz;
        return colour::AbsoluteXyz<>{.X = c.X / state, .Y = c.Y / state, .Z = c.Z / state};
      };
      const auto noise = [&](const store::ReadingRecord& r) {
        return correct::reading_noise(instrument->capabilities, r.measurement.xyz, r.measurement.integration);
      };
      proof.pairs.push_back({.name = fmt::format("colour {}", i + 1),
                             .asked = asked.xyz(signal::signal_of(encoding, (*colours)[i])),
                             .before = light(*before->second),
                             .after = light(*after->second),
                             .before_noise = noise(*before->second),
                             .after_noise = noise(*after->second)});
    }
    const auto c = certificate_for_white(*basis);
    auto result = correct::prove(proof.pairs,
                                 {.luminance = c.luminance_expanded_relative / c.coverage_factor,
                                  .dx = c.x_expanded / c.coverage_factor,
                                  .dy = c.y_expanded / c.coverage_factor,
                                  .zero_cdm2 = c.zero_offset_standard_cdm2},
                                 loan.seed);
    if (!result) return tl::unexpected(result.error());
    proof.result = std::move(*result);
    return proof;
  }
  return std::nullopt;
}

std::vector<store::FindingRecord> findings_of(const LoanProof& proof) {
  std::vector<store::FindingRecord> out;
  for (const auto& region : proof.result.regions) {
    const nlohmann::json where{{"region", region.name}};
    out.push_back(finding(proof, "correction_before", where, region.before));
    out.push_back(finding(proof, "correction_after", where, region.after));
    auto gain = finding(proof, "correction_gain", where, region.gain);
    gain.parts["verdict"] = text_of(region.verdict);
    gain.parts["colours"] = region.colours;
    if (&region == &proof.result.regions.front()) gain.series = series_of(proof);
    out.push_back(std::move(gain));
  }
  return out;
}

}  // namespace provenit::loan
