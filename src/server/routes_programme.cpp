// Surveys of the bench as a page draws them, and the making of one.
#include <array>
#include <cmath>

#include "parts.h"
#include "provenit/base/text.h"
#include "provenit/programme/title.h"

namespace provenit::server {
namespace {

constexpr std::int64_t kMostColumns = 10'000;
constexpr double kUsualPeak_cdm2 = 1000;

struct OpenTitle {
  BenchPool::Lease bench;
  std::shared_ptr<const ShelvedTitle> title;
};
Result<OpenTitle> open_title(const Call& call) {
  auto bench = call.parts.pool.take();
  if (!bench) return tl::unexpected(bench.error());
  auto title = call.parts.surveys.title(**bench, call.numbers.at(0));
  if (!title) return tl::unexpected(title.error());
  return OpenTitle{std::move(*bench), std::move(*title)};
}

Json files_json(const ProgrammeFolder& folder, const std::vector<ProgrammeFile>& files) {
  Json out = Json::array();
  for (const auto& f : files) out.push_back({{"name", f.name}, {"bytes", f.bytes}, {"still", f.still}});
  return {{"folder", folder.given() ? Json(folder.name()) : Json(nullptr)}, {"files", std::move(out)}};
}

/// A survey names its file without folders: the first file of that name is taken to be it; the fingerprint tells once
/// it is looked at.
Json file_of(const std::vector<ProgrammeFile>& files, const std::string& title) {
  for (const auto& f : files)
    if (f.name == title || f.name.ends_with("/" + title)) return f.name;
  return nullptr;
}

Result<Answer> programmes(const Call& call) {
  auto bench = call.parts.pool.take();
  if (!bench) return tl::unexpected(bench.error());
  const auto surveys = (*bench)->surveys();
  if (!surveys) return tl::unexpected(surveys.error());
  const auto files = call.parts.programmes.files();
  if (!files) return tl::unexpected(files.error());
  auto out = files_json(call.parts.programmes, *files);
  auto& list = out["surveys"] = Json::array();
  for (const auto& s : *surveys)
    list.push_back({{"survey", s.id},
                    {"title", s.title},
                    {"frames", s.frames},
                    {"added", iso8601(s.added)},
                    {"complete", s.header.value("complete", false)},
                    {"live", s.header.value("live", false)},
                    {"file", file_of(*files, s.title)}});
  out["job"] = call.parts.survey_job.state();
  return json_answer(out);
}

Result<Answer> survey(const Call& call) {
  const auto open = open_title(call);
  if (!open) return tl::unexpected(open.error());
  return json_answer(open->title->document);
}

/// Five significant digits: more than a time line can show, in a third of the bytes.
double shortened(double value) {
  if (!(value > 0)) return value;
  const double scale = std::pow(10, 4 - std::floor(std::log10(value)));
  return std::round(value * scale) / scale;
}
void shorten(programme::CourseColumns& columns) {
  for (auto* row : {&columns.max_cdm2, &columns.high_cdm2, &columns.mean_cdm2})
    for (double& v : *row) v = shortened(v);
  constexpr double kTenth_ms = 1e4;
  for (double& t : columns.time_s) t = std::round(t * kTenth_ms) / kTenth_ms;
}

Result<Answer> course(const Call& call) {
  const auto first = query_integer(call.request, "first", 0, kMostFrames),
             last = query_integer(call.request, "last", 0, kMostFrames),
             columns = query_integer(call.request, "columns", 1, kMostColumns);
  for (const auto* number : {&first, &last, &columns})
    if (!*number) return tl::unexpected(number->error());
  const auto open = open_title(call);
  if (!open) return tl::unexpected(open.error());
  const auto& all = open->title->course;
  auto part = all.columns(static_cast<std::size_t>(first->value_or(0)),
                          static_cast<std::size_t>(last->value_or(static_cast<std::int64_t>(all.size()))),
                          static_cast<std::size_t>(columns->value_or(600)));
  shorten(part);
  Json out = {{"first", part.first}, {"last", part.last}, {"frames", all.size()}};
  out.update(programme::to_json(part));
  return json_answer(out);
}

Result<std::shared_ptr<const ShelvedScenes>> open_scenes(const Call& call) {
  const auto peak = query_number(call.request, "peak_cdm2", 0, 10'000);
  if (!peak) return tl::unexpected(peak.error());
  const auto bench = call.parts.pool.take();
  if (!bench) return tl::unexpected(bench.error());
  return call.parts.surveys.scenes(**bench, call.numbers.at(0), peak->value_or(kUsualPeak_cdm2));
}

Result<Answer> scenes(const Call& call) {
  const auto open = open_scenes(call);
  if (!open) return tl::unexpected(open.error());
  return json_answer((*open)->scenes);
}

Result<Answer> moments(const Call& call) {
  const auto test = query_text(call.request, "test", 40);
  if (!test) return tl::unexpected(test.error());
  const auto count = query_integer(call.request, "count", 1, static_cast<std::int64_t>(kMostMoments));
  if (!count) return tl::unexpected(count.error());
  const auto open = open_scenes(call);
  if (!open) return tl::unexpected(open.error());
  const auto found = (*open)->moments.find(*test);
  if (found == (*open)->moments.end()) {
    std::string names;
    for (const auto& [name, unused] : (*open)->moments) names += (names.empty() ? "" : ", ") + name;
    return fail(ErrorCode::invalid_input, "'" + *test + "' is nothing that a moment can test",
                "Give one of: " + names + ".", {.field = "test"});
  }
  Json out = found->second;
  auto& list = out["moments"].get_ref<Json::array_t&>();
  list.resize(std::min(list.size(), static_cast<std::size_t>(count->value_or(10))));
  return json_answer(out);
}

Result<Answer> frame(const Call& call) {
  const auto index = query_integer(call.request, "frame", 0, kMostFrames);
  if (!index) return tl::unexpected(index.error());
  if (!*index) return fail(ErrorCode::invalid_input, "is missing", "Give the frame's number.", {.field = "frame"});
  const auto open = open_title(call);
  if (!open) return tl::unexpected(open.error());
  const auto position = open->title->course.position_of(**index);
  const auto record = programme::frame_in_bench(*open->bench, call.numbers.at(0), position);
  if (!record) return tl::unexpected(record.error());
  return json_answer({{"position", position},
                      {"frame", record->figures.index},
                      {"time_s", record->figures.time_s},
                      {"figures", programme::to_json(record->figures)}});
}

Result<Answer> frames_csv(const Call& call) {
  const auto open = open_title(call);
  if (!open) return tl::unexpected(open.error());
  std::string text = programme::csv_head();
  const auto read = programme::for_each_chunk(*open->bench, call.numbers.at(0), [&](auto frames) -> Result<void> {
    programme::append_csv(text, frames);
    return {};
  });
  if (!read) return tl::unexpected(read.error());
  return Answer{.type = "text/csv; charset=utf-8", .body = std::move(text), .save_as = "frames.csv"};
}

Result<Answer> job(const Call& call) {
  return json_answer(call.parts.survey_job.state());
}

Result<Answer> change_job(const Call& call) {
  const auto body = call.body();
  if (!body) return tl::unexpected(body.error());
  Fields in(*body, {"action", "file", "transfer", "primaries", "matrix", "range", "siting", "peak_cdm2"});
  const bool start = in.needed_choice("action", {"start", "cancel"}) == "start";
  const auto file = start ? in.needed_text("file", 1000) : std::string();
  programme::InterpretationNames names;
  for (auto [key, field] :
       {std::pair("transfer", &names.transfer), std::pair("primaries", &names.primaries),
        std::pair("matrix", &names.matrix), std::pair("range", &names.range), std::pair("siting", &names.siting)})
    *field = in.text(key, 40).value_or("");
  names.peak_cdm2 = in.number("peak_cdm2", 0, 100'000, true).value_or(0);
  if (in.error()) return tl::unexpected(*in.error());
  auto& survey_job = call.parts.survey_job;
  if (start) {
    const auto meant = programme::interpretation_of(names);
    if (!meant) return tl::unexpected(meant.error());
    const auto path = call.parts.programmes.path_of(file);
    if (!path) return tl::unexpected(path.error());
    if (const auto bench = call.parts.pool.take(); !bench) return tl::unexpected(bench.error());
    const programme::ReaderOptions reading{.interpretation = *meant};
    // What cannot be read is told at once, with what to say of it.
    if (const auto reader = programme::open_reader(*path, reading); !reader) return tl::unexpected(reader.error());
    if (auto begun = survey_job.start(*path, file, reading); !begun) return tl::unexpected(begun.error());
  } else if (auto told = survey_job.cancel(); !told) {
    return tl::unexpected(told.error());
  }
  return json_answer(survey_job.state(), 202);
}

}  // namespace

std::span<const Route> programme_routes() {
  static constexpr std::array routes{Route{"GET", "/programmes", &programmes, {}},
                                     Route{"GET", "/surveys/{survey}", &survey, {}},
                                     Route{"GET", "/surveys/{survey}/course", &course, {}},
                                     Route{"GET", "/surveys/{survey}/scenes", &scenes, {}},
                                     Route{"GET", "/surveys/{survey}/moments", &moments, {}},
                                     Route{"GET", "/surveys/{survey}/frame", &frame, {}},
                                     Route{"GET", "/surveys/{survey}/frames.csv", &frames_csv, {}},
                                     Route{"GET", "/survey-job", &job, {}},
                                     Route{"POST", "/survey-job", &change_job, BodyKind::json}};
  return routes;
}

}  // namespace provenit::server
