// provenit forecast compare: two displays of a bench on the same title or the same frames. provenit forecast suits:
// every display that was measured on every title that was surveyed.
#include <fmt/format.h>

#include <CLI/CLI.hpp>
#include <filesystem>
#include <memory>

#include "forecast_parts.h"
#include "interpretation.h"
#include "provenit/forecast/columns.h"
#include "provenit/forecast/compare.h"
#include "provenit/forecast/drawing.h"
#include "provenit/programme/bench.h"
#include "verbs.h"

namespace provenit::cli {
namespace {

using Json = nlohmann::ordered_json;

struct CompareOptions {
  std::string bench, file, out;
  store::Id first = 0, second = 0, survey = 0;
  std::vector<std::int64_t> frames;
  InterpretationOptions meant;
};

/// A loan's display by its name, and its forecast.
struct Measured {
  std::string name;
  forecast::ForecastDisplay display;
};
Result<Measured> measured(const store::Bench& bench, store::Id loan_id) {
  const auto loan = bench.loan(loan_id);
  if (!loan) return tl::unexpected(loan.error());
  const auto display = bench.display(loan->display);
  if (!display) return tl::unexpected(display.error());
  auto made = loan::forecast_of(bench, *loan);
  if (!made) {
    made.error().message = fmt::format("loan {}, {}: {}", loan_id, display->name, made.error().message);
    return tl::unexpected(made.error());
  }
  return Measured{display->name, std::move(made->display)};
}

Result<std::vector<forecast::FrameOutlook>> outlook_of(const store::Bench& bench, store::Id survey,
                                                       const forecast::ForecastDisplay& display) {
  const auto frames = programme::frames_in_bench(bench, survey);
  if (!frames) return tl::unexpected(frames.error());
  return forecast::TitleForecaster(display).forecast(*frames);
}

// Two displays -------------------------------------------------------------------------------------------------------

int compare_title(const Output& output, const store::Bench& bench, const CompareOptions& o, const Measured& first,
                  const Measured& second) {
  const auto survey = programme::survey_in_bench(bench, o.survey);
  if (!survey) return output.fail(survey.error());
  const auto a = outlook_of(bench, survey->record.id, first.display),
             b = outlook_of(bench, survey->record.id, second.display);
  if (!a) return output.fail(a.error());
  if (!b) return output.fail(b.error());
  const auto found = forecast::compare(*a, *b);
  if (!found) return output.fail(found.error());
  const auto all = static_cast<double>(std::max<std::size_t>(1, a->size()));
  const auto share = [all](std::size_t n) { return 100 * static_cast<double>(n) / all; };
  const char* cause = forecast::name_of(found->largest_difference);
  output.say(
      fmt::format("{}, {} frames, from its survey alone; intervals of 90 %.\n"
                  "{} is nearer to what is meant in {:.1f} % of the frames, {} in {:.1f} %; in {:.1f} % no "
                  "difference is shown.\n"
                  "They differ most by {}: {:.2f} against {:.2f} of the mean Delta E ITP.\n",
                  survey->header.title, a->size(), first.name, share(found->first), second.name, share(found->second),
                  share(found->not_shown), cause, found->by_cause_first, found->by_cause_second),
      {{"title", survey->header.title},
       {"frames", a->size()},
       {"first", first.name},
       {"second", second.name},
       {"first_nearer", found->first},
       {"second_nearer", found->second},
       {"no_difference_shown", found->not_shown},
       {"largest_difference", cause},
       {"by_cause_first", found->by_cause_first},
       {"by_cause_second", found->by_cause_second}});
  return kDone;
}

int compare_frames(const Output& output, const CompareOptions& o, const Measured& first, const Measured& second) {
  const auto chosen = chosen_frames(o.file, o.frames, o.meant);
  if (!chosen) return output.fail(chosen.error());
  std::vector<forecast::FrameForecast> a, b;
  for (const auto& picture : chosen->pictures) {
    auto one = forecast_frame(first.display, picture), other = forecast_frame(second.display, picture);
    if (!one) return output.fail(one.error());
    if (!other) return output.fail(other.error());
    if (!o.out.empty()) {
      const auto intended = programme::light_image(picture);
      if (!intended) return output.fail(intended.error());
      const double peak = programme::sdr_source_peak(chosen->info);
      std::vector<programme::SheetEntry> sheet;
      for (auto& e : forecast::sheet_entries(first.name, *intended, one->light, one->frame, peak))
        sheet.push_back(std::move(e));
      for (auto& e : forecast::sheet_entries(second.name, *intended, other->light, other->frame, peak))
        sheet.push_back(std::move(e));
      if (auto written = write_sheet(o.out, fmt::format("compared-{:06d}.png", picture.index), sheet, o.file, peak);
          !written)
        return output.fail(written.error());
    }
    a.push_back(one->frame);
    b.push_back(other->frame);
  }
  const auto found = forecast::compare(a, b);
  if (!found) return output.fail(found.error());
  std::string text = "Intervals of 90 %; a display is called nearer where they do not meet.\n";
  auto document = Json::array();
  std::size_t unlike = 0;
  for (const auto& c : *found) {
    const bool says = c.nearer != forecast::Nearer::not_shown;
    if (says) text += forecast::text_of(c, first.name, second.name) + "\n";
    unlike += says ? 1 : 0;
    document.push_back({{"frame", c.index},
                        {"time_s", c.time_s},
                        {"quantity", forecast::name_of(c.quantity)},
                        {"first", {c.first.value, c.first.lower, c.first.upper}},
                        {"second", {c.second.value, c.second.lower, c.second.upper}},
                        {"nearer", c.nearer == forecast::Nearer::first ? Json(first.name)
                                   : says                              ? Json(second.name)
                                                                       : Json(nullptr)}});
  }
  text += fmt::format("No difference shown in {} of {} figures.\n", found->size() - unlike, found->size());
  if (!o.out.empty()) text += fmt::format("Pictures written to {}.\n", o.out);
  output.say(text, document);
  return kDone;
}

int compare(const Output& output, const CompareOptions& o) {
  const auto bench = store::Bench::open(o.bench);
  if (!bench) return output.fail(bench.error());
  const auto first = measured(*bench, o.first), second = measured(*bench, o.second);
  if (!first) return output.fail(first.error());
  if (!second) return output.fail(second.error());
  return o.file.empty() ? compare_title(output, *bench, o, *first, *second)
                        : compare_frames(output, o, *first, *second);
}

// Every display on every title ---------------------------------------------------------------------------------------

/// The cause with the largest mean part, or tone.
const char* leading_cause(const forecast::TitleSummary& s) {
  if (s.mean_tone > *std::ranges::max_element(s.mean_by_cause)) return forecast::kTone;
  const auto most = std::ranges::max_element(s.mean_by_cause) - s.mean_by_cause.begin();
  return forecast::name_of(static_cast<forecast::Cause>(most));
}

int suits(const Output& output, const CompareOptions& o) {
  const auto bench = store::Bench::open(o.bench);
  if (!bench) return output.fail(bench.error());
  const auto loans = bench->loans();
  if (!loans) return output.fail(loans.error());
  const auto surveys = bench->surveys();
  if (!surveys) return output.fail(surveys.error());
  std::vector<Measured> displays;
  std::string left_out;
  for (const auto& loan : *loans) {
    auto made = measured(*bench, loan.id);
    if (made)
      displays.push_back(std::move(*made));
    else
      left_out += fmt::format("Left out: {}.\n", made.error().message);
  }
  if (displays.empty() || surveys->empty())
    return output.fail({ErrorCode::not_found,
                        displays.empty() ? "no display of the bench has a forecast" : "the bench has no survey",
                        displays.empty() ? "Read what one needs: provenit correct read, provenit forecast read."
                                         : "Make one: provenit survey FILM --bench " + o.bench,
                        {.file = o.bench}});
  Table table({"title", "display", "mean Delta E ITP", "frames above 1", "above 3", "mostly", "nearest in"});
  auto document = Json::array();
  for (const auto& record : *surveys) {
    std::vector<std::vector<forecast::FrameOutlook>> outlooks;
    for (const auto& d : displays) {
      auto outlook = outlook_of(*bench, record.id, d.display);
      if (!outlook) return output.fail(outlook.error());
      outlooks.push_back(std::move(*outlook));
    }
    for (std::size_t i = 0; i < displays.size(); ++i) {
      // Nearest: nearer than every other one, by intervals that do not meet.
      std::size_t nearest = 0;
      for (std::size_t f = 0; f < outlooks[i].size(); ++f) {
        bool all = displays.size() > 1;
        for (std::size_t j = 0; j < displays.size(); ++j)
          all = all && (j == i ||
                        forecast::nearer_of(outlooks[i][f].delta_e, outlooks[j][f].delta_e) == forecast::Nearer::first);
        nearest += all ? 1 : 0;
      }
      const auto s = forecast::summary_of(outlooks[i]);
      const double share =
          outlooks[i].empty() ? 0 : static_cast<double>(nearest) / static_cast<double>(outlooks[i].size());
      table.add({record.title, displays[i].name, fmt::format("{:.2f}", s.mean_delta_e),
                 fmt::format("{:.1f} %", 100 * s.share_above[0]), fmt::format("{:.1f} %", 100 * s.share_above[1]),
                 leading_cause(s), displays.size() > 1 ? fmt::format("{:.1f} %", 100 * share) : ""});
      document.push_back({{"survey", record.id},
                          {"title", record.title},
                          {"display", displays[i].name},
                          {"mean_delta_e_itp", s.mean_delta_e},
                          {"share_of_frames_above_1", s.share_above[0]},
                          {"share_of_frames_above_3", s.share_above[1]},
                          {"mostly", leading_cause(s)},
                          {"nearest_in_share_of_frames", share}});
    }
  }
  output.say(
      table.text() +
          "\nFrom the surveys alone; \"nearest in\": frames in which the display's interval of 90 % lies below those "
          "of all others.\n" +
          left_out,
      document);
  return kDone;
}

}  // namespace

void add_forecast_compare(Command& command, CLI::App& verb) {
  const auto o = std::make_shared<CompareOptions>();
  const auto run = [&command, o](CLI::App* sub, int (*action)(const Output&, const CompareOptions&)) {
    sub->fallthrough();
    sub->callback(
        [&command, o, action] { command.action = [&command, o, action] { return action(command.output, *o); }; });
  };
  auto* sub = verb.add_subcommand("compare", "two displays of the bench on one title, or on frames of a film");
  sub->add_option("bench", o->bench, "bench file")->required();
  sub->add_option("file", o->file, "film or still; without it a surveyed title is compared");
  sub->add_option("--first", o->first, "loan of the one display")->required();
  sub->add_option("--second", o->second, "loan of the other")->required();
  sub->add_option("--survey", o->survey, "survey number, if not the newest");
  sub->add_option("--frame", o->frames, "frame number; may be given again (0)");
  sub->add_option("--out", o->out, "folder for pictures of both, with the difference of each");
  add_interpretation(*sub, o->meant);
  run(sub, compare);

  sub = verb.add_subcommand("suits", "every display that was measured on every title that was surveyed");
  sub->add_option("bench", o->bench, "bench file")->required();
  run(sub, suits);
}

}  // namespace provenit::cli
