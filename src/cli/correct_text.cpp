#include "correct_text.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>

#include "output.h"
#include "provenit/colour/primaries.h"

namespace provenit::cli {
namespace {

std::string text_of(const correct::ProofFigure& f) {
  return fmt::format("{:.2f} ({:.2f} to {:.2f})", f.value, f.lower, f.upper);
}

}  // namespace

std::string limiter_text(const std::optional<correct::LimiterCurve>& limiter) {
  if (!limiter) return "\nThe limiter's curve needs a run of window_peak.\n";
  Table table({"white's window, %", "share of the smallest window's light", "+-"});
  for (const double area : loan::kLimiterAreas)
    table.add({fmt::format("{:g}", area), fmt::format("{:.3f}", limiter->cap(area / 100)),
               fmt::format("{:.3f}", limiter->uncertainty(area / 100))});
  return '\n' + table.text();
}

std::string model_text(const loan::LoanModel& m) {
  const auto& r = m.model.report();
  const auto p = m.model.primaries();
  const auto black = m.model.black();
  std::string text = fmt::format(
      "Display model from run {}: {} readings, {:.1f} minutes.\n"
      "Terms beside curves, mixing and black: {}\n"
      "Held out: mean Delta E ITP {:.2f}, 95th percentile {:.2f} (noise of the readings included)\n"
      "Drift of a channel during the run: at most {:.2f} %, taken out by the reference\n"
      "White D65 up to {:.4g} cd/m2; black {:.3g} cd/m2\n",
      m.run, m.readings, m.minutes, text_of(r.terms), r.mean_held_out, r.percentile_95_held_out,
      r.largest_drift_percent, m.model.peak_of(colour::d65_video).cdm2, black.Y);
  Table primaries({"channel", "x", "y"});
  constexpr std::array<const char*, 3> names{"red", "green", "blue"};
  for (std::size_t c = 0; c < 3; ++c)
    primaries.add({names[c], fmt::format("{:.4f}", p[c].x), fmt::format("{:.4f}", p[c].y)});
  text += '\n' + primaries.text();
  auto worst = r.residuals;
  std::ranges::sort(worst,
                    [](const auto& a, const auto& b) { return a.held_out_delta_e_itp > b.held_out_delta_e_itp; });
  Table table({"hardest readings", "Delta E ITP", "held out", "noise alone"});
  constexpr std::size_t kShown = 8;
  for (std::size_t i = 0; i < std::min(kShown, worst.size()); ++i)
    table.add({worst[i].name, fmt::format("{:.2f}", worst[i].delta_e_itp),
               fmt::format("{:.2f}", worst[i].held_out_delta_e_itp),
               fmt::format("{:.2f}", worst[i].expected_delta_e_itp)});
  return text + '\n' + table.text();
}

std::string proof_text(const loan::LoanProof& proof) {
  Table table({"region", "colours", "without", "with", "gain", "verdict"});
  for (const auto& r : proof.result.regions)
    table.add(
        {r.name, std::to_string(r.colours), text_of(r.before), text_of(r.after), text_of(r.gain), text_of(r.verdict)});
  return fmt::format(
             "Correction {}, run {}: mean Delta E ITP over colours it was not made from, with 95 % intervals.\n\n",
             proof.correction, proof.run) +
         table.text() +
         fmt::format(
             "\n95th percentile: {:.2f} without, {:.2f} with. White of the greys, Delta u'v': {:.4f} without, "
             "{:.4f} with.\n",
             proof.result.before_p95, proof.result.after_p95, proof.result.grey_before.value,
             proof.result.grey_after.value);
}

nlohmann::ordered_json limiter_json(const correct::LimiterCurve& limiter) {
  return loan::limiter_json(limiter);
}

}  // namespace provenit::cli
