// What is on the bench, and making it.
#include <array>

#include "parts.h"
#include "provenit/base/text.h"
#include "records.h"

namespace provenit::server {
namespace {

/// One loan in a list: names, how far its runs are, what became of its questions.
Result<Json> summary_of(const store::Bench& bench, const store::LoanRecord& loan) {
  const auto contents = contents_without_readings(bench, loan, false);
  if (!contents) return tl::unexpected(contents.error());
  const auto questions = report::questions_json(*contents);
  if (!questions) return tl::unexpected(questions.error());
  const auto counts = bench.reading_counts(loan.id);
  if (!counts) return tl::unexpected(counts.error());
  std::int64_t readings = 0;
  for (const auto& [run, count] : *counts) readings += count;
  int open = 0, finished = 0, aborted = 0;
  for (const auto& r : contents->runs) {
    open += r.run.state == store::RunState::open;
    finished += r.run.state == store::RunState::finished;
    aborted += r.run.state == store::RunState::aborted;
  }
  return Json{{"id", loan.id},
              {"display", contents->display.name},
              {"instrument", contents->instrument.name},
              {"room", contents->room.name},
              {"starts", iso8601(loan.starts)},
              {"ends", iso8601(loan.ends)},
              {"purpose", loan.purpose},
              {"simulated", contents->display.details.contains("simulated")},
              {"summary", report::summary_json(*questions)},
              {"runs", {{"open", open}, {"finished", finished}, {"aborted", aborted}}},
              {"readings", readings}};
}

/// The report's JSON of every record, each with its id.
template <class Record>
Result<Json> list(const Result<std::vector<Record>>& records, Json (*json)(const Record&)) {
  if (!records) return tl::unexpected(records.error());
  Json out = Json::array();
  for (const auto& record : *records) out.push_back(with_id(record, json));
  return out;
}

Json empty_bench(const Call& call) {
  return {{"exists", false},
          {"name", call.parts.pool.name()},
          {"title", ""},
          {"evaluator", ""},
          {"created", nullptr},
          {"displays", Json::array()},
          {"instruments", Json::array()},
          {"rooms", Json::array()},
          {"loans", Json::array()},
          {"readings", 0},
          {"surveys", 0},
          {"running", nullptr}};
}

Result<Answer> get_bench(const Call& call) {
  auto out = empty_bench(call);
  if (!call.parts.pool.exists()) return json_answer(out);
  auto lease = call.parts.pool.take();
  if (!lease) return tl::unexpected(lease.error());
  const auto& bench = **lease;
  const auto title = bench.title();
  if (!title) return tl::unexpected(title.error());
  out["exists"] = true;
  out["title"] = title->title;
  out["evaluator"] = title->evaluator;
  out["created"] = iso8601(title->created);
  auto displays = list(bench.displays(), &report::display_json);
  if (!displays) return tl::unexpected(displays.error());
  auto instruments = list(bench.instruments(), &report::instrument_json);
  if (!instruments) return tl::unexpected(instruments.error());
  auto rooms = list(bench.rooms(), &report::room_json);
  if (!rooms) return tl::unexpected(rooms.error());
  out["displays"] = std::move(*displays);
  out["instruments"] = std::move(*instruments);
  out["rooms"] = std::move(*rooms);
  const auto loans = bench.loans();
  if (!loans) return tl::unexpected(loans.error());
  for (const auto& loan : *loans) {
    auto summary = summary_of(bench, loan);
    if (!summary) return tl::unexpected(summary.error());
    out["loans"].push_back(std::move(*summary));
  }
  const auto readings = bench.reading_count();
  if (!readings) return tl::unexpected(readings.error());
  const auto surveys = bench.surveys();
  if (!surveys) return tl::unexpected(surveys.error());
  out["readings"] = *readings;
  out["surveys"] = surveys->size();
  if (const auto running = call.parts.runs.running()) out["running"] = *running;
  return json_answer(out);
}

Result<Answer> make_bench(const Call& call) {
  const auto body = call.body();
  if (!body) return tl::unexpected(body.error());
  Fields in(*body, {"title", "evaluator"});
  const auto title = in.needed_text("title"), evaluator = in.needed_text("evaluator");
  if (in.error()) return tl::unexpected(*in.error());
  const auto made = store::Bench::create(call.parts.pool.path(), title, evaluator, machine_time());
  if (!made) return tl::unexpected(made.error());
  call.parts.changed("bench", 0);
  auto answer = get_bench(call);
  if (answer) answer->status = 201;
  return answer;
}

}  // namespace

std::span<const Route> bench_routes() {
  static constexpr std::array routes{Route{"GET", "/bench", &get_bench, {}},
                                     Route{"POST", "/bench", &make_bench, BodyKind::json}};
  return routes;
}

}  // namespace provenit::server
