#include <algorithm>

#include "provenit/loan/loan.h"
#include "provenit/procedure/estimate.h"

namespace provenit::loan {

Result<std::vector<NamedSignal>> signals_of(const store::Bench& bench, const store::LoanRecord& loan,
                                            const std::string& procedure) {
  const auto* method = procedure::find_procedure(procedure);
  if (method == nullptr) return unknown_procedure(procedure);
  auto context = context_of(bench, loan);
  if (!context) return tl::unexpected(context.error());
  context->optional_repeats = false;
  // The procedure is played against an ideal display: adaptive steps are those it would take there.
  std::vector<NamedSignal> out;
  std::vector<store::ReadingRecord> readings;
  Timestamp now = loan.starts;
  constexpr std::size_t kMost = 5000;
  while (readings.size() < kMost) {
    const auto step = method->next(*context, readings);
    if (!step) return tl::unexpected(step.error());
    if (!*step) break;
    if (std::ranges::find(out, (*step)->key, &NamedSignal::step) == out.end())
      out.push_back({(*step)->key, (*step)->signal});
    store::ReadingRecord reading;
    reading.sequence = static_cast<std::int64_t>(readings.size());
    reading.step = (*step)->key;
    reading.signal = (*step)->signal;
    reading.repeat = static_cast<int>(std::ranges::count(readings, reading.step, &store::ReadingRecord::step));
    reading.taken = now;
    const double light_cdm2 = procedure::ideal_luminance_cdm2(reading.signal, context->expected_peak_cdm2);
    reading.measurement.xyz = {0.9505 * light_cdm2, light_cdm2, 1.0891 * light_cdm2};
    now = now + std::max((*step)->interval, (*step)->settle + procedure::reading_time(**step, context->capabilities));
    readings.push_back(std::move(reading));
  }
  return out;
}

}  // namespace provenit::loan
