#include "provenit/loan/match.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>

namespace provenit::loan {
namespace {

struct Read {
  WhiteMatch::Side side;
  store::Id instrument = 0;
  evaluation::ReadSpectra spectra;
};

/// Finished before open; aborted ones do not count.
const store::RunRecord* newest(const std::vector<store::RunRecord>& runs) {
  const store::RunRecord* out = nullptr;
  for (const auto& run : runs) {
    if (run.procedure != "spectra" || run.state == store::RunState::aborted) continue;
    if (out == nullptr || run.state == store::RunState::finished || out->state == store::RunState::open) out = &run;
  }
  return out;
}

Result<Read> spectra_of(const store::Bench& bench, const store::LoanRecord& loan) {
  const auto display = bench.display(loan.display);
  if (!display) return tl::unexpected(display.error());
  const auto instrument = bench.instrument(loan.instrument);
  if (!instrument) return tl::unexpected(instrument.error());
  const auto runs = bench.runs(loan.id);
  if (!runs) return tl::unexpected(runs.error());
  const auto* run = newest(*runs);
  if (run == nullptr)
    return fail(
        ErrorCode::not_found, fmt::format("loan {} ({}) has no run of `spectra`", loan.id, display->name),
        fmt::format("Ask one of its questions and run it with an instrument that reads spectra: provenit run {} "
                    "--loan {}",
                    bench.path(), loan.id));
  const auto readings = bench.readings(run->id);
  if (!readings) return tl::unexpected(readings.error());
  const auto& certificate = instrument->certificate;
  Read out{
      .side = {loan.id, run->id, display->name, instrument->name, {}}, .instrument = instrument->id, .spectra = {}};
  auto& spectra = out.spectra;
  spectra.x_standard = certificate.x_expanded / certificate.coverage_factor;
  spectra.y_standard = certificate.y_expanded / certificate.coverage_factor;
  spectra.bandwidth_nm = run->parameters.value("bandwidth_nm", spectra.bandwidth_nm);
  spectra.wavelength_nm = run->parameters.value("wavelength_standard_nm", spectra.wavelength_nm);
  constexpr std::array names{"red", "green", "blue"};
  for (const auto& r : *readings) {
    const auto primary = std::ranges::find(names, r.step);
    if (!r.measurement.spectrum || (primary == names.end() && r.step != "white")) continue;
    const auto& s = *r.measurement.spectrum;
    auto& patch =
        primary == names.end() ? spectra.white : spectra.primaries[static_cast<std::size_t>(primary - names.begin())];
    patch.push_back({.start_nm = s.start_nm, .step_nm = s.step_nm, .values = s.radiance});
    out.side.readings.push_back(r.id);
  }
  return out;
}

}  // namespace

Result<WhiteMatch> match_whites(const store::Bench& bench, const store::LoanRecord& reference,
                                const store::LoanRecord& adjusted, colour::Observer observer) {
  if (reference.display == adjusted.display)
    return fail(ErrorCode::invalid_input, fmt::format("loans {} and {} are of one display", reference.id, adjusted.id),
                "Name the loan of the display that is to be matched with --to.", {.field = "--to"});
  auto a = spectra_of(bench, reference);
  if (!a) return tl::unexpected(a.error());
  auto b = spectra_of(bench, adjusted);
  if (!b) return tl::unexpected(b.error());
  WhiteMatch out{.reference = std::move(a->side),
                 .adjusted = std::move(b->side),
                 .same_instrument = a->instrument == b->instrument,
                 .figures = {}};
  const auto figures = evaluation::match_whites({.reference = std::move(a->spectra),
                                                 .adjusted = std::move(b->spectra),
                                                 .same_instrument = out.same_instrument,
                                                 .observer = observer});
  if (!figures) return tl::unexpected(figures.error());
  out.figures = *figures;
  return out;
}

}  // namespace provenit::loan
