#include "provenit/loan/balance.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "balance_procedure.h"
#include "provenit/loan/loan.h"
#include "provenit/signal/codes.h"
#include "provenit/signal/encoding.h"

namespace provenit::loan {
namespace {

// Common practice, no source: a grey that offsets move, one that gains move, both far from black and clip.
constexpr double kDarkShare = 0.005, kBrightShare = 0.25, kBrightest_cdm2 = 400;

/// Whole percents of the signal.
Result<std::vector<double>> usual_levels(const procedure::Context& context) {
  if (context.encoding.transfer != signal::Transfer::pq) return std::vector<double>{20, 80};
  std::vector<double> out;
  const double bright = std::min(kBrightShare * context.expected_peak_cdm2, kBrightest_cdm2);
  for (const double cdm2 : {kDarkShare * context.expected_peak_cdm2, bright}) {
    const auto code = signal::grey_code(context.encoding, colour::Luminance<>{.cdm2 = cdm2});
    if (!code) return tl::unexpected(code.error());
    out.push_back(std::round(100 * signal::signal_of(context.encoding, *code).r));
  }
  return out;
}

nlohmann::json json_of(const std::vector<correct::Control>& controls) {
  auto out = nlohmann::json::array();
  for (const auto& c : controls)
    out.push_back({{"name", c.name}, {"lowest", c.lowest}, {"highest", c.highest}, {"step", c.step}});
  return out;
}

Result<std::optional<store::RunRecord>> open_run(const store::Bench& bench, const store::LoanRecord& loan,
                                                 const std::string& procedure) {
  auto runs = bench.runs(loan.id);
  if (!runs) return tl::unexpected(runs.error());
  std::optional<store::RunRecord> out;
  for (auto& run : *runs)
    if (run.procedure == procedure && run.state == store::RunState::open) out = std::move(run);
  return out;
}

/// The parameters of the request; what it leaves open is as the open run has it, or as the display says.
Result<nlohmann::json> parameters_of(const BalanceRequest& request, const procedure::Context& context,
                                     const Devices& devices, const nlohmann::json* open) {
  auto controls = request.controls;
  auto start = request.start;
  if (controls.empty())
    for (const auto& c : devices.controls()) {
      controls.push_back({c.name, c.lowest, c.highest, c.step});
      start.push_back(c.value);
    }
  nlohmann::json out{{"controls", json_of(controls)},
                     {"start", start},
                     {"levels_percent", request.levels_percent},
                     {"white", {request.white.x, request.white.y}},
                     {"luminance", request.luminance},
                     {"tolerance_uv", request.tolerance.uv},
                     {"tolerance_luminance_percent", 100 * request.tolerance.luminance_relative},
                     {"tolerance_itp", request.tolerance.itp.value_or(0)},
                     {"window_percent", request.window_percent},
                     {"settle_s", request.settle_s},
                     {"most_settings", request.most_settings},
                     {"most_repeats", request.most_repeats}};
  if (open != nullptr) {
    out["start"] = (*open)["start"];  // how they stood when it was begun
    if (controls.empty()) out["controls"] = (*open)["controls"];
    if (request.levels_percent.empty()) out["levels_percent"] = (*open)["levels_percent"];
    return out;
  }
  if (controls.empty())
    return fail(ErrorCode::invalid_input, "the display's controls are not known",
                "Name each as its menu does: --control \"Red gain:0:100:1:50\" (lowest, highest, step, now).",
                {.field = "--control"});
  if (request.levels_percent.empty()) {
    const auto levels = usual_levels(context);
    if (!levels) return tl::unexpected(levels.error());
    out["levels_percent"] = *levels;
  }
  return out;
}

Result<void> same(const nlohmann::json& wanted, const store::RunRecord& run) {
  for (const auto& [key, value] : wanted.items())
    if (run.parameters.value(key, nlohmann::json()) != value)
      return fail(ErrorCode::conflict,
                  fmt::format("run {} of `balance` is open and was begun with other {}: {}", run.id, key,
                              run.parameters.value(key, nlohmann::json()).dump()),
                  "Go on with the options it was begun with, or begin anew with --again.", {.field = key});
  return {};
}

/// Refuses a value that is none of the control's before anything is read with it; the runner then asks again.
class WithinRange final : public instrument::Presenter {
 public:
  WithinRange(instrument::Presenter& inner, std::span<const correct::Control> controls)
      : inner_(inner), controls_(controls) {}
  Result<void> show(const signal::Signal& signal) override { return inner_.show(signal); }
  Result<void> place(const instrument::Placement& placement) override { return inner_.place(placement); }
  Result<void> set_local_dimming(instrument::LocalDimming mode) override { return inner_.set_local_dimming(mode); }
  Result<instrument::ControlSettings> set_controls(const instrument::ControlSettings& wanted) override {
    auto set = inner_.set_controls(wanted);
    if (!set) return set;
    for (const auto& setting : *set) {
      const auto control = std::ranges::find(controls_, setting.name, &correct::Control::name);
      if (control != controls_.end() && (setting.value < control->lowest || setting.value > control->highest))
        return fail(ErrorCode::out_of_range,
                    fmt::format("'{}' was said to stand at {:.6g}, outside {:.6g} to {:.6g}", setting.name,
                                setting.value, control->lowest, control->highest),
                    "Type the value that the menu shows.", {.field = setting.name});
    }
    return set;
  }

