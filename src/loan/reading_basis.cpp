// Which matrix holds for a loan's readings, and whether it still does.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>

#include "colorimeter_file.h"
#include "loan_internal.h"
#include "provenit/colour/primaries.h"
#include "provenit/colour/spaces.h"
#include "provenit/colour/spectrum.h"

namespace provenit::loan {
namespace {

/// The newest of this display and instrument.
Result<std::optional<store::CorrectionRecord>> newest_matrix(const store::Bench& bench, const store::LoanRecord& loan) {
  const auto loans = bench.loans();
  if (!loans) return tl::unexpected(loans.error());
  std::optional<store::CorrectionRecord> out;
  for (const auto& other : *loans) {
    if (other.display != loan.display || other.instrument != loan.instrument) continue;
    const auto kept = bench.corrections(other.id);
    if (!kept) return tl::unexpected(kept.error());
    for (const auto& c : *kept)
      if (c.goal.value("shape", std::string()) == kColorimeterShape && (!out || c.id > out->id)) out = c;
  }
  return out;
}

colour::Spectrum spectrum_of(const store::ReadingRecord& r) {
  const auto& s = *r.measurement.spectrum;
  return {.start_nm = s.start_nm, .step_nm = s.step_nm, .values = s.radiance};
}

/// Spectra of a run by step, the last of each.
Result<std::map<std::string, store::ReadingRecord>> spectra_by_step(const store::Bench& bench, store::Id run) {
  auto readings = bench.readings(run);
  if (!readings) return tl::unexpected(readings.error());
  std::map<std::string, store::ReadingRecord> out;
  for (auto& r : *readings)
    if (r.measurement.spectrum) out.insert_or_assign(r.step, std::move(r));
  return out;
}

/// Spectra of this display that were read after the pairs', held against them.
Result<std::vector<std::string>> spectrum_warnings(const store::Bench& bench, const store::LoanRecord& loan,
                                                   const ColorimeterFile& file) {
  std::vector<std::string> out;
  const auto loans = bench.loans();
  if (!loans) return tl::unexpected(loans.error());
  std::map<store::Id, std::map<std::string, store::ReadingRecord>> then;
  for (const auto& pair : file.pairs) {
    if (then.contains(pair.reference_run)) continue;
    auto spectra = spectra_by_step(bench, pair.reference_run);
    if (!spectra) return tl::unexpected(spectra.error());
    then[pair.reference_run] = std::move(*spectra);
  }
  std::map<std::string, double> moved;  // by pair, as the newest spectrum has it
  std::map<std::string, Timestamp> read;
  for (const auto& other : *loans) {
    if (other.display != loan.display) continue;
    const auto runs = bench.runs(other.id);
    if (!runs) return tl::unexpected(runs.error());
    for (const auto& run : *runs) {
      if (run.started <= file.conditions.made || run.state == store::RunState::aborted) continue;
      if (run.procedure != "spectra" &&
          std::ranges::find(file.pairs, run.procedure, &PairPlace::procedure) == file.pairs.end())
        continue;
      const auto now = spectra_by_step(bench, run.id);
      if (!now) return tl::unexpected(now.error());
      for (const auto& pair : file.pairs) {
        const auto& before = then[pair.reference_run];
        const auto a = before.find(pair.step), b = now->find(pair.step);
        if (a == before.end() || b == now->end()) continue;
        if (run.procedure != "spectra" && a->second.signal != b->second.signal) continue;
        if (read.contains(pair.name) && read[pair.name] > b->second.taken) continue;
        const auto share = correct::moved_light(spectrum_of(a->second), spectrum_of(b->second));
        if (!share) continue;  // spectra of another range say nothing of it
        moved[pair.name] = *share;
        read[pair.name] = b->second.taken;
      }
    }
  }
  for (const auto& [name, share] : moved)
    if (share > correct::kMovedLightLimit)
      out.push_back(fmt::format(
          "The display's spectrum has changed since the matrix was made: of {}, {:.1f} % of the light lies at other "
          "wavelengths.",
          name, 100 * share));
  return out;
}

}  // namespace

Result<correct::InstrumentMatrix> instrument_matrix_of(const evaluation::ReadingMatrix& kept,
                                                       colour::Sources& sources) {
  correct::InstrumentMatrix out{.misfit = kept.misfit, .degrees_of_freedom = kept.degrees_of_freedom};
  if (kept.degrees_of_freedom > 0)
    for (auto& pool : out.pools) pool = sources.add_pool(kept.degrees_of_freedom);
  auto matrix = evaluation::uncertain(kept, out.pools[0], sources);
  if (!matrix) return tl::unexpected(matrix.error());
  out.matrix = std::move(*matrix);
  return out;
}

namespace {

Result<ColorimeterFile> file_of(const store::Bench& bench, store::Id correction) {
  const auto content = bench.correction_content(correction);
  if (!content) return tl::unexpected(content.error());
  return colorimeter_file_from(*content, fmt::format("correction {}", correction));
}

}  // namespace

Result<ReadingBasis> reading_basis(const store::Bench& bench, const store::LoanRecord& loan) {
  const auto instrument = bench.instrument(loan.instrument);
  if (!instrument) return tl::unexpected(instrument.error());
  ReadingBasis out{.certificate = instrument->certificate};
  const auto kept = newest_matrix(bench, loan);
  if (!kept) return tl::unexpected(kept.error());
  if (!*kept) return out;
  const auto file = file_of(bench, (*kept)->id);
  if (!file) return tl::unexpected(file.error());
  const double zero = out.certificate.zero_offset_standard_cdm2;
  out.certificate = file->reference_certificate;
  out.certificate.zero_offset_standard_cdm2 = zero;
  out.record = **kept;
  out.matrix = file->matrix;
  return out;
}

Result<std::vector<std::string>> matrix_warnings(const store::Bench& bench, const store::LoanRecord& loan,
                                                 const ReadingBasis& basis) {
  if (!basis.matrix) return std::vector<std::string>();
  const auto file = file_of(bench, basis.record.id);
  if (!file) return tl::unexpected(file.error());
  const auto last = last_reading(bench, loan);
  if (!last) return tl::unexpected(last.error());
  const auto now = conditions_of(bench, loan, *last ? (*last)->taken : file->conditions.made);
  if (!now) return tl::unexpected(now.error());
  auto out = correct::warnings(file->conditions, *now);
  auto changed = spectrum_warnings(bench, loan, *file);
  if (!changed) return tl::unexpected(changed.error());
  std::ranges::move(*changed, std::back_inserter(out));
  return out;
}

Result<std::vector<store::ReadingRecord>> readings_set_right(const store::Bench& bench, const ReadingBasis& basis,
                                                             store::Id run) {
  auto readings = bench.readings(run);
  if (!readings || !basis.matrix) return readings;
  return evaluation::corrected(*basis.matrix, *readings);
}

instrument::Certificate certificate_for_white(const ReadingBasis& basis) {
  auto out = basis.certificate;
  if (!basis.matrix) return out;
  colour::Sources sources;
  const auto matrix = instrument_matrix_of(*basis.matrix, sources);
  if (!matrix) return out;  // not reached: such a covariance was written by nobody
  const auto white = colour::d65_video;
  const auto read =
      inverse(basis.matrix->value) * colour::Vector3<>{white.x / white.y, 1.0, (1 - white.x - white.y) / white.y};
  const auto xy = colour::xy_from_xyz(correct::corrected(*matrix, {.X = read[0], .Y = read[1], .Z = read[2]}, sources));
  const double k = out.coverage_factor;
  out.x_expanded = k * std::hypot(out.x_expanded / k, standard_uncertainty(xy.x, sources));
  out.y_expanded = k * std::hypot(out.y_expanded / k, standard_uncertainty(xy.y, sources));
  return out;
}

}  // namespace provenit::loan
