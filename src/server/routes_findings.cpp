// Findings and verdicts, what they were computed from, and what is published of them.
#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <filesystem>

#include "parts.h"
#include "provenit/base/text.h"
#include "provenit/report/archive.h"
#include "provenit/report/html.h"
#include "provenit/report/package.h"
#include "records.h"

namespace provenit::server {
namespace {

/// The report has its styles and scripts inside; its data cannot become markup (report/html.h), and it may fetch
/// nothing. Without allow-same-origin it is a page of nowhere, and cannot speak to this server.
constexpr const char* kReportPolicy =
    "default-src 'none'; script-src 'unsafe-inline'; style-src 'unsafe-inline'; img-src data: blob:; "
    "frame-ancestors 'self'; base-uri 'none'; form-action 'none'; sandbox allow-scripts allow-downloads allow-modals "
    "allow-popups";

Json finding_with_verdicts(const store::FindingRecord& finding, const report::Contents& contents) {
  auto out = report::finding_json(finding);
  Json verdicts = Json::array();
  for (const auto& v : contents.verdicts) {
    if (v.finding != finding.id) continue;
    const auto q = std::ranges::find(contents.questions, v.question, &store::QuestionRecord::id);
    if (q == contents.questions.end()) continue;
    verdicts.push_back({{"question", v.question},
                        {"set", q->set},
                        {"key", q->key},
                        {"verdict", name_of(v.verdict)},
                        {"margin", v.margin ? report::number_json(*v.margin) : Json(nullptr)},
                        {"decides", v.decides},
                        {"text", v.text}});
  }
  out["verdicts"] = std::move(verdicts);
  return out;
}

Result<Answer> get_findings(const Call& call) {
  auto open = open_loan(call);
  if (!open) return tl::unexpected(open.error());
  const auto contents = contents_without_readings(*open->bench, open->loan, false);
  if (!contents) return tl::unexpected(contents.error());
  const auto stale = is_stale(*open->bench, *contents);
  if (!stale) return tl::unexpected(stale.error());
  Json findings = Json::array();
  for (const auto& f : contents->findings) findings.push_back(finding_with_verdicts(f, *contents));
  return json_answer({{"loan", open->loan.id},
                      {"evaluated", evaluated_json(contents->findings)},
                      {"stale", *stale},
                      {"findings", std::move(findings)}});
}

Result<Answer> get_finding(const Call& call) {
  auto open = open_loan(call);
  if (!open) return tl::unexpected(open.error());
  const auto contents = contents_without_readings(*open->bench, open->loan, false);
  if (!contents) return tl::unexpected(contents.error());
  const auto id = call.numbers.at(1);
  const auto finding = std::ranges::find(contents->findings, id, &store::FindingRecord::id);
  if (finding == contents->findings.end())
    return fail(ErrorCode::not_found, fmt::format("loan {} has no finding {} now", open->loan.id, id),
                "It may have been computed anew: fetch the findings again.");
  std::vector<store::ReadingRecord> readings;
  for (const auto& [first, last] : report::ranges(finding->readings)) {
    auto some = open->bench->readings(store::ReadingQuery{.after = first - 1, .up_to = last});
    if (!some) return tl::unexpected(some.error());
    std::ranges::move(*some, std::back_inserter(readings));
  }
  const auto json = readings_json(*open->bench, readings);
  if (!json) return tl::unexpected(json.error());
  return json_answer({{"finding", finding_with_verdicts(*finding, *contents)}, {"readings", *json}});
}

Result<Answer> evaluate(const Call& call) {
  if (const auto body = call.body(); !body) return tl::unexpected(body.error());
  auto open = open_loan(call);
  if (!open) return tl::unexpected(open.error());
  const auto now = machine_time();
  const auto evaluation = loan::evaluate(*open->bench, open->loan, now, call.parts.options.software);
  if (!evaluation) return tl::unexpected(evaluation.error());
  const auto contents = contents_without_readings(*open->bench, open->loan, false);
  if (!contents) return tl::unexpected(contents.error());
  const auto questions = report::questions_json(*contents);
  if (!questions) return tl::unexpected(questions.error());
  const Json out = {{"loan", open->loan.id},
                    {"evaluated", iso8601(now)},
                    {"findings", evaluation->findings.size()},
                    {"verdicts", evaluation->verdicts.size()},
                    {"summary", report::summary_json(*questions)},
                    {"notes", evaluation->notes}};
  call.parts.changed("findings", open->loan.id);
  call.parts.hub.publish("finding", out.dump(-1, ' ', false, Json::error_handler_t::replace));
  return json_answer(out);
}

Result<report::Contents> contents_of(const Call& call, const OpenLoan& open) {
  return loan::contents_of(*open.bench, open.loan, machine_time(), call.parts.options.software);
}

Result<Answer> get_document(const Call& call) {
  auto open = open_loan(call);
  if (!open) return tl::unexpected(open.error());
  const auto rows = query_text(call.request, "readings", 10);
  if (!rows) return tl::unexpected(rows.error());
  const auto contents = contents_of(call, *open);
  if (!contents) return tl::unexpected(contents.error());
  const auto document = report::Document::build(*contents);
  if (!document) return tl::unexpected(document.error());
  if (*rows != "no") return json_answer(document->json());
  auto json = document->json();
  json["readings"]["rows"] = Json::array();
  return json_answer(json);
}

/// What a report is made of; there must be findings.
Result<report::Contents> evaluated_contents(const Call& call, const OpenLoan& open,
                                            std::vector<std::string> without = {}) {
  auto contents = contents_of(call, open);
  if (contents) contents->without = std::move(without);
  if (contents && contents->findings.empty())
    return fail(ErrorCode::conflict, "nothing has been evaluated yet", "Evaluate the loan first.");
  return contents;
}

Result<std::string> page_of(const report::Contents& contents) {
  const auto document = report::Document::build(contents);
  if (!document) return tl::unexpected(document.error());
  return report::html(*document);
}

std::string report_name(const Call& call) {
  return fmt::format("{}-loan-{}-report", std::filesystem::path(call.parts.pool.name()).stem().string(), call.loan());
}

Result<Answer> publish(const Call& call) {
  const auto body = call.body();
  if (!body) return tl::unexpected(body.error());
  Fields in(*body, {"without"});
  auto without = in.texts("without", 100, 100);
  if (in.error()) return tl::unexpected(*in.error());
  auto open = open_loan(call);
  if (!open) return tl::unexpected(open.error());
  const auto contents = evaluated_contents(call, *open, std::move(without));
  if (!contents) return tl::unexpected(contents.error());
  const auto page = page_of(*contents);
  if (!page) return tl::unexpected(page.error());
  const auto name = report_name(call), folder = call.parts.pool.folder() + '/' + name;
  auto files = report::write_package(folder + "/data", *contents);
  if (!files) return tl::unexpected(files.error());
  if (auto written = write_file(folder + "/report.html", *page); !written) return tl::unexpected(written.error());
  Json names = {"report.html"};
  for (const auto& file : *files) names.push_back("data/" + file);
  return json_answer({{"folder", name}, {"files", std::move(names)}, {"written", iso8601(contents->written)}}, 201);
}

Result<Answer> get_report(const Call& call) {
  const auto named = query_text(call.request, "without", 2000);
  if (!named) return tl::unexpected(named.error());
  const auto view = query_integer(call.request, "view", 1, 1);
  if (!view) return tl::unexpected(view.error());
  std::vector<std::string> without;
  if (!named->empty())
    for (const auto part : split(*named, ',')) without.emplace_back(part);
  auto open = open_loan(call);
  if (!open) return tl::unexpected(open.error());
  const auto contents = evaluated_contents(call, *open, std::move(without));
  if (!contents) return tl::unexpected(contents.error());
  auto page = page_of(*contents);
  if (!page) return tl::unexpected(page.error());
  Answer out{.type = "text/html; charset=utf-8", .body = std::move(*page)};
  if (*view)
    out.policy = kReportPolicy;
  else
    out.save_as = report_name(call) + ".html";
  return out;
}

Result<Answer> get_data(const Call& call) {
  auto open = open_loan(call);
  if (!open) return tl::unexpected(open.error());
  const auto contents = evaluated_contents(call, *open);
  if (!contents) return tl::unexpected(contents.error());
  const auto files = report::package(*contents);
  if (!files) return tl::unexpected(files.error());
  std::vector<report::ZipEntry> entries;
  for (const auto& file : *files) entries.push_back({report_name(call) + '/' + file.name, file.bytes});
  auto bytes = report::zip(entries);
  if (!bytes) return tl::unexpected(bytes.error());
  return Answer{.type = "application/zip", .body = std::move(*bytes), .save_as = report_name(call) + "-data.zip"};
}

}  // namespace

std::span<const Route> finding_routes() {
  static constexpr std::array routes{Route{"GET", "/loans/{loan}/findings", &get_findings, {}},
                                     Route{"GET", "/loans/{loan}/findings/{finding}", &get_finding, {}},
                                     Route{"POST", "/loans/{loan}/evaluate", &evaluate, BodyKind::json},
                                     Route{"GET", "/loans/{loan}/document", &get_document, {}},
                                     Route{"POST", "/loans/{loan}/report", &publish, BodyKind::json},
                                     Route{"GET", "/loans/{loan}/report.html", &get_report, {}},
                                     Route{"GET", "/loans/{loan}/data.zip", &get_data, {}}};
  return routes;
}

}  // namespace provenit::server