 private:
  instrument::Presenter& inner_;
  std::span<const correct::Control> controls_;
};

std::string words_of(const BalanceResult& result) {
  std::string out = fmt::format("{} after {} settings, {} readings; left at", name_of(result.outcome->verdict),
                                result.outcome->visits, result.outcome->readings);
  for (std::size_t j = 0; j < result.controls.size(); ++j)
    out += fmt::format("{} {} {:.6g}", j == 0 ? "" : ",", result.controls[j].name, result.outcome->settings[j]);
  return out;
}

}  // namespace

Result<BalanceResult> balance(store::Bench& bench, const store::LoanRecord& loan, const BalanceRequest& request,
                              Devices& devices, const BalanceHooks& hooks) {
  auto basis = reading_basis(bench, loan);
  if (!basis) return tl::unexpected(basis.error());
  auto context = context_of(bench, loan);
  if (!context) return tl::unexpected(context.error());
  const BalanceProcedure procedure(std::move(*basis));
  auto open = open_run(bench, loan, procedure.id());
  if (!open) return tl::unexpected(open.error());
  if (*open && request.again) {
    if (auto ended = bench.end_run((*open)->id, store::RunState::aborted, devices.clock().now()); !ended)
      return tl::unexpected(ended.error());
    open->reset();
  }
  auto parameters = parameters_of(request, *context, devices, *open ? &(*open)->parameters : nullptr);
  if (!parameters) return tl::unexpected(parameters.error());
  if (*open)
    if (auto fits = same(*parameters, **open); !fits) return tl::unexpected(fits.error());
  context->parameters = std::move(*parameters);
  const auto task = BalanceProcedure::task_of(*context);
  if (!task) return tl::unexpected(task.error());

  WithinRange presenter(devices.presenter(), task->controls);
  procedure::RunOptions options;
  options.origin = devices.origin();
  options.progress = hooks.progress;
  options.stop_requested = hooks.stop_requested;
  if (*open) options.resume = (*open)->id;
  auto run = procedure::run_procedure({bench, devices.instrument(), presenter, devices.clock()}, loan.id, procedure,
                                      *context, options);
  if (!run) return tl::unexpected(run.error());
  BalanceResult out{.run = std::move(*run),
                    .controls = task->controls,
                    .start = task->start,
                    .levels = task->levels,
                    .tolerance = task->tolerance,
                    .outcome = {}};
  if (out.run.ending != procedure::Ending::complete) return out;
  const auto readings = bench.readings(out.run.run);
  if (!readings) return tl::unexpected(readings.error());
  context->capabilities = devices.instrument().capabilities();
  auto last = procedure.step_of(*task, *context, *readings);
  if (!last) return tl::unexpected(last.error());
  out.outcome = std::move(last->outcome);
  if (const auto stood =
          instrument::control_settings_from_json(readings->front().context.value("controls", nlohmann::json())))
    for (std::size_t j = 0; j < stood->size(); ++j) out.start[j] = (*stood)[j].value;
  if (auto kept =
          bench.add_event({.run = out.run.run, .at = devices.clock().now(), .kind = "balance", .text = words_of(out)});
      !kept)
    return tl::unexpected(kept.error());
  return out;
}

}  // namespace provenit::loan
