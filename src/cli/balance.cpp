// provenit balance: white balance with the display's own controls, somebody turning them, the instrument reading.
#include "provenit/loan/balance.h"

#include <fmt/format.h>
#include <unistd.h>

#include <CLI/CLI.hpp>
#include <memory>

#include "provenit/base/text.h"
#include "shown_devices.h"
#include "verbs.h"

namespace provenit::cli {
namespace {

using correct::BalanceFigure;
using correct::LevelFigures;

struct BalanceOptions : LoanChoice {
  ScreenChoice screen;
  std::vector<std::string> controls;
  std::string white = "0.3127,0.3290", pictures;
  double luminance_percent = 0, itp = 0;
  loan::BalanceRequest request;
};

constexpr const char* kCautions =
    "Cautions: static greys stay on while they are read; bright ones go to black before controls are set. Never open "
    "a\n"
    "powered display. Write down how the controls stand before the first is turned. Readings taken before describe "
    "the\n"
    "display as it was.\n";

/// "Red gain:0:100:1:50": the name may have colons of its own.
Result<void> add_control(loan::BalanceRequest& request, const std::string& text) {
  const auto parts = split(text, ':');
  std::vector<double> numbers;
  for (std::size_t i = parts.size() < 5 ? parts.size() : parts.size() - 4; i < parts.size(); ++i)
    if (const auto number = parse_double(parts[i])) numbers.push_back(*number);
  if (numbers.size() != 4)
    return fail(ErrorCode::invalid_input, "'" + text + "' is no control",
                "Give name, lowest, highest, step and setting now, such as \"Red gain:0:100:1:50\".",
                {.field = "--control"});
  std::size_t name = text.size();
  for (int i = 0; i < 4; ++i) name = text.rfind(':', name - 1);
  request.controls.push_back({.name = std::string(trim(std::string_view(text).substr(0, name))),
                              .lowest = numbers[0],
                              .highest = numbers[1],
                              .step = numbers[2]});
  request.start.push_back(numbers[3]);
  return {};
}

Result<loan::BalanceRequest> balance_request(const BalanceOptions& o) {
  auto out = o.request;
  for (const auto& text : o.controls)
    if (auto added = add_control(out, text); !added) return tl::unexpected(added.error());
  const auto xy = split(o.white, ',');
  const auto x = parse_double(xy[0]), y = xy.size() == 2 ? parse_double(xy[1]) : std::nullopt;
  if (!x || !y)
    return fail(ErrorCode::invalid_input, "'" + o.white + "' is no chromaticity", "Give x,y such as 0.3127,0.3290.",
                {.field = "--white"});
  out.white = {.x = *x, .y = *y};
  out.luminance = o.luminance_percent > 0;
  if (out.luminance) out.tolerance.luminance_relative = o.luminance_percent / 100;
  if (o.itp > 0) out.tolerance.itp = o.itp;
  return out;
}

std::string text_of(const BalanceFigure& f, double unit, int digits) {
  return fmt::format("{:.{}f} ({:.{}f} to {:.{}f})", f.value * unit, digits, f.interval.lower * unit, digits,
                     f.interval.upper * unit, digits);
}

std::string levels_text(const loan::BalanceResult& r) {
  std::vector<std::string> heads{"level", "Delta u'v' before", "after"};
  const bool luminance = r.levels.front().luminance_cdm2.has_value(), itp = r.tolerance.itp.has_value();
  if (luminance) heads.insert(heads.end(), {"luminance before, %", "after"});
  if (itp) heads.insert(heads.end(), {"Delta E ITP before", "after"});
  Table table(heads);
  for (std::size_t l = 0; l < r.levels.size(); ++l) {
    std::vector<std::string> row{r.levels[l].name};
    const std::array both{&r.outcome->before[l], &r.outcome->after[l]};
    const auto add = [&](auto figure, double unit, int digits) {
      for (const auto* f : both) row.push_back(f->has_light ? text_of(figure(*f), unit, digits) : "no light");
    };
    add([](const LevelFigures& f) { return f.uv; }, 1, 4);
    if (luminance) add([](const LevelFigures& f) { return f.luminance.value_or(BalanceFigure{}); }, 100, 1);
    if (itp) add([](const LevelFigures& f) { return f.itp.value_or(BalanceFigure{}); }, 1, 2);
    table.add(std::move(row));
  }
  return table.text();
}

std::string controls_text(const loan::BalanceResult& r) {
  Table table({"control", "was", "leave at", ""});
  for (std::size_t j = 0; j < r.controls.size(); ++j)
    table.add({r.controls[j].name, fmt::format("{:.6g}", r.start[j]), fmt::format("{:.6g}", r.outcome->settings[j]),
               r.outcome->effects[j].acts ? "" : "nothing seen of what it does"});
  return table.text();
}

std::string verdict_text(const loan::BalanceResult& r) {
  const auto& o = *r.outcome;
  switch (o.verdict) {
    case correct::BalanceVerdict::within:
      return fmt::format("Within tolerance at every level, after {} settings and {} readings.\n", o.visits, o.readings);
    case correct::BalanceVerdict::undecided:
      return fmt::format("Undecided after {} settings and {} readings: an interval reaches over the tolerance.\n",
                         o.visits, o.readings);
    case correct::BalanceVerdict::out:
      break;
  }
  return fmt::format("Out of tolerance; the best that was found in {} settings and {} readings.\n", o.visits,
                     o.readings);
}

nlohmann::ordered_json to_json(const BalanceFigure& f) {
  return {{"value", f.value}, {"lower95", f.interval.lower}, {"upper95", f.interval.upper}};
}
nlohmann::ordered_json to_json(const LevelFigures& f) {
  nlohmann::ordered_json out{{"has_light", f.has_light}};
  if (!f.has_light) return out;
  out["delta_uv"] = to_json(f.uv);
  if (f.luminance) out["luminance_relative"] = to_json(*f.luminance);
  if (f.itp) out["delta_e_itp"] = to_json(*f.itp);
  return out;
}

nlohmann::ordered_json to_json(const loan::BalanceResult& r) {
  nlohmann::ordered_json out{{"run", r.run.run},
                             {"ending", name_of(r.run.ending)},
                             {"resumed", r.run.resumed},
                             {"readings", r.run.readings},
                             {"taken", r.run.taken}};
  if (!r.outcome) return out;
  const auto& o = *r.outcome;
  out["verdict"] = name_of(o.verdict);
  out["settings_tried"] = o.visits;
  for (std::size_t j = 0; j < r.controls.size(); ++j) {
    nlohmann::ordered_json control{
        {"name", r.controls[j].name}, {"was", r.start[j]}, {"leave_at", o.settings[j]}, {"acts", o.effects[j].acts}};
    for (std::size_t l = 0; l < r.levels.size(); ++l) {
      const auto& e = o.effects[j].levels[l];
      control["one_step"].push_back(
          {{"level", r.levels[l].name}, {"du", e.du}, {"dv", e.dv}, {"luminance_relative", e.luminance_relative}});
    }
    out["controls"].push_back(std::move(control));
  }
  for (std::size_t l = 0; l < r.levels.size(); ++l) {
    nlohmann::ordered_json level{{"level", r.levels[l].name}};
    if (r.levels[l].luminance_cdm2) level["target_cdm2"] = *r.levels[l].luminance_cdm2;
    level["before"] = to_json(o.before[l]);
    level["after"] = to_json(o.after[l]);
    out["levels"].push_back(std::move(level));
  }
  out["reasons"] = nlohmann::ordered_json::array();
  for (const auto& reason : o.reasons)
    out["reasons"].push_back({{"limit", name_of(reason.limit)}, {"name", reason.name}, {"text", reason.text}});
  return out;
}

int report(const Output& output, const BalanceOptions& o, const loan::BalanceResult& result) {
  if (!result.outcome) {
    output.say(fmt::format("Not finished ({}); {} readings are kept. The same command goes on.\n",
                           name_of(result.run.ending), result.run.readings),
               to_json(result));
    if (result.run.cause) fmt::print(stderr, "provenit: {}\n", result.run.cause->text());
    return kStopped;
  }
  std::string text = verdict_text(result) + '\n' + levels_text(result) + '\n' + controls_text(result);
  for (const auto& reason : result.outcome->reasons) text += reason.text + '\n';
  text += fmt::format(
      "\nIn the bench as run {}. What was read before describes the display as it was: provenit run {} "
      "--again\n",
      result.run.run, o.bench);
  output.say(text, to_json(result));
  return result.outcome->verdict == correct::BalanceVerdict::within ? kDone : kCheckFailed;
}

int balance(const Output& output, const BalanceOptions& o) {
  auto open = open_loan(o);
  if (!open) return output.fail(open.error());
  auto& [bench, loan] = *open;
  const auto request = balance_request(o);
  if (!request) return output.fail(request.error());
  fmt::print(stderr, "{}", kCautions);
  MachineClock clock;
  const auto shown = open_shown_devices(*open, o.screen, o.pictures, clock);
  if (!shown) return output.fail(shown.error());
  const loan::BalanceHooks hooks{.progress =
                                     [](const procedure::Progress& p) {
                                       if (p.phase != procedure::Progress::Phase::stored) return;
                                       const auto& xyz = p.last->measurement.xyz;
                                       const double sum = xyz.X + xyz.Y + xyz.Z;
                                       fmt::print(stderr, "{:3} | {:.4g} cd/m2, x {:.4f}, y {:.4f} | {}\n", p.done,
                                                  xyz.Y, xyz.X / sum, xyz.Y / sum, p.step->why);
                                     },
                                 .stop_requested = stop_requested};
  const auto result = loan::balance(bench, loan, *request, *shown->devices, hooks);
  if (!result) return output.fail(result.error());
  if (shown->screen)
    if (auto kept =
            bench.add_event({.run = result->run.run,
                             .at = machine_time(),
                             .kind = "screen",
                             .text = std::string("signals shown by this machine; told before: ") + kScreenCaution});
        !kept)
      return output.fail(kept.error());
  return report(output, o, *result);
}

}  // namespace

void add_balance(Command& command) {
  const auto o = std::make_shared<BalanceOptions>();
  auto* verb = add_verb(
      command, "balance", "white balance with the display's own controls: says what to set next until it is right",
      "provenit balance tern.bench                (a simulated display turns its controls itself)\n"
      "provenit balance mine.bench --control \"Red gain:0:100:1:50\" --control \"Blue gain:0:100:1:50\" --level 80\n"
      "provenit balance mine.bench --control ... --level 20 --level 50 --level 80 --luminance 5 --tolerance 0.003");
  add_loan_choice(*verb, *o);
  verb->add_option("--control", o->controls,
                   "a control as NAME:LOWEST:HIGHEST:STEP:NOW, as its menu has it; once for each");
  verb->add_option("--level", o->request.levels_percent, "grey to read, percent of the signal; once for each")
      ->expected(1)
      ->multi_option_policy(CLI::MultiOptionPolicy::TakeAll);
  verb->add_option("--white", o->white, "x,y that is wanted (0.3127,0.3290: D65)");
  verb->add_option("--tolerance", o->request.tolerance.uv, "Delta u'v' (0.002)")->check(CLI::PositiveNumber);
  verb->add_option("--luminance", o->luminance_percent, "luminance counts too: percent that it may be off the EOTF")
      ->check(CLI::PositiveNumber);
  verb->add_option("--itp", o->itp, "Delta E ITP instead of both")->check(CLI::PositiveNumber);
  verb->add_option("--window", o->request.window_percent, "area of the grey in percent (10)")
      ->check(CLI::Range(0.1, 100.0));
  verb->add_option("--settle", o->request.settle_s, "seconds before each reading (2)")->check(CLI::Range(0.0, 600.0));
  verb->add_option("--settings", o->request.most_settings, "settings that are tried at most (60)")
      ->check(CLI::Range(1, 1000));
  verb->add_option("--repeats", o->request.most_repeats, "readings of one level at one setting at most (4)")
      ->check(CLI::Range(1, 100));
  verb->add_option("--pictures", o->pictures, "folder for pictures of signals that the operator shows");
  add_screen_choice(*verb, o->screen);
  verb->add_flag("--again", o->request.again, "begin anew; a run that is not finished ends as aborted");
  verb->callback([&command, o] { command.action = [&command, o] { return balance(command.output, *o); }; });
}

}  // namespace provenit::cli
