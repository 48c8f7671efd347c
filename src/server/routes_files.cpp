// Files that come from outside: readings taken elsewhere, and what was recorded by hand.
#include <fmt/format.h>

#include <algorithm>
#include <array>

#include "parts.h"
#include "provenit/base/names.h"
#include "provenit/loan/recordings.h"
#include "records.h"

namespace provenit::server {
namespace {

constexpr Named<colour::Observer> observers[] = {{colour::Observer::cie1931_2deg, "cie1931_2deg"},
                                                 {colour::Observer::cie1964_10deg, "cie1964_10deg"},
                                                 {colour::Observer::cie2015_2deg, "cie2015_2deg"},
                                                 {colour::Observer::cie2015_10deg, "cie2015_10deg"}};
constexpr Named<instrument::ValueScale> scales[] = {{instrument::ValueScale::absolute, "absolute"},
                                                    {instrument::ValueScale::relative, "relative"}};

tl::unexpected<Error> unknown(const char* field, const std::string& text) {
  return fail(ErrorCode::invalid_input, "'" + text + "' is not known here", "openapi.json lists what is.",
              {.field = field});
}

/// A parameter that must be there. Errors: invalid_input.
Result<std::string> needed(const Request& request, const char* name, std::size_t longest) {
  auto text = query_text(request, name, longest);
  if (text && text->empty()) return fail(ErrorCode::invalid_input, "is missing", "Give it.", {.field = name});
  return text;
}

/// A file's name without folders.
Result<std::string> file_name(const Request& request) {
  auto name = needed(request, "name", 200);
  if (name && (name->find_first_of("/\\\r\n") != std::string::npos || *name == "." || *name == ".."))
    return fail(ErrorCode::invalid_input, "a file's name has no folders", "Give its last part.", {.field = "name"});
  return name;
}

Result<instrument::ImportOptions> import_options(const Request& request) {
  instrument::ImportOptions out;
  const auto scale = query_text(request, "scale", 40), unit = query_text(request, "spectral_unit", 40),
             observer = query_text(request, "observer", 40);
  for (const auto* text : {&scale, &unit, &observer})
    if (!*text) return tl::unexpected(text->error());
  if (!scale->empty()) {
    const auto found = value_of(scales, *scale);
    if (!found) return unknown("scale", *scale);
    out.scale = *found;
  }
  if (!unit->empty()) {
    const auto found = instrument::spectral_unit_of(*unit);
    if (!found) return unknown("spectral_unit", *unit);
    out.spectral_unit = *found;
  }
  if (!observer->empty()) {
    const auto found = value_of(observers, *observer);
    if (!found) return unknown("observer", *observer);
    out.observer = *found;
  }
  const auto white = query_number(request, "white_cdm2", 0, 1e6);
  if (!white) return tl::unexpected(white.error());
  if (*white) out.relative_white = instrument::RelativeWhite{.cdm2 = **white};
  return out;
}

Result<Answer> import_readings(const Call& call) {
  const auto procedure = needed(call.request, "procedure", 100);
  if (!procedure) return tl::unexpected(procedure.error());
  const auto name = file_name(call.request);
  if (!name) return tl::unexpected(name.error());
  const auto options = import_options(call.request);
  if (!options) return tl::unexpected(options.error());
  auto open = open_loan(call);
  if (!open) return tl::unexpected(open.error());
  const auto outcome =
      loan::import_run(*open->bench, open->loan, *procedure, *name, call.request.body, *options, machine_time());
  if (!outcome) return tl::unexpected(outcome.error());
  call.parts.changed("loan", open->loan.id);
  Json refused = Json::array(), remarks = Json::array();
  for (const auto& e : outcome->report.refused) refused.push_back(problem_json(e, call.parts.options.bench));
  for (const auto& e : outcome->report.remarks) remarks.push_back(e.text());
  return json_answer({{"run", outcome->run},
                      {"stored", outcome->stored},
                      {"refused", std::move(refused)},
                      {"remarks", std::move(remarks)}},
                     201);
}

Result<Answer> get_attachments(const Call& call) {
  auto open = open_loan(call);
  if (!open) return tl::unexpected(open.error());
  const auto attachments = open->bench->attachments(open->loan.id);
  if (!attachments) return tl::unexpected(attachments.error());
  const auto findings = open->bench->latest_findings(open->loan.id);
  if (!findings) return tl::unexpected(findings.error());
  Json out = Json::array();
  for (const auto& a : *attachments) out.push_back(report::attachment_json(a, *findings));
  return json_answer({{"attachments", std::move(out)}});
}

/// A parameter that holds a JSON object.
Result<nlohmann::json> query_object(const Request& request, const char* name) {
  const auto text = query_text(request, name, 4000);
  if (!text) return tl::unexpected(text.error());
  auto out = parse_body(*text);
  if (!out || !out->is_object())
    return fail(ErrorCode::invalid_input, "a JSON object is needed here", "Send {...}.", {.field = name});
  return out;
}

Result<Answer> attach(const Call& call) {
  const auto recording = needed(call.request, "recording", 100);
  if (!recording) return tl::unexpected(recording.error());
  const auto name = file_name(call.request);
  if (!name) return tl::unexpected(name.error());
  const auto step = query_text(call.request, "step", 100);
  if (!step) return tl::unexpected(step.error());
  const auto parameters = query_object(call.request, "parameters");
  if (!parameters) return tl::unexpected(parameters.error());
  const auto conditions = query_object(call.request, "conditions");
  if (!conditions) return tl::unexpected(conditions.error());
  const auto run = query_integer(call.request, "run", 1, kMostId);
  if (!run) return tl::unexpected(run.error());
  auto open = open_loan(call);
  if (!open) return tl::unexpected(open.error());
  const loan::AttachRequest request{.path = *name,
                                    .recording = *recording,
                                    .step = *step,
                                    .parameters = *parameters,
                                    .conditions = *conditions,
                                    .run = run->value_or(0)};
  const auto attached = loan::attach(*open->bench, open->loan, request, call.request.body, machine_time());
  if (!attached) return tl::unexpected(attached.error());
  const auto kept = open->bench->attachments(open->loan.id);
  if (!kept) return tl::unexpected(kept.error());
  call.parts.changed("loan", open->loan.id);
  const auto& record = *std::ranges::find(*kept, attached->id, &store::AttachmentRecord::id);
  return json_answer({{"id", record.id},
                      {"recording", record.recording},
                      {"step", record.conditions.value("step", "")},
                      {"name", record.name},
                      {"sha256", record.content_hash},
                      {"bytes", record.bytes},
                      {"read_as", attached->read_as}},
                     201);
}

}  // namespace

std::span<const Route> file_routes() {
  static constexpr std::array routes{Route{"POST", "/loans/{loan}/import", &import_readings, BodyKind::file},
                                     Route{"GET", "/loans/{loan}/attachments", &get_attachments, {}},
                                     Route{"POST", "/loans/{loan}/attachments", &attach, BodyKind::file}};
  return routes;
}

}  // namespace provenit::server
