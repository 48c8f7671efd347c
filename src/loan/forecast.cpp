#include "provenit/loan/forecast.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "correction_internal.h"
#include "loan_internal.h"
#include "provenit/base/text.h"
#include "provenit/loan/colorimeter.h"
#include "provenit/loan/loan.h"

namespace provenit::loan {
namespace {

constexpr SpotPart kParts[] = {SpotPart::probes, SpotPart::checks, SpotPart::eye};

/// Zones as counted by the newest findings; 0 and 0 where none were.
Result<std::pair<int, int>> zones_of(const store::Bench& bench, const store::LoanRecord& loan) {
  const auto findings = bench.latest_findings(loan.id);
  if (!findings) return tl::unexpected(findings.error());
  std::pair<int, int> out{0, 0};
  for (const auto& f : *findings) {
    if (f.quantity == "zone_columns") out.first = static_cast<int>(std::lround(f.value));
    if (f.quantity == "zone_rows") out.second = static_cast<int>(std::lround(f.value));
  }
  if (out.first <= 0 || out.second <= 0) return std::pair<int, int>{0, 0};
  return out;
}

std::vector<forecast::Probe> spots_of(SpotPart part, const signal::Encoding& encoding, int columns, int rows) {
  if (part == SpotPart::probes) return forecast::probe_signals(encoding, columns, rows);
  return forecast::check_signals(encoding, part == SpotPart::eye);
}

/// The part that a spot was read for; nullopt for one of another procedure.
std::optional<SpotPart> part_of(const std::string& name) {
  for (const auto part : kParts)
    if (name.starts_with(fmt::format("{} {}_", forecast::kSpotsProcedure, name_of(part)))) return part;
  return std::nullopt;
}

/// "forecast_spots eye_03" as people know it: "small star".
void name_spot(forecast::SpotReading& spot, SpotPart part, const forecast::Evidence& evidence) {
  const auto number = parse_integer(spot.name.substr(spot.name.rfind('_') + 1));
  const auto all = spots_of(part, evidence.model.encoding(), evidence.zone_columns, evidence.zone_rows);
  if (number && *number >= 1 && *number <= static_cast<long long>(all.size()))
    spot.name = all[static_cast<std::size_t>(*number - 1)].name;
}

/// Not one of all_procedures(): it answers no question of a requirement set.
class SpotsProcedure final : public procedure::Procedure {
 public:
  std::string id() const override { return forecast::kSpotsProcedure; }
  int version() const override { return 1; }
  std::string title() const override { return "Spots for a forecast"; }
  std::vector<std::string> sources() const override { return {"docs/forecast.md"}; }
  std::vector<std::string> quantities() const override { return {}; }
  nlohmann::json default_parameters() const override {
    return {{"part", "probes"}, {"columns", 0}, {"rows", 0}, {"settle_s", 3.0}};
  }
  Result<std::optional<procedure::Step>> next(const procedure::Context& context,
                                              std::span<const store::ReadingRecord> readings) const override {
    const auto parameters = merged_parameters(*this, context);
    if (!parameters) return tl::unexpected(parameters.error());
    const auto part = spot_part_from_name((*parameters)["part"].get<std::string>());
    const double settle = (*parameters)["settle_s"];
    if (!part || !(settle >= 0 && settle <= 600))
      return fail(ErrorCode::invalid_input, "spots for a forecast need a part and a settling time",
                  "Use probes, checks or eye, and settle_s from 0 to 600.");
    const auto spots = spots_of(*part, context.encoding, (*parameters)["columns"], (*parameters)["rows"]);
    const auto reference = [&] {
      constexpr double window = 10;
      return patch_step(context, kReferenceStep, reference_code(context), window, settle, "reference white");
    };
    if (reference_due(readings)) return reference();
    const auto read = static_cast<std::size_t>(
        std::ranges::count_if(readings, [](const auto& r) { return r.step != kReferenceStep; }));
    if (read >= spots.size()) {
      if (readings.back().step == kReferenceStep) return std::nullopt;
      return reference();
    }
    const auto& spot = spots[read];
    procedure::Step step;
    step.key = fmt::format("{}_{:02}", name_of(*part), read + 1);
    step.signal = spot.signal;
    step.placement = {.x = spot.x, .y = spot.y};
    step.settle = {settle};
    step.expected_cdm2 = spot.name.find("black") == std::string::npos ? 100 : context.expected_black_cdm2;
    step.why = fmt::format("spot {} of {}: {}", read + 1, spots.size(), spot.name);
    return step;
  }
};

}  // namespace

const char* name_of(SpotPart part) {
  return part == SpotPart::probes ? "probes" : part == SpotPart::checks ? "checks" : "eye";
}

std::optional<SpotPart> spot_part_from_name(std::string_view name) {
  for (const auto part : kParts)
    if (name == name_of(part)) return part;
  return std::nullopt;
}

Result<procedure::RunOutcome> read_spots(store::Bench& bench, const store::LoanRecord& loan, Devices& devices,
                                         SpotPart part, bool again, const CorrectionHooks& hooks) {
  auto context = context_of(bench, loan);
  if (!context) return tl::unexpected(context.error());
  const auto zones = zones_of(bench, loan);
  if (!zones) return tl::unexpected(zones.error());
  context->parameters = {{"part", name_of(part)}, {"columns", zones->first}, {"rows", zones->second}};
  return run_or_keep(bench, loan, devices, SpotsProcedure(), *context, again, hooks);
}

Result<LoanForecast> forecast_of(const store::Bench& bench, const store::LoanRecord& loan) {
  auto model = model_of(bench, loan, {.diagnose = false});
  if (!model) return tl::unexpected(model.error());
  const auto instrument = bench.instrument(loan.instrument);
  if (!instrument) return tl::unexpected(instrument.error());
  const auto basis = reading_basis(bench, loan);
  if (!basis) return tl::unexpected(basis.error());
  const auto data = runs_with_readings(bench, loan);
  if (!data) return tl::unexpected(data.error());
  auto spots = forecast::spot_readings(*data, {.encoding = model->model.encoding(),
                                               .certificate = basis->certificate,
                                               .capabilities = instrument->capabilities,
                                               .matrix = basis->matrix,
                                               .surround_cdm2 = {},
                                               .seed = loan.seed});
  if (!spots) return tl::unexpected(spots.error());
  const auto zones = zones_of(bench, loan);
  if (!zones) return tl::unexpected(zones.error());
  forecast::Evidence evidence{.model = std::move(model->model),
                              .model_area_percent = model->parameters.value("window_percent", 4.0),
                              .zone_columns = zones->first,
                              .zone_rows = zones->second,
                              .spots = {},
                              .checks = {},
                              .certificate = basis->certificate};
  std::vector<forecast::SpotReading> eye;
  std::size_t probes = 0;
  for (auto& s : *spots) {
    const auto part = part_of(s.name);
    if (part) name_spot(s, *part, evidence);
    probes += part == SpotPart::probes ? 1 : 0;
    auto& list = part == SpotPart::eye ? eye : part == SpotPart::checks ? evidence.checks : evidence.spots;
    list.push_back(std::move(s));
  }
  auto display = forecast::ForecastDisplay::fit(evidence);
  if (!display) return tl::unexpected(display.error());
  LoanForecast out{.display = std::move(*display), .eye = {}, .missing = {}};
  if (!eye.empty()) out.eye = out.display.eye_check(eye);
  const auto ask = [&](bool missing, const std::string& what, const std::string& command) {
    if (missing) out.missing.push_back(fmt::format("{}: {}", what, command));
  };
  const auto read = [&](const char* part) {
    return fmt::format("provenit forecast read {} --part {}", bench.path(), part);
  };
  ask(probes == 0, "stars, dim windows and colours were not read", read("probes"));
  ask(evidence.checks.empty(), "nothing says how far the forecast is off", read("checks"));
  ask(eye.empty(), "nobody has looked whether it holds", read("eye"));
  ask(zones->first == 0, "no zones were counted; a backlight of zones would count as none",
      fmt::format("provenit attach {} WALK --for zone_walk", bench.path()));
  return out;
}

}  // namespace provenit::loan
