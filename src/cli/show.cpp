// provenit show: a test picture on a screen of this machine, by a page in the browser or by direct output.
#include <fmt/format.h>
#include <poll.h>
#include <unistd.h>

#include <CLI/CLI.hpp>
#include <iostream>
#include <memory>

#include "picture_choice.h"
#include "provenit/base/text.h"
#include "provenit/show/carry_on.h"
#include "provenit/show/screen.h"
#include "provenit/signal/showing.h"
#include "screen_choice.h"
#include "verbs.h"

namespace provenit::cli {
namespace {

constexpr double kLook_s = 0.1;  // how often keys, the terminal and Ctrl-C are looked at

struct ShowOptions {
  PictureChoice picture;
  ScreenChoice screen;
  double every_s = 0, stay_s = 0;
  int frame = 0;
  bool confirmed = false;
};

/// A wish typed at the terminal: Enter or n, p, q. The end of the input is no wish: the screen may have keys.
std::optional<show::Wish> typed_wish() {
  static bool open = true;
  pollfd in{.fd = STDIN_FILENO, .events = POLLIN, .revents = 0};
  if (!open || poll(&in, 1, 0) <= 0) return std::nullopt;
  std::string line;
  if (!std::getline(std::cin, line)) {
    open = false;
    return std::nullopt;
  }
  if (line == "q") return show::Wish::leave;
  return line == "p" ? show::Wish::previous : show::Wish::next;
}

/// Waits for a wish; with `longest` above 0 at most so long. nullopt: the time is over, or a stop was asked for.
std::optional<show::Wish> next_wish(show::Screen& screen, double longest_s) {
  const double end = machine_time().unix_s + longest_s;
  while (!stop_requested()) {
    if (const auto typed = typed_wish()) return typed;
    const double rest = longest_s > 0 ? end - machine_time().unix_s : kLook_s;
    if (rest <= 0) return std::nullopt;
    if (const auto wish = screen.wish({std::min(rest, kLook_s)})) return wish;
  }
  return std::nullopt;
}

/// How long one frame stays: --every, else --stay, else what the caution allows; 0: until somebody asks.
double longest_of(const ShowOptions& o, const signal::ShowingCautions& cautions) {
  if (o.every_s > 0) return o.every_s;
  if (o.stay_s > 0) return o.stay_s;
  return show::longest_stay_s(cautions);
}

show::ShowHooks hooks_of(show::Screen& screen, const signal::TestPicture& picture) {
  return {.next_wish = [&screen](double longest_s) { return next_wish(screen, longest_s); },
          .stop = stop_requested,
          .up =
              [&picture](int frame) {
                const auto text = picture.frame_text(frame);
                fmt::print(stderr, "frame {} of {}{}{}\n", frame, picture.frames(), text.empty() ? "" : ": ", text);
              }};
}

int show_picture(const Output& output, const ShowOptions& o) {
  const auto encoding = encoding_of(o.picture);
  if (!encoding) return output.fail(encoding.error());
  const auto parameters = parameters_of(o.picture);
  if (!parameters) return output.fail(parameters.error());
  const auto picture =
      signal::TestPicture::make({.key = o.picture.key, .parameters = *parameters, .encoding = *encoding});
  if (!picture) return output.fail(picture.error());
  if (o.frame < 0 || o.frame >= picture->frames())
    return output.fail({ErrorCode::out_of_range,
                        fmt::format("{} has no frame {}", o.picture.key, o.frame),
                        fmt::format("Give 0 to {}.", picture->frames() - 1),
                        {.field = "--frame"}});
  const auto cautions = signal::cautions_of(signal::showing_of(*picture, {o.every_s}));
  if (!cautions) return output.fail(cautions.error());
  auto texts = cautions->texts();
  if (!picture->info().caution.empty()) texts.push_back(picture->info().caution);
  texts.emplace_back(kScreenCaution);
  for (const auto& text : texts) fmt::print(stderr, "Caution: {}\n", text);
  if (cautions->needs_confirmation() && !o.confirmed)
    return output.fail(signal::flashing_refused(*cautions, "--confirm-flashing"));

  stop_on_signals();
  auto screen = open_screen(o.screen, *encoding, texts, cautions->needs_confirmation() && o.confirmed);
  if (!screen) return output.fail(screen.error());
  const auto shown = show::carry_on(**screen, *picture,
                                    {.first = o.frame, .longest_s = longest_of(o, *cautions), .onward = o.every_s > 0},
                                    hooks_of(**screen, *picture));
  screen->reset();
  if (!shown) return output.fail(shown.error());
  const char* const end = shown->time_over ? "time over: black" : "left";
  output.say(fmt::format("{}: {} frames shown, {}\n", o.picture.key, shown->frames, end),
             {{"picture", o.picture.key},
              {"frames_shown", shown->frames},
              {"end", end},
              {"cautions", texts},
              {"flashing_confirmed", cautions->needs_confirmation()}});
  return kDone;
}

/// What each screen can send: a page SDR of 8 bits, an output HDR of 10; both at full range.
void use_the_screens_encoding(const CLI::App& verb, ShowOptions& o) {
  const bool page = o.screen.by_page();
  if (verb.count("--transfer") == 0) o.picture.transfer = page ? "bt1886" : "pq";
  if (verb.count("--container") == 0) o.picture.container = page ? "bt709" : "bt2020";
  if (verb.count("--bits") == 0) o.picture.bits = page ? 8 : 10;
  if (verb.count("--peak") == 0) o.picture.peak_cdm2 = page ? 100 : 1000;
}

}  // namespace

void add_show(Command& command) {
  const auto o = std::make_shared<ShowOptions>();
  o->picture.range = "full";
  auto* verb =
      add_verb(command, "show", "a test picture on a screen of this machine, with its cautions first",
               "provenit show greyscale_steps --page               (SDR: open the printed address on the display)\n"
               "provenit show window --output HDMI-A-1 --peak 1400 --set area_percent=10    (HDR: Linux, no desktop)\n"
               "Keys: next (Right, Enter), previous (Left, p), leave (Escape, q). docs/on-screen.md says more.");
  verb->add_option("key", o->picture.key, "which picture (provenit picture --list)")->required();
  add_screen_choice(*verb, o->screen);
  add_picture_choice(*verb, o->picture);
  verb->add_option("--frame", o->frame, "the first to show, of a picture with several, from 0")->capture_default_str();
  verb->add_option("--every", o->every_s, "go on to the next frame after this many seconds")
      ->check(CLI::PositiveNumber);
  verb->add_option("--stay", o->stay_s,
                   "black after this many seconds; else after what the caution on bright stays allows")
      ->check(CLI::PositiveNumber);
  verb->add_flag("--confirm-flashing", o->confirmed,
                 "show flashing above the limits of BT.1702: nobody who may be affected can see the screen");
  verb->callback([&command, o, verb] {
    command.action = [&command, o, verb] {
      if (const auto chosen = o->screen.chosen(); !chosen) return command.output.fail(chosen.error());
      use_the_screens_encoding(*verb, *o);
      return show_picture(command.output, *o);
    };
  });
}

}  // namespace provenit::cli
