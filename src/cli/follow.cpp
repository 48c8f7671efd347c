// provenit follow: the loan's procedures as one clip for a media player, and the readings taken while it plays.
#include "provenit/loan/follow.h"

#include <fmt/format.h>
#include <unistd.h>

#include <CLI/CLI.hpp>
#include <iostream>
#include <memory>

#include "provenit/loan/loan.h"
#include "provenit/loan/run_lock.h"
#include "verbs.h"

namespace provenit::cli {
namespace {

struct FollowOptions : LoanChoice {
  std::string write, schedule, journal;
  std::vector<std::string> procedures;
  int width = 3840, height = 2160, rate = 24;
  double crf = -1, start_delay_s = 8, rate_error_percent = 0;
};

constexpr const char* kFollowCautions =
    "Cautions: the clip changes between dark and bright every few seconds, slower than the limits for flashing "
    "pictures\n"
    "(Rec. ITU-R BT.1702), but people differ: let nobody who is sensitive to flashes watch. Bright signals stay on "
    "while\n"
    "it plays, and a paused player leaves them on: stay with it, and stop the player on black. Never open a powered\n"
    "display.\n";

/// The procedures asked for, or those of the plan; with the plan's repeats.
Result<std::vector<procedure::FollowRequest>> requests_of(const OpenLoan& open, const FollowOptions& o) {
  std::vector<procedure::FollowRequest> out;
  for (const auto& id : o.procedures) {
    if (procedure::find_procedure(id) == nullptr) return loan::unknown_procedure(id);
    out.push_back({procedure::find_procedure(id), nlohmann::json::object()});
  }
  if (!out.empty()) return out;
  const auto plan = loan::make_plan(open.bench, open.loan, machine_time(), std::nullopt);
  if (!plan) return tl::unexpected(plan.error());
  for (const auto& run : plan->runs)
    if (const auto* procedure = procedure::find_procedure(run.procedure)) out.push_back({procedure, run.parameters});
  return out;
}

int write_clip(const Output& output, const FollowOptions& o, const OpenLoan& open) {
  const auto requests = requests_of(open, o);
  if (!requests) return output.fail(requests.error());
  const auto plan = loan::follow_plan(open.bench, open.loan, *requests, {.rate_numerator = o.rate});
  if (!plan) return output.fail(plan.error());
  const auto& schedule = plan->schedule;
  signal::ClipFormat format;
  if (o.write.ends_with(".mkv")) format.codec = signal::ClipCodec::ffv1;
  if (o.crf >= 0) format.crf = o.crf;
  const bool terminal = isatty(STDERR_FILENO) != 0;
  stop_on_signals();
  const auto written =
      loan::write_follow_clip(schedule, o.write, {o.width, o.height}, format, [&](int done, int total) {
        if (terminal && done % 100 == 0) fmt::print(stderr, "\r\033[K{} of {} frames", done, total);
        return !stop_requested();
      });
  if (terminal) fmt::print(stderr, "\r\033[K");
  if (!written) return output.fail(written.error());
  int readings = 0;
  for (const auto& h : schedule.holds) readings += h.readings;
  const double length_s = schedule.seconds(schedule.frames()).s;
  auto text = fmt::format("{}: {}, {} readings, {} markers; schedule {}.json\n", o.write, duration_text(length_s),
                          readings, schedule.markers().size(), o.write);
  nlohmann::ordered_json document{{"clip", o.write},
                                  {"schedule", o.write + ".json"},
                                  {"duration_s", length_s},
                                  {"readings", readings},
                                  {"markers", schedule.markers().size()}};
  auto& left_out = document["left_out"] = nlohmann::ordered_json::array();
  for (const auto& [id, why] : plan->left_out) {
    text += fmt::format("Left out: {}: {}\n", id, why);
    left_out.push_back({{"procedure", id}, {"why", why}});
  }
  text += fmt::format("Next: provenit follow {} --schedule {}.json, then start the player.\n", o.bench, o.write);
  output.say(text, document);
  return kDone;
}

int report_outcome(const Output& output, const FollowOptions& o, const loan::FollowOutcome& outcome) {
  auto text = fmt::format("{} readings, {} of {} that the clip's steps want.\n", outcome.counts.read,
                          outcome.counts.kept, outcome.counts.wanted);
  if (!outcome.complete) {
    for (const auto& missing : outcome.missing) text += "Missing: " + missing + "\n";
    text += outcome.counts.marker == 0
                ? "No marker was found: does the meter look at the centre, does the player send the clip unchanged?\n"
                : "The same command goes on; play the clip once more, and it takes what is missing.\n";
  } else {
    text += fmt::format("Next: provenit evaluate {}\n", o.bench);
  }
  output.say(text, {{"complete", outcome.complete},
                    {"read", outcome.counts.read},
                    {"kept", outcome.counts.kept},
                    {"wanted", outcome.counts.wanted},
                    {"last_marker", outcome.counts.marker},
                    {"runs", outcome.runs},
                    {"missing", outcome.missing}});
  return outcome.complete ? kDone : kStopped;
}

int follow_clip(const Output& output, const FollowOptions& o, OpenLoan& open) {
  auto& [bench, loan] = open;
  const auto file = loan::read_follow_file(o.schedule);
  if (!file) return output.fail(file.error());
  const auto journal =
      o.journal.empty() ? fmt::format("{}.follow-{}.jsonl", bench.path(), file->id.substr(0, 12)) : o.journal;
  const auto display = bench.display(loan.display);
  if (!display) return output.fail(display.error());
  const auto meter = bench.instrument(loan.instrument);
  if (!meter) return output.fail(meter.error());
  const auto lock = loan::RunLock::take(bench.path(), loan.id);
  if (!lock) return output.fail(lock.error());
  MachineClock clock;
  std::optional<loan::SimulatedPlayer> player;
  std::unique_ptr<loan::Devices> devices;
  if (display->details.contains("simulated")) {
    auto made = loan::SimulatedPlayer::make(
        bench, loan, *file, journal, {.start_delay = {o.start_delay_s}, .rate_error = o.rate_error_percent / 100});
    if (!made) return output.fail(made.error());
    player.emplace(std::move(*made));
  } else {
    if (meter->kind != "line")
      return output.fail({ErrorCode::unsupported,
                          "the meter's readings come by hand, too slowly for a clip",
                          "Describe an instrument of kind line, or take the readings with `provenit run`.",
                          {}});
    auto opened = loan::open_devices(bench, loan, {.machine_clock = &clock, .in = &std::cin, .out = &std::cerr});
    if (!opened) return output.fail(opened.error());
    devices = std::move(*opened);
  }
  const auto source = player ? player->source()
                             : loan::FollowSource{.instrument = devices->instrument(),
                                                  .clock = devices->clock(),
                                                  .origin = devices->origin(),
                                                  .ends = std::nullopt};
  fmt::print(stderr, "{}Meter at the centre, head on. Start the player now; Ctrl-C ends it.\n", kFollowCautions);
  stop_on_signals();
  const bool terminal = isatty(STDERR_FILENO) != 0;
  const loan::FollowHooks hooks{.progress =
                                    [&](const loan::FollowHooks::Progress& p) {
                                      if (!terminal) return;
                                      fmt::print(stderr, "\r\033[Kmarker {} | {} of {} kept | {} read | {:.4g} cd/m2",
                                                 p.marker, p.kept, p.wanted, p.read, p.luminance_cdm2);
                                      std::fflush(stderr);
                                    },
                                .stop_requested = stop_requested};
  const auto outcome = loan::follow(bench, loan, *file, journal, source, hooks);
  if (terminal) fmt::print(stderr, "\r\033[K");
  if (!outcome) return output.fail(outcome.error());
  return report_outcome(output, o, *outcome);
}

int follow(const Output& output, const FollowOptions& o) {
  auto open = open_loan(o);
  if (!open) return output.fail(open.error());
  if (o.schedule.empty() && o.write.empty())
    return output.fail({ErrorCode::invalid_input,
                        "nothing to do",
                        "Give --write CLIP to make a clip, or --schedule CLIP.json to follow one.",
                        {}});
  return o.schedule.empty() ? write_clip(output, o, *open) : follow_clip(output, o, *open);
}

}  // namespace

void add_follow(Command& command) {
  const auto o = std::make_shared<FollowOptions>();
  auto* verb =
      add_verb(command, "follow", "write the plan as one clip for a media player, and take the readings while it plays",
               "provenit follow tern.bench --write tern.mp4\n"
               "provenit follow tern.bench --write grey.mp4 --procedure greyscale --procedure white_point\n"
               "provenit follow tern.bench --schedule tern.mp4.json    (then start the player)");
  add_loan_choice(*verb, *o);
  auto* write = verb->add_option("--write", o->write, "clip to write: .mp4 or .mov (HEVC), .mkv (FFV1)");
  auto* schedule = verb->add_option("--schedule", o->schedule, "schedule of the clip that is being played");
  write->excludes(schedule);
  verb->add_option("--procedure", o->procedures, "with --write: only this procedure; may be repeated");
  verb->add_option("--width", o->width, "pixels across")->check(CLI::Range(64, 8192));
  verb->add_option("--height", o->height, "pixels down")->check(CLI::Range(64, 8192));
  verb->add_option("--rate", o->rate, "video frames per second")->check(CLI::Range(5, 120));
  verb->add_option("--crf", o->crf, "HEVC rate factor instead of lossless; 6 is within one code")
      ->check(CLI::Range(0, 51));
  verb->add_option("--journal", o->journal, "file that every reading goes to first; beside the bench if not given");
  verb->add_option("--start-delay", o->start_delay_s, "simulated player: seconds until it starts")
      ->check(CLI::Range(0, 3600));
  verb->add_option("--rate-error", o->rate_error_percent, "simulated player: error of its clock in percent")
      ->check(CLI::Range(-5.0, 5.0));
  verb->callback([&command, o] { command.action = [&command, o] { return follow(command.output, *o); }; });
}

}  // namespace provenit::cli
