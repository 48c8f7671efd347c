// A loan: how it stands, its plan, its readings.
#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <numeric>

#include "parts.h"
#include "provenit/base/text.h"
#include "provenit/loan/planned.h"
#include "provenit/procedure/recording.h"
#include "records.h"

namespace provenit::server {
namespace {

constexpr int kUsualPage = 200, kLargestPage = 1000;

Json runs_json(const report::Contents& contents, const std::map<store::Id, std::int64_t>& counts) {
  Json out = Json::array();
  for (const auto& r : contents.runs) {
    out.push_back(report::run_json(r));
    const auto count = counts.find(r.run.id);
    out.back()["reading_count"] = count == counts.end() ? 0 : count->second;
  }
  return out;
}

Result<Answer> get_loan(const Call& call) {
  auto open = open_loan(call);
  if (!open) return tl::unexpected(open.error());
  const auto& bench = *open->bench;
  const auto& record = open->loan;
  const auto contents = contents_without_readings(bench, record, true);
  if (!contents) return tl::unexpected(contents.error());
  const auto questions = report::questions_json(*contents);
  if (!questions) return tl::unexpected(questions.error());
  const auto counts = bench.reading_counts(record.id);
  if (!counts) return tl::unexpected(counts.error());
  const auto readings = std::accumulate(counts->begin(), counts->end(), std::int64_t{0},
                                        [](std::int64_t sum, const auto& run) { return sum + run.second; });
  const auto now = loan::time_in_loan(bench, record, machine_time());
  if (!now) return tl::unexpected(now.error());
  const auto stale = is_stale(bench, *contents);
  if (!stale) return tl::unexpected(stale.error());
  const auto run = call.parts.runs.state(bench, record.id);
  if (!run) return tl::unexpected(run.error());
  return json_answer({{"id", record.id},
                      {"loan", loan_record_json(record)},
                      {"display", with_id(contents->display, &report::display_json)},
                      {"instrument", with_id(contents->instrument, &report::instrument_json)},
                      {"room", with_id(contents->room, &report::room_json)},
                      {"now", iso8601(*now)},
                      {"left_s", std::max(0.0, (record.ends - std::max(*now, record.starts)).s)},
                      {"simulated", contents->display.details.contains("simulated")},
                      {"summary", report::summary_json(*questions)},
                      {"questions", *questions},
                      {"runs", runs_json(*contents, *counts)},
                      {"readings", readings},
                      {"evaluated", evaluated_json(contents->findings)},
                      {"stale", *stale},
                      {"run", *run}});
}

/// The plan that the query asks for. Errors: those of make_plan and keep_only.
Result<procedure::Plan> plan_of(const Call& call, const OpenLoan& open) {
  const auto hours = query_number(call.request, "hours", 0, kMostHours);
  if (!hours) return tl::unexpected(hours.error());
  const auto available = *hours ? std::optional(Seconds{**hours * 3600}) : std::nullopt;
  return loan::make_plan(*open.bench, open.loan, machine_time(), available);
}

Result<Answer> get_plan(const Call& call) {
  auto open = open_loan(call);
  if (!open) return tl::unexpected(open.error());
  const auto plan = plan_of(call, *open);
  if (!plan) return tl::unexpected(plan.error());
  const auto runs = open->bench->runs(open->loan.id);
  if (!runs) return tl::unexpected(runs.error());
  auto out = loan::to_json(*plan);
  for (std::size_t i = 0; i < plan->runs.size(); ++i) {
    const auto& planned = plan->runs[i];
    const auto in_state = [&](store::RunState state) {
      return std::ranges::any_of(
          *runs, [&](const store::RunRecord& run) { return run.procedure == planned.procedure && run.state == state; });
    };
    const auto* procedure = procedure::find_procedure(planned.procedure);
    const auto* recording = procedure::find_recording(planned.procedure);
    auto& json = out["runs"][i];
    json["title"] = procedure ? procedure->title() : recording ? recording->title : planned.procedure;
    json["caution"] = procedure ? procedure->caution() : "";
    json["by_hand"] = planned.by_hand;
    json["done"] = in_state(store::RunState::finished);
    json["open"] = in_state(store::RunState::open);
  }
  return json_answer(out);
}

Result<Answer> get_cautions(const Call& call) {
  auto open = open_loan(call);
  if (!open) return tl::unexpected(open.error());
  auto plan = plan_of(call, *open);
  if (!plan) return tl::unexpected(plan.error());
  const auto named = query_text(call.request, "procedures", 4000);
  if (!named) return tl::unexpected(named.error());
  std::vector<std::string> procedures;
  if (!named->empty())
    for (const auto part : split(*named, ',')) procedures.emplace_back(part);
  if (auto kept = loan::keep_only(*plan, procedures); !kept) return tl::unexpected(kept.error());
  auto cautions = loan::cautions_of(*open->bench, open->loan, *plan);
  if (!cautions) return tl::unexpected(cautions.error());
  for (auto& text : loan::usual_cautions()) cautions->push_back(std::move(text));
  return json_answer({{"cautions", *cautions}});
}

/// How many a loan has.
Result<std::int64_t> readings_of(const store::Bench& bench, store::Id loan) {
  const auto counts = bench.reading_counts(loan);
  if (!counts) return tl::unexpected(counts.error());
  std::int64_t total = 0;
  for (const auto& [run, count] : *counts) total += count;
  return total;
}

Result<Answer> newest_readings(const store::Bench& bench, store::Id loan, store::Id run, int count) {
  auto readings = bench.readings(store::ReadingQuery{.loan = loan, .run = run, .limit = -count});
  if (!readings) return tl::unexpected(readings.error());
  const auto json = readings_json(bench, *readings);
  if (!json) return tl::unexpected(json.error());
  const auto total = readings_of(bench, loan);
  if (!total) return tl::unexpected(total.error());
  return json_answer({{"readings", *json}, {"next", nullptr}, {"total", *total}});
}

Result<Answer> get_readings(const Call& call) {
  const auto after = query_integer(call.request, "after", 0, kMostId);
  if (!after) return tl::unexpected(after.error());
  const auto limit = query_integer(call.request, "limit", 1, kLargestPage);
  if (!limit) return tl::unexpected(limit.error());
  const auto run = query_integer(call.request, "run", 1, kMostId);
  if (!run) return tl::unexpected(run.error());
  const auto last = query_integer(call.request, "last", 1, kLargestPage);
  if (!last) return tl::unexpected(last.error());
  auto open = open_loan(call);
  if (!open) return tl::unexpected(open.error());
  const auto& bench = *open->bench;
  if (*last) return newest_readings(bench, open->loan.id, run->value_or(0), static_cast<int>(**last));
  const int wanted = static_cast<int>(limit->value_or(kUsualPage));
  // One more than asked for says whether these are the last.
  auto readings = bench.readings(store::ReadingQuery{
      .loan = open->loan.id, .run = run->value_or(0), .after = after->value_or(0), .limit = wanted + 1});
  if (!readings) return tl::unexpected(readings.error());
  Json next = nullptr;
  if (static_cast<int>(readings->size()) > wanted) {
    readings->pop_back();
    next = readings->back().id;
  }
  const auto json = readings_json(bench, *readings);
  if (!json) return tl::unexpected(json.error());
  const auto total = readings_of(bench, open->loan.id);
  if (!total) return tl::unexpected(total.error());
  return json_answer({{"readings", *json}, {"next", next}, {"total", *total}});
}

}  // namespace

std::span<const Route> loan_routes() {
  static constexpr std::array routes{Route{"GET", "/loans/{loan}", &get_loan, {}},
                                     Route{"GET", "/loans/{loan}/plan", &get_plan, {}},
                                     Route{"GET", "/loans/{loan}/cautions", &get_cautions, {}},
                                     Route{"GET", "/loans/{loan}/readings", &get_readings, {}}};
  return routes;
}

}  // namespace provenit::server
