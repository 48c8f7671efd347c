#include <algorithm>
#include <iterator>

#include "forecast_findings.h"
#include "loan_internal.h"
#include "provenit/base/text.h"
#include "provenit/evaluation/evaluate.h"
#include "provenit/evaluation/verdict.h"
#include "provenit/loan/colorimeter.h"
#include "provenit/loan/correction.h"
#include "provenit/loan/forecast_json.h"
#include "provenit/loan/loan.h"
#include "provenit/loan/recordings.h"
#include "provenit/procedure/catalogue.h"
#include "provenit/programme/bench.h"
#include "provenit/programme/survey.h"

namespace provenit::loan {

Result<std::vector<evaluation::RunData>> runs_with_readings(const store::Bench& bench, const store::LoanRecord& loan) {
  const auto runs = bench.runs(loan.id);
  if (!runs) return tl::unexpected(runs.error());
  std::vector<evaluation::RunData> data;
  for (const auto& run : *runs) {
    if (run.state == store::RunState::aborted) continue;
    auto readings = bench.readings(run.id);
    if (!readings) return tl::unexpected(readings.error());
    if (!readings->empty()) data.push_back({run, std::move(*readings)});
  }
  return data;
}

Result<Evaluation> computed(const store::Bench& bench, const store::LoanRecord& loan, Timestamp now,
                            const std::string& software) {
  const auto display = bench.display(loan.display);
  if (!display) return tl::unexpected(display.error());
  const auto instrument = bench.instrument(loan.instrument);
  if (!instrument) return tl::unexpected(instrument.error());
  const auto basis = reading_basis(bench, loan);
  if (!basis) return tl::unexpected(basis.error());
  const auto room = bench.room(loan.room);
  if (!room) return tl::unexpected(room.error());
  auto questions = bench.questions(loan.id);
  if (!questions) return tl::unexpected(questions.error());
  const auto data = runs_with_readings(bench, loan);
  if (!data) return tl::unexpected(data.error());
  auto recorded = recorded_findings(bench, loan);
  if (!recorded) return tl::unexpected(recorded.error());
  const auto proof = proof_of(bench, loan);
  if (!proof) return tl::unexpected(proof.error());
  auto eye = eye_check_findings(bench, loan);
  if (!eye) return tl::unexpected(eye.error());
  if (data->empty() && recorded->findings.empty() && recorded->notes.empty())
    return fail(ErrorCode::not_found, "the loan has no readings yet",
                "Take some with `provenit run " + bench.path() + "`, `provenit import` or `provenit attach`.",
                {.file = bench.path()});
  const evaluation::EvaluationInput input{.encoding = display->encoding,
                                          .certificate = basis->certificate,
                                          .capabilities = instrument->capabilities,
                                          .matrix = basis->matrix,
                                          .surround_cdm2 = room->surround_cdm2,
                                          .seed = loan.seed};
  Evaluation out{.questions = std::move(*questions), .notes = std::move(recorded->notes)};
  auto warnings = matrix_warnings(bench, loan, *basis);
  if (!warnings) return tl::unexpected(warnings.error());
  std::ranges::move(*warnings, std::back_inserter(out.notes));
  if (!data->empty()) {
    auto findings = evaluation::evaluate(*data, input);
    if (!findings) return tl::unexpected(findings.error());
    out.findings = std::move(*findings);
    if (basis->matrix)
      for (auto& f : out.findings) f.parts["colorimeter_matrix"] = basis->record.id;
  }
  std::ranges::move(recorded->findings, std::back_inserter(out.findings));
  if (*proof) std::ranges::move(findings_of(**proof), std::back_inserter(out.findings));
  std::ranges::move(*eye, std::back_inserter(out.findings));
  std::ranges::stable_sort(out.findings, {}, [](const store::FindingRecord& f) {
    return procedure::find_quantity(f.quantity) - procedure::catalogue().data();
  });
  for (auto& f : out.findings) {
    f.loan = loan.id;
    f.computed = now;
    f.software = software;
  }
  for (const auto& question : out.questions) {
    const auto found = std::ranges::find_if(
        out.findings, [&](const store::FindingRecord& f) { return evaluation::answers(f, question); });
    if (found == out.findings.end()) continue;
    auto verdict = evaluation::verdict(*found, question);
    if (!verdict) continue;  // an open question: the finding is its answer, there is no limit to hold it against
    verdict->question = question.id;
    verdict->finding = found - out.findings.begin();
    out.verdicts.push_back(std::move(*verdict));
  }
  return out;
}

Result<Evaluation> evaluate(store::Bench& bench, const store::LoanRecord& loan, Timestamp now,
                            const std::string& software) {
  auto out = computed(bench, loan, now, software);
  if (!out) return out;
  if (auto stored = bench.put_findings(loan.id, out->findings, out->verdicts); !stored)
    return tl::unexpected(stored.error());
  return out;
}

namespace {

// Peak that highlights are counted above: the reference display of BT.2100-3 has at least as much.
constexpr double kHighlightPeak_cdm2 = 1000;

// Of a title's forecast, as many as a page of paper shows.
constexpr std::size_t kForecastColumns = 400, kForecastMoments = 10;

Result<std::vector<nlohmann::ordered_json>> titles_of(const store::Bench& bench, const store::LoanRecord& loan) {
  const auto surveys = bench.surveys();
  if (!surveys) return tl::unexpected(surveys.error());
  std::vector<nlohmann::ordered_json> titles;
  if (surveys->empty()) return titles;
  const auto forecast = forecast_of(bench, loan);
  std::optional<forecast::TitleForecaster> forecaster;
  if (forecast) forecaster.emplace(forecast->display);
  for (const auto& record : *surveys) {
    const auto header = programme::survey_header_from_json(record.header);
    if (!header) return tl::unexpected(header.error());
    const auto frames = programme::frames_in_bench(bench, record.id);
    if (!frames) return tl::unexpected(frames.error());
    auto title = programme::title_document(*header, *frames, kHighlightPeak_cdm2);
    if (forecaster) {
      auto& told = title["forecast"] = title_json(forecaster->forecast(*frames), kForecastColumns, kForecastMoments);
      told["assumptions"] = forecast->display.assumptions();
    } else if (forecast.error().code != ErrorCode::not_found) {
      title["notes"].push_back("No forecast: " + forecast.error().message + ".");
    }
    titles.push_back(std::move(title));
  }
  return titles;
}

}  // namespace

Result<report::Contents> contents_of(const store::Bench& bench, const store::LoanRecord& loan, Timestamp now,
                                     const std::string& software) {
  report::Contents contents;
  contents.loan = loan;
  contents.written = now;
  contents.software = software;
  const auto title = bench.title();
  if (!title) return tl::unexpected(title.error());
  contents.title = title->title;
  contents.evaluator = title->evaluator;
  // One statement a record: each can fail, and the first failure is the caller's answer.
  const auto take = [](auto& target, auto result) -> Result<void> {
    if (!result) return tl::unexpected(result.error());
    target = std::move(*result);
    return {};
  };
  if (auto r = take(contents.display, bench.display(loan.display)); !r) return tl::unexpected(r.error());
  if (auto r = take(contents.instrument, bench.instrument(loan.instrument)); !r) return tl::unexpected(r.error());
  if (auto r = take(contents.room, bench.room(loan.room)); !r) return tl::unexpected(r.error());
  if (auto r = take(contents.questions, bench.questions(loan.id)); !r) return tl::unexpected(r.error());
  if (auto r = take(contents.findings, bench.latest_findings(loan.id)); !r) return tl::unexpected(r.error());
  if (auto r = take(contents.verdicts, bench.latest_verdicts(loan.id)); !r) return tl::unexpected(r.error());
  if (auto r = take(contents.attachments, bench.attachments(loan.id)); !r) return tl::unexpected(r.error());
  if (auto r = take(contents.corrections, bench.corrections(loan.id)); !r) return tl::unexpected(r.error());
  // The matrix of the readings may have been made in another loan of this display and instrument.
  const auto basis = reading_basis(bench, loan);
  if (!basis) return tl::unexpected(basis.error());
  if (basis->matrix && std::ranges::find(contents.corrections, basis->record.id, &store::CorrectionRecord::id) ==
                           contents.corrections.end())
    contents.corrections.push_back(basis->record);
  const auto runs = bench.runs(loan.id);
  if (!runs) return tl::unexpected(runs.error());
  for (const auto& run : *runs) {
    report::RunContents r{run, {}, {}};
    if (auto t = take(r.readings, bench.readings(run.id)); !t) return tl::unexpected(t.error());
    if (auto t = take(r.events, bench.events(run.id)); !t) return tl::unexpected(t.error());
    contents.runs.push_back(std::move(r));
  }
  if (auto r = take(contents.titles, titles_of(bench, loan)); !r) return tl::unexpected(r.error());
  contents.invented = contents.display.details.contains("simulated");
  return contents;
}

}  // namespace provenit::loan
