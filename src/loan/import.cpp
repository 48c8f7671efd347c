#include <fmt/format.h>

#include <algorithm>

#include "provenit/base/text.h"
#include "provenit/loan/loan.h"

namespace provenit::loan {

tl::unexpected<Error> unknown_procedure(const std::string& id) {
  std::string names;
  for (const auto& p : procedure::all_procedures()) names += (names.empty() ? "" : ", ") + p->id();
  return fail(ErrorCode::not_found, "there is no procedure '" + id + "'", "The procedures are: " + names + ".");
}

namespace {

Result<store::ReadingRecord> record_of(const instrument::ImportedReading& imported, const signal::Encoding& encoding,
                                       const std::string& path, Timestamp now) {
  const auto code = imported.code ? imported.code : instrument::codes_of_step(imported.step, encoding);
  if (!code)
    return fail(
        ErrorCode::invalid_input, "the code values that were shown for '" + imported.sample + "' are not known",
        "Give columns R, G, B, or map the sample: --map \"" + imported.sample + "=" + imported.step + ":R,G,B\".",
        {.file = path, .line = imported.line});
  store::ReadingRecord record;
  record.step = imported.step;
  record.repeat = imported.repeat;
  record.taken = imported.taken.value_or(now);
  record.signal = {.encoding = encoding, .patch = *code};
  record.measurement = imported.measurement;
  record.context = {{"sample", imported.sample},
                    {"line", imported.line},
                    {"scale", imported.scale},
                    {"geometry", "not stated by the file"}};
  if (!imported.derived.empty()) record.context["derived"] = imported.derived;
  if (!imported.taken) record.context["taken"] = "time of import; the file states none";
  return record;
}

}  // namespace

Result<ImportOutcome> import_run(store::Bench& bench, const store::LoanRecord& loan, const std::string& procedure,
                                 const std::string& path, instrument::ImportOptions options, Timestamp now) {
  const auto bytes = read_file(path);
  if (!bytes) return tl::unexpected(bytes.error());
  return import_run(bench, loan, procedure, path, *bytes, std::move(options), now);
}

Result<ImportOutcome> import_run(store::Bench& bench, const store::LoanRecord& loan, const std::string& procedure,
                                 const std::string& path, const std::string& bytes, instrument::ImportOptions options,
                                 Timestamp now) {
  const auto* method = procedure::find_procedure(procedure);
  if (method == nullptr) {
    std::string names;
    for (const auto& p : procedure::all_procedures()) names += (names.empty() ? "" : ", ") + p->id();
    return fail(ErrorCode::not_found, "there is no procedure '" + procedure + "'",
                "The procedures are: " + names + ".");
  }
  const auto display = bench.display(loan.display);
  if (!display) return tl::unexpected(display.error());
  options.encoding = display->encoding;
  const auto steps = signals_of(bench, loan, procedure);
  if (!steps) return tl::unexpected(steps.error());
  options.file = path;
  auto report = instrument::import_readings(bytes, options);
  if (!report) return tl::unexpected(report.error());

  std::vector<store::ReadingRecord> records;
  for (const auto& imported : report->readings) {
    // Greyscale readings may have other codes than the ones this build would have chosen.
    const bool other_grey = procedure == "greyscale" && imported.step.starts_with("grey_");
    if (!other_grey && std::ranges::find(*steps, imported.step, &procedure::NamedSignal::step) == steps->end())
      return fail(ErrorCode::invalid_input, "'" + imported.sample + "' is no step of " + procedure,
                  "Map it with --map \"" + imported.sample + "=STEP\", or leave the row out.",
                  {.file = path, .line = imported.line});
    auto record = record_of(imported, display->encoding, path, now);
    if (!record) return tl::unexpected(record.error());
    const auto step = std::ranges::find(*steps, imported.step, &procedure::NamedSignal::step);
    record->context["placement"] =
        instrument::to_json(step == steps->end() ? instrument::Placement{} : step->placement);
    if (step != steps->end() && step->local_dimming != instrument::LocalDimming::as_found)
      record->context["local_dimming"] = instrument::name_of(step->local_dimming);
    record->sequence = static_cast<std::int64_t>(records.size());
    records.push_back(std::move(*record));
  }
  if (records.empty()) {
    const auto first =
        report->refused.empty() ? std::string{} : " The first refusal: " + report->refused.front().text();
    return fail(ErrorCode::invalid_input, fmt::format("no row of {} could be used.{}", report->rows, first), {},
                {.file = path});
  }
  store::RunRecord run;
  run.loan = loan.id;
  run.procedure = procedure;
  run.procedure_version = method->version();
  run.started = now;
  run.origin = "imported:" + path.substr(path.find_last_of('/') + 1) + " sha256:" + sha256_hex(bytes);
  const auto id = bench.begin_run(run);
  if (!id) return tl::unexpected(id.error());
  for (auto& r : records) r.run = *id;
  if (auto added = bench.add_readings(records); !added) return tl::unexpected(added.error());
  for (const auto& refused : report->refused)
    if (auto event = bench.add_event({.run = *id, .at = now, .kind = "refused_row", .text = refused.text()}); !event)
      return tl::unexpected(event.error());
  if (auto ended = bench.end_run(*id, store::RunState::finished, now); !ended) return tl::unexpected(ended.error());
  return ImportOutcome{*id, std::move(*report), records.size()};
}

}  // namespace provenit::loan
