#include "provenit/loan/correction.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <filesystem>

#include "correction_internal.h"
#include "provenit/base/text.h"
#include "provenit/correct/display_kind.h"
#include "provenit/correct/lut_files.h"
#include "provenit/loan/colorimeter.h"
#include "provenit/loan/loan.h"
#include "provenit/signal/encoding.h"

namespace provenit::loan {
namespace {

/// What the procedure was asked for, without what the runner keeps beside it.
nlohmann::json run_parameters(const store::RunRecord& run) {
  auto parameters = run.parameters;
  parameters.erase("context");
  return parameters;
}

/// A finished run of these parameters; nullopt if there is none.
Result<std::optional<store::RunRecord>> finished_run(const store::Bench& bench, const store::LoanRecord& loan,
                                                     const procedure::Procedure& procedure,
                                                     const procedure::Context& context) {
  auto parameters = merged_parameters(procedure, context);
  if (!parameters) return tl::unexpected(parameters.error());
  const auto runs = bench.runs(loan.id);
  if (!runs) return tl::unexpected(runs.error());
  for (const auto& run : *runs) {
    if (run.procedure != procedure.id() || run.state != store::RunState::finished) continue;
    if (run_parameters(run) == *parameters) return run;
  }
  return std::nullopt;
}

}  // namespace

Result<procedure::RunOutcome> run_or_keep(store::Bench& bench, const store::LoanRecord& loan, Devices& devices,
                                          const procedure::Procedure& procedure, const procedure::Context& context,
                                          bool again, const CorrectionHooks& hooks) {
  if (!again) {
    const auto done = finished_run(bench, loan, procedure, context);
    if (!done) return tl::unexpected(done.error());
    if (*done) {
      const auto readings = bench.readings((*done)->id);
      if (!readings) return tl::unexpected(readings.error());
      return procedure::RunOutcome{
          .run = (*done)->id, .ending = procedure::Ending::complete, .readings = static_cast<int>(readings->size())};
    }
  }
  procedure::RunOptions options;
  options.origin = devices.origin();
  options.progress = hooks.progress;
  options.stop_requested = hooks.stop_requested;
  const procedure::Equipment equipment{bench, devices.instrument(), devices.presenter(), devices.clock()};
  return procedure::run_procedure(equipment, loan.id, procedure, context, options);
}

namespace {

const char* mapping_name(correct::Mapping mapping) {
  return mapping == correct::Mapping::hard_clip ? "hard_clip" : "soft_shoulder";
}

}  // namespace

const char* name_of(TableShape shape) {
  switch (shape) {
    case TableShape::three_d:
      return "3d";
    case TableShape::curves:
      return "1d";
    case TableShape::matrix:
      break;
  }
  return "3x3";
}

Result<procedure::RunOutcome> read_model(store::Bench& bench, const store::LoanRecord& loan, Devices& devices,
                                         const ModelRun& asked, const CorrectionHooks& hooks) {
  auto context = context_of(bench, loan);
  if (!context) return tl::unexpected(context.error());
  context->parameters = {{"minutes", asked.minutes},
                         {"window_percent", asked.window_percent},
                         {"primaries", asked.primaries},
                         {"settle_s", asked.settle_s}};
  return run_or_keep(bench, loan, devices, ModelProcedure(), *context, asked.again, hooks);
}

namespace {

/// The display by the readings of one run.
Result<LoanModel> model_of_run(const store::Bench& bench, const store::LoanRecord& loan, store::Id id,
                               const correct::FitOptions& options) {
  const auto context = context_of(bench, loan);
  if (!context) return tl::unexpected(context.error());
  const auto run = bench.run(id);
  if (!run) return tl::unexpected(run.error());
  const auto basis = reading_basis(bench, loan);
  if (!basis) return tl::unexpected(basis.error());
  const auto readings = readings_set_right(bench, *basis, id);
  if (!readings) return tl::unexpected(readings.error());
  auto model = correct::DisplayModel::fit(readings->front().signal.encoding,
                                          model_readings(context->capabilities, *readings), options);
  if (!model) return tl::unexpected(model.error());
  return LoanModel{.run = id,
                   .readings = readings->size(),
                   .minutes = time_taken(*readings) / 60,
                   .parameters = run_parameters(*run),
                   .model = std::move(*model)};
}

}  // namespace

Result<LoanModel> model_of(const store::Bench& bench, const store::LoanRecord& loan,
                           const correct::FitOptions& options) {
  const auto runs = bench.runs(loan.id);
  if (!runs) return tl::unexpected(runs.error());
  for (auto run = runs->rbegin(); run != runs->rend(); ++run) {
    if (run->procedure != kModelProcedure || run->state == store::RunState::aborted) continue;
    const auto readings = bench.readings(run->id);
    if (!readings) return tl::unexpected(readings.error());
    if (!readings->empty()) return model_of_run(bench, loan, run->id, options);
  }
  return fail(ErrorCode::not_found, "the loan has no readings for a display model",
              "Take them: provenit correct read " + bench.path(), {.file = bench.path()});
}

Result<std::optional<correct::LimiterCurve>> limiter_of(const store::Bench& bench, const store::LoanRecord& loan) {
  const auto context = context_of(bench, loan);
  if (!context) return tl::unexpected(context.error());
  const auto runs = bench.runs(loan.id);
  if (!runs) return tl::unexpected(runs.error());
  const auto basis = reading_basis(bench, loan);
  if (!basis) return tl::unexpected(basis.error());
  for (auto run = runs->rbegin(); run != runs->rend(); ++run) {
    if (run->procedure != "window_peak" || run->state == store::RunState::aborted) continue;
    const auto readings = readings_set_right(bench, *basis, run->id);
    if (!readings) return tl::unexpected(readings.error());
    std::vector<correct::WindowReading> windows;
    for (const auto& r : *readings) {
      if (!r.step.starts_with("window_")) continue;
      const auto noise = correct::reading_noise(context->capabilities, r.measurement.xyz, r.measurement.integration);
      windows.push_back({.name = fmt::format("reading {} ({})", r.sequence + 1, r.step),
                         .area_percent = 100 * r.signal.geometry.area_fraction,
                         .luminance = {.cdm2 = r.measurement.xyz.Y},
                         .standard_uncertainty_cdm2 = std::sqrt(noise(1, 1))});
    }
    if (windows.empty()) continue;
    auto curve = correct::LimiterCurve::fit(windows);
    if (!curve) return tl::unexpected(curve.error());
    return *curve;
  }
  return std::nullopt;
}

Result<LoanTable> solve_table(store::Bench& bench, const store::LoanRecord& loan, const LoanModel& model,
                              SolveRequest request, Timestamp now) {
  for (const auto& path : {request.path, request.profile})
    if (!path.empty() && std::filesystem::exists(path))
      return fail(ErrorCode::conflict, "there is a file of that name already",
                  "Give another name; nothing is written over.", {.file = path});
  std::optional<correct::DisplayKind> kind;
  if (!request.kind.empty()) {
    auto found = correct::find_kind(correct::display_kinds(), request.kind);
    if (!found) return tl::unexpected(found.error());
    kind = std::move(*found);
    request.goal.scale = kind->scale;
  }
  auto solved = request.shape == TableShape::three_d  ? solve_3d(model.model, request.goal, request.size)
                : request.shape == TableShape::curves ? solve_1d(model.model, request.goal, request.size)
                                                      : solve_matrix(model.model, request.goal, request.size);
  if (!solved) return tl::unexpected(solved.error());
  if (request.entry_bits != 0) solved->lut = correct::rounded(std::move(solved->lut), request.entry_bits);
  if (kind) {
    auto held = correct::fitted(solved->lut, *kind);
    if (!held) return tl::unexpected(held.error());
    solved->lut = std::move(*held);
  }
  const auto display = bench.display(loan.display);
  if (!display) return tl::unexpected(display.error());
  std::string profile;
  if (!request.profile.empty()) {
    auto bytes =
        correct::icc_display_bytes({.title = display->name, .values = *solved->lut.input, .peak = solved->peak}, now);
    if (!bytes) return tl::unexpected(bytes.error());
    profile = std::move(*bytes);
  }
  solved->lut.title = fmt::format("{}: white {:.4g} cd/m2, {}", display->name, solved->peak.cdm2, request.primaries);
  if (auto written = correct::write_lut(solved->lut, request.path, now); !written)
    return tl::unexpected(written.error());
  if (!profile.empty())
    if (auto written = write_file(request.profile, profile); !written) return tl::unexpected(written.error());
  const auto content = read_file(request.path);
  if (!content) return tl::unexpected(content.error());
  double mean = 0;
  for (const double e : solved->errors) mean += e / static_cast<double>(solved->errors.size());
  const auto id = bench.add_correction({.loan = loan.id,
                                        .run = model.run,
                                        .name = std::filesystem::path(request.path).filename().string(),
                                        .goal = {{"shape", name_of(request.shape)},
                                                 {"size", request.size},
                                                 {"entry_bits", request.entry_bits},
                                                 {"kind", request.kind},
                                                 {"primaries", request.primaries},
                                                 {"limited", request.goal.limit_to_primaries},
                                                 {"mapping", mapping_name(request.goal.mapping.mapping)},
                                                 {"peak_cdm2", solved->peak.cdm2},
                                                 {"window_percent", model.parameters.value("window_percent", 4.0)},
                                                 {"input", correct::text_of(*solved->lut.input)},
                                                 {"output", correct::text_of(*solved->lut.output)},
                                                 {"model_terms", text_of(model.model.report().terms)},
                                                 {"model_mean_delta_e_itp", mean}},
                                        .added = now},
                                       *content);
  if (!id) return tl::unexpected(id.error());
  return LoanTable{.correction = *id, .solved = std::move(*solved)};
}

namespace {

struct Correction {
  store::CorrectionRecord record;
  correct::Lut table;
};

Result<Correction> correction_of(const store::Bench& bench, const store::LoanRecord& loan, store::Id id) {
  auto all = bench.corrections(loan.id);
  if (!all) return tl::unexpected(all.error());
  std::erase_if(
      *all, [](const store::CorrectionRecord& c) { return c.goal.value("shape", std::string()) == kColorimeterShape; });
  const auto found = id == 0 ? (all->empty() ? all->end() : all->end() - 1)
                             : std::ranges::find(*all, id, &store::CorrectionRecord::id);
  if (found == all->end())
    return fail(ErrorCode::not_found,
                id == 0 ? std::string("the loan has no correction") : fmt::format("the loan has no correction {}", id),
                "Solve one: provenit correct solve " + bench.path() + " --out display.cube", {.file = bench.path()});
  const auto content = bench.correction_content(found->id);
  if (!content) return tl::unexpected(content.error());
  auto table = correct::lut_from_bytes(*content, found->name);
  if (!table) return tl::unexpected(table.error());
  return Correction{*found, std::move(*table)};
}

}  // namespace

Result<procedure::RunOutcome> read_proof(store::Bench& bench, const store::LoanRecord& loan, Devices& devices,
                                         const ProofRun& asked, const CorrectionHooks& hooks) {
  auto context = context_of(bench, loan);
  if (!context) return tl::unexpected(context.error());
  auto correction = correction_of(bench, loan, asked.correction);
  if (!correction) return tl::unexpected(correction.error());
  const auto& goal = correction->record.goal;
  const auto model = model_of_run(bench, loan, correction->record.run, {.diagnose = false});
  if (!model) return tl::unexpected(model.error());
  const auto primaries = primaries_named(goal.value("primaries", "p3_d65"));
  if (!primaries) return tl::unexpected(primaries.error());
  auto codes = nlohmann::json::array();
  for (const auto& c : proof_codes(model->model, *primaries, {.cdm2 = goal.value("peak_cdm2", 0.0)}, asked.colours))
    codes.push_back(c.code);
  context->parameters = {{"correction", correction->record.id},
                         {"codes", std::move(codes)},
                         {"window_percent", goal.value("window_percent", 4.0)},
                         {"settle_s", asked.settle_s}};
  return run_or_keep(bench, loan, devices, ProofProcedure(std::move(correction->table)), *context, asked.again, hooks);
}

}  // namespace provenit::loan
