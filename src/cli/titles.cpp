// provenit titles: the surveys of a bench and their figures. provenit moments: the frames of a title that test a
// display.
#include <fmt/format.h>

#include <CLI/CLI.hpp>
#include <memory>

#include "provenit/base/text.h"
#include "provenit/programme/bench.h"
#include "provenit/programme/look.h"
#include "provenit/programme/scenes.h"
#include "title_text.h"
#include "verbs.h"

namespace provenit::cli {
namespace {

using programme::Demand;

struct TitlesOptions {
  std::string bench, csv;
  store::Id survey = 0;
};

int list(const Output& output, const store::Bench& bench) {
  const auto surveys = bench.surveys();
  if (!surveys) return output.fail(surveys.error());
  Table table({"survey", "title", "frames", "added", "complete"});
  auto document = nlohmann::ordered_json::array();
  for (const auto& s : *surveys) {
    const bool complete = s.header.value("complete", false);
    table.add(
        {fmt::format("{}", s.id), s.title, fmt::format("{}", s.frames), iso8601(s.added), complete ? "yes" : "no"});
    document.push_back(
        {{"survey", s.id}, {"title", s.title}, {"frames", s.frames}, {"hash", s.hash}, {"complete", complete}});
  }
  output.say(surveys->empty() ? fmt::format("No survey yet. Make one: provenit survey FILM --bench {}\n", bench.path())
                              : table.text() + fmt::format("\nOne of them: provenit titles {} --survey {}\n",
                                                           bench.path(), surveys->back().id),
             document);
  return kDone;
}

int titles(const Output& output, const TitlesOptions& o) {
  const auto bench = store::Bench::open(o.bench);
  if (!bench) return output.fail(bench.error());
  if (o.survey == 0 && o.csv.empty()) return list(output, *bench);
  const auto survey = programme::survey_in_bench(*bench, o.survey);
  if (!survey) return output.fail(survey.error());
  std::vector<programme::FrameLight> light;
  std::string csv = programme::csv_head();
  const auto read = programme::for_each_chunk(*bench, survey->record.id, [&](auto frames) -> Result<void> {
    for (const auto& f : frames) light.push_back(programme::light_of(f.figures));
    if (!o.csv.empty()) programme::append_csv(csv, frames);
    return {};
  });
  if (!read) return output.fail(read.error());
  if (!o.csv.empty()) {
    if (const auto written = write_file(o.csv, csv); !written) return output.fail(written.error());
  }
  auto [text, document] = summary_of(survey->header, light);
  document["hash"] = survey->record.hash;
  if (!o.csv.empty()) text += fmt::format("\nFrames: {}\n", o.csv);
  output.say(text, document);
  return kDone;
}

struct MomentOptions : TitlesOptions {
  std::string test;
  std::size_t count = 10;
  double peak_cdm2 = 1000;
};

Result<Demand> demand_of(const std::string& name) {
  std::string names;
  for (const Demand d : programme::kDemands) {
    if (name == programme::name_of(d)) return d;
    names += (names.empty() ? "" : ", ") + std::string(programme::name_of(d));
  }
  return fail(ErrorCode::invalid_input, "'" + name + "' is nothing that a moment can test",
              "Give one of: " + names + ".", {.field = "--test"});
}

/// The command that shows the moments on one sheet.
std::string see_them(const programme::SurveyHeader& header, std::span<const programme::FrameRecord> frames,
                     std::span<const programme::Moment> ranked) {
  if (header.live) return "";
  std::string text = fmt::format("\nTo see them: provenit look {}", header.title);
  for (const auto& m : ranked) text += fmt::format(" --frame {}", frames[m.position].figures.index);
  return text + " --out moments\n";
}

int moments(const Output& output, const MomentOptions& o) {
  const auto demand = demand_of(o.test);
  if (!demand) return output.fail(demand.error());
  const auto bench = store::Bench::open(o.bench);
  if (!bench) return output.fail(bench.error());
  const auto survey = programme::survey_in_bench(*bench, o.survey);
  if (!survey) return output.fail(survey.error());
  const auto frames = programme::frames_in_bench(*bench, survey->record.id);
  if (!frames) return output.fail(frames.error());
  const auto& format = survey->header.source.format;
  const auto scenes = programme::find_scenes(*frames, format.width, format.height, o.peak_cdm2);
  const auto ranked = programme::ranked_moments(*frames, scenes, *demand, o.count);
  Table table({"rank", "at", "frame", "scene", o.test, "max cd/m2", "mean cd/m2"});
  nlohmann::ordered_json document{{"title", survey->header.title},
                                  {"test", o.test},
                                  {"quantity", programme::describe(*demand)},
                                  {"scenes", scenes.scenes.size()},
                                  {"moments", nlohmann::ordered_json::array()}};
  for (std::size_t i = 0; i < ranked.size(); ++i) {
    const auto& f = (*frames)[ranked[i].position].figures;
    table.add({fmt::format("{}", i + 1), programme::time_text(f.time_s), fmt::format("{}", f.index),
               fmt::format("{}", ranked[i].scene + 1), fmt::format("{:.4g}", ranked[i].value),
               fmt::format("{:.1f}", f.max_rgb_max), fmt::format("{:.2f}", f.max_rgb_mean)});
    document["moments"].push_back({{"frame", f.index},
                                   {"time_s", f.time_s},
                                   {"scene", ranked[i].scene + 1},
                                   {"value", ranked[i].value},
                                   {"max_rgb_max_cdm2", f.max_rgb_max},
                                   {"max_rgb_mean_cdm2", f.max_rgb_mean}});
  }
  std::string text = fmt::format("{}: {} scenes. {}: {}\n", survey->header.title, scenes.scenes.size(), o.test,
                                 programme::describe(*demand));
  text += ranked.empty() ? "No frame of it asks that of a display.\n"
                         : table.text() + see_them(survey->header, *frames, ranked);
  if (!scenes.cautions.empty())
    text += fmt::format(
        "\nCaution: flashing beyond ITU-R BT.1702-3 in {} places. People with photosensitive epilepsy must not watch "
        "them;\n"
        "that none is listed is no clearance.\n",
        scenes.cautions.size());
  output.say(text, document);
  return kDone;
}

void add_survey_choice(CLI::App& verb, TitlesOptions& o) {
  verb.add_option("bench", o.bench, "bench file")->required();
  verb.add_option("--survey", o.survey, "survey number, if not the newest");
}

}  // namespace

void add_titles(Command& command) {
  const auto o = std::make_shared<TitlesOptions>();
  auto* verb = add_verb(command, "titles", "list the surveys of a bench, or show one and write its frames as CSV",
                        "provenit titles tern.bench\nprovenit titles tern.bench --survey 2 --csv shore.csv");
  add_survey_choice(*verb, *o);
  verb->add_option("--csv", o->csv, "file for the frames' figures");
  verb->callback([&command, o] { command.action = [&command, o] { return titles(command.output, *o); }; });
}

void add_moments(Command& command) {
  const auto o = std::make_shared<MomentOptions>();
  auto* verb = add_verb(command, "moments", "the moments of a surveyed title that test a display most",
                        "provenit moments tern.bench --test zones\n"
                        "provenit moments tern.bench --test highlights --peak 1400 --count 5");
  add_survey_choice(*verb, *o);
  std::string what = "what they test:";
  for (const Demand d : programme::kDemands)
    what += fmt::format("\n{} ({})", programme::name_of(d), programme::describe(d));
  verb->add_option("--test", o->test, what)->required();
  verb->add_option("--count", o->count, "how many")->check(CLI::Range(1, 1000));
  verb->add_option("--peak", o->peak_cdm2, "cd/m2 that highlights are counted above")->check(CLI::Range(1.0, 10000.0));
  verb->callback([&command, o] { command.action = [&command, o] { return moments(command.output, *o); }; });
}

}  // namespace provenit::cli
