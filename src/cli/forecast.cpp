// provenit forecast: what the loan's display will do to programmes, from its readings.
#include <fmt/format.h>

#include <CLI/CLI.hpp>
#include <memory>

#include "forecast_parts.h"
#include "provenit/forecast/drawing.h"
#include "provenit/forecast/title.h"
#include "provenit/loan/forecast_json.h"
#include "provenit/programme/bench.h"
#include "provenit/programme/look.h"
#include "shown_devices.h"
#include "verbs.h"

namespace provenit::cli {
namespace {

constexpr const char* kSpotCautions =
    "Cautions: bright windows follow in a dark room; look away or announce them. Static bright signals can leave "
    "traces on a\nself-emissive panel. Let the display warm up first. The meter moves between readings.\n";

constexpr const char* kAdaptation = "Delta E ITP (BT.2124) without the eye's local adaptation; intervals of 90 %.\n";

struct ForecastOptions : LoanChoice {
  ScreenChoice screen;
  std::string pictures, part = "probes", cause = "all", file, out;
  bool again = false;
  store::Id survey = 0;
  std::size_t count = 10;
  double apart_s = 5;
  std::vector<std::int64_t> frames;
  InterpretationOptions meant;
};

int read(const Output& output, const ForecastOptions& o) {
  auto open = open_loan(o);
  if (!open) return output.fail(open.error());
  MachineClock clock;
  fmt::print(stderr, "{}", kSpotCautions);
  const auto bound = open_shown_devices(*open, o.screen, o.pictures, clock);
  if (!bound) return output.fail(bound.error());
  const loan::CorrectionHooks hooks{.progress =
                                        [](const procedure::Progress& p) {
                                          if (p.phase == procedure::Progress::Phase::stored)
                                            fmt::print(stderr, "{:4} readings | {:.4g} cd/m2 | {}\n", p.done,
                                                       p.last->measurement.xyz.Y, p.step->why);
                                        },
                                    .stop_requested = stop_requested};
  const auto run =
      loan::read_spots(open->bench, open->loan, *bound->devices, *loan::spot_part_from_name(o.part), o.again, hooks);
  if (!run) return output.fail(run.error());
  const nlohmann::ordered_json document{
      {"run", run->run}, {"ending", name_of(run->ending)}, {"readings", run->readings}};
  if (run->ending != procedure::Ending::complete) {
    output.say(fmt::format("Not finished ({}); {} readings are kept. The same command goes on.\n", name_of(run->ending),
                           run->readings),
               document);
    if (run->cause) fmt::print(stderr, "provenit: {}\n", run->cause->text());
    return kStopped;
  }
  output.say(fmt::format("Run {}: {} readings.\nNext: provenit forecast show {}\n", run->run, run->readings, o.bench),
             document);
  return kDone;
}

// What the forecast is made of ---------------------------------------------------------------------------------------

int show(const Output& output, const ForecastOptions& o) {
  const auto open = open_loan(o);
  if (!open) return output.fail(open.error());
  const auto made = loan::forecast_of(open->bench, open->loan);
  if (!made) return output.fail(made.error());
  const auto& d = made->display;
  const auto& u = d.unsure();
  std::string text = fmt::format(
      "White {:.4g} cd/m2{}.\nOne standard deviation: lit places {:.1f} %, instrument {:.1f} %, halo {:.0f} %, "
      "black {:.0f} %, limiter {:.1f} %, colours {:.2f} Delta E ITP.\n",
      d.peak_cdm2(), d.optics().zoned() ? fmt::format(", {} x {} zones", d.optics().columns, d.optics().rows) : "",
      100 * u.light, 100 * u.scale, 100 * u.halo, 100 * u.black, 100 * u.cap, u.colour_delta_e_itp);
  text += "\nAssumed:\n";
  for (const auto& a : d.assumptions()) text += "  " + a + "\n";
  if (made->eye) {
    const auto& eye = *made->eye;
    Table table({"spot", "read cd/m2", "forecast", "90 % from", "to", ""});
    for (const auto& s : eye.spots) {
      table.add({s.name, fmt::format("{:.4g}", s.read_cdm2), fmt::format("{:.4g}", s.forecast_cdm2),
                 fmt::format("{:.4g}", s.lower_cdm2), fmt::format("{:.4g}", s.upper_cdm2), s.holds() ? "" : "outside"});
    }
    text += fmt::format("\nEye check: the forecast {}; {} of {} readings within.\n", eye.verdict, eye.held,
                        eye.spots.size()) +
            table.text();
  }
  if (!made->missing.empty()) text += "\nStill open:\n";
  for (const auto& m : made->missing) text += "  " + m + "\n";
  output.say(text, loan::to_json(*made));
  return kDone;
}

// A title ------------------------------------------------------------------------------------------------------------

int title(const Output& output, const ForecastOptions& o) {
  const auto open = open_loan(o);
  if (!open) return output.fail(open.error());
  const auto made = loan::forecast_of(open->bench, open->loan);
  if (!made) return output.fail(made.error());
  const auto survey = programme::survey_in_bench(open->bench, o.survey);
  if (!survey) return output.fail(survey.error());
  const auto frames = programme::frames_in_bench(open->bench, survey->record.id);
  if (!frames) return output.fail(frames.error());
  const auto outlook = forecast::TitleForecaster(made->display).forecast(*frames);
  std::vector<forecast::Moment> moments;
  if (o.cause == "all") {
    moments = forecast::worst_moments(outlook, o.count, o.apart_s);
  } else {
    for (std::size_t c = 0; c < forecast::kCauses; ++c)
      if (const auto cause = static_cast<forecast::Cause>(c); o.cause == forecast::name_of(cause))
        moments = forecast::worst_moments(outlook, cause, o.count, o.apart_s);
  }
  Table table({"rank", "at", "frame", "Delta E ITP", "90 % from", "to", "cause", "of it"});
  const bool all = o.cause == "all";
  for (std::size_t i = 0; i < moments.size(); ++i) {
    const auto& f = moments[i].frame;
    const double part = all && forecast::leading_part(f) == std::string(forecast::kTone)
                            ? forecast::tone_part(f)
                            : static_cast<double>(f.by_cause[static_cast<std::size_t>(moments[i].cause)]);
    table.add({fmt::format("{}", i + 1), programme::time_text(f.time_s), fmt::format("{}", f.index),
               fmt::format("{:.2f}", f.delta_e.value), fmt::format("{:.2f}", f.delta_e.lower),
               fmt::format("{:.2f}", f.delta_e.upper),
               all ? forecast::leading_part(f) : forecast::name_of(moments[i].cause), fmt::format("{:.2f}", part)});
  }
  output.say(
      fmt::format("{}: {} frames, from its survey alone.\n{}", survey->header.title, outlook.size(), kAdaptation) +
          (moments.empty() ? "No frame departs by that cause.\n" : table.text()),
      loan::moments_document(survey->header.title, outlook.size(), moments, all));
  return kDone;
}

// Frames -------------------------------------------------------------------------------------------------------------

int frames(const Output& output, const ForecastOptions& o) {
  const auto open = open_loan(o);
  if (!open) return output.fail(open.error());
  const auto made = loan::forecast_of(open->bench, open->loan);
  if (!made) return output.fail(made.error());
  const auto display = open->bench.display(open->loan.display);
  if (!display) return output.fail(display.error());
  const auto chosen = chosen_frames(o.file, o.frames, o.meant);
  if (!chosen) return output.fail(chosen.error());
  std::string text = kAdaptation;
  auto document = nlohmann::ordered_json::array();
  for (const auto& picture : chosen->pictures) {
    const auto on_display = forecast_frame(made->display, picture);
    if (!on_display) return output.fail(on_display.error());
    const auto* f = &on_display->frame;
    Table table({"frame " + std::to_string(f->index), "", "90 % from", "to"});
    for (std::size_t q = 0; q < forecast::kQuantities; ++q) {
      const auto& figure = f->figures[q];
      const char* name = forecast::name_of(static_cast<forecast::Quantity>(q));
      table.add({name, fmt::format("{:.4g}", figure.value), fmt::format("{:.4g}", figure.lower),
                 fmt::format("{:.4g}", figure.upper)});
    }
    text += "\n" + table.text();
    document.push_back(loan::to_json(*f));
    if (o.out.empty()) continue;
    const auto intended = programme::light_image(picture);
    if (!intended) return output.fail(intended.error());
    const double peak = programme::sdr_source_peak(chosen->info);
    std::vector<programme::SheetEntry> sheet{forecast::intended_entry(*intended, peak)};
    for (auto& e : forecast::sheet_entries(display->name, *intended, on_display->light, *f, peak))
      sheet.push_back(std::move(e));
    const auto name = fmt::format("frame{:06d}.png", f->index);
    if (auto written = write_sheet(o.out, name, sheet, o.file, peak); !written) return output.fail(written.error());
    document.back()["picture"] = name;
    text += fmt::format("Written: {}/{}\n", o.out, name);
  }
  output.say(text, document);
  return kDone;
}

CLI::App* part(CLI::App& verb, const char* name, const char* what, ForecastOptions& o) {
  auto* out = verb.add_subcommand(name, what);
  add_loan_choice(*out, o);
  out->fallthrough();
  return out;
}

}  // namespace

void add_forecast(Command& command) {
  auto* verb = add_verb(command, "forecast", "what this display will do to a programme, from its readings",
                        "provenit forecast read tern.bench --part probes\n"
                        "provenit forecast show tern.bench\n"
                        "provenit forecast title tern.bench --survey 1 --cause halo\n"
                        "provenit forecast frames tern.bench shore.mp4 --frame 812 --out seen\n"
                        "provenit forecast compare both.bench --first 1 --second 2\n"
                        "provenit forecast suits both.bench");
  verb->require_subcommand(1);
  const auto o = std::make_shared<ForecastOptions>();
  const auto run = [&command, o](CLI::App* sub, int (*action)(const Output&, const ForecastOptions&)) {
    sub->callback(
        [&command, o, action] { command.action = [&command, o, action] { return action(command.output, *o); }; });
  };
  auto* sub = part(*verb, "read", "read what the standard procedures leave open", *o);
  sub->add_option("--part", o->part, "probes (to fit), checks (how far off), eye (does it hold)")
      ->check(CLI::IsMember({"probes", "checks", "eye"}));
  sub->add_option("--pictures", o->pictures, "folder for pictures of signals that the operator shows");
  sub->add_flag("--again", o->again, "a new run though there is a finished one");
  add_screen_choice(*sub, o->screen);
  run(sub, read);

  sub = part(*verb, "show", "what the forecast is made of, what it assumes, and whether it holds", *o);
  run(sub, show);

  sub = part(*verb, "title", "the moments of a surveyed title that this display departs from most", *o);
  sub->add_option("--survey", o->survey, "survey number, if not the newest");
  sub->add_option("--count", o->count, "moments (10)")->check(CLI::Range(1, 10000));
  sub->add_option("--apart", o->apart_s, "seconds between moments, at least (5)")->check(CLI::NonNegativeNumber);
  sub->add_option("--cause", o->cause, "all, clip, limiter, black, halo or gamut")
      ->check(CLI::IsMember({"all", "clip", "limiter", "black", "halo", "gamut"}));
  run(sub, title);

  sub = part(*verb, "frames", "single frames in full: every figure with its interval", *o);
  sub->add_option("file", o->file, "film or still")->required();
  sub->add_option("--frame", o->frames, "frame number; may be given again (0)");
  sub->add_option("--out", o->out, "folder for pictures: as it is meant, on the display, the difference");
  add_interpretation(*sub, o->meant);
  run(sub, frames);
  add_forecast_compare(command, *verb);
}

}  // namespace provenit::cli
