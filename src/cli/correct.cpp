// provenit correct: read what a display model needs, look at the model, solve a table, prove that it is better.
#include <fmt/format.h>

#include <CLI/CLI.hpp>
#include <memory>

#include "correct_parts.h"
#include "correct_text.h"
#include "provenit/correct/display_kind.h"
#include "provenit/loan/correction.h"
#include "provenit/signal/encoding.h"
#include "shown_devices.h"
#include "verbs.h"

namespace provenit::cli {
namespace {

constexpr const char* kReadingCautions =
    "Cautions: bright windows follow in a dark room; look away or announce them. Static bright signals can leave "
    "traces on a\nself-emissive panel. Let the display warm up first. A table must not be active in the display "
    "while this runs.\n";

struct CorrectOptions : LoanChoice {
  ScreenChoice screen;
  std::string pictures;
  loan::ModelRun model;
  loan::ProofRun proof;
  loan::SolveRequest solve;
  std::string shape = "3d", mapping = "hard", input;
  double peak_cdm2 = 0;
};

/// One line per batch's worth of readings, so that a log stays readable.
loan::CorrectionHooks hooks() {
  return {.progress =
              [](const procedure::Progress& p) {
                constexpr int kEvery = 20;
                if (p.phase != procedure::Progress::Phase::stored || p.done % kEvery != 0) return;
                fmt::print(stderr, "{:4} readings | {:.4g} cd/m2 | {}\n", p.done, p.last->measurement.xyz.Y,
                           p.step->why);
              },
          .stop_requested = stop_requested};
}

nlohmann::ordered_json outcome_json(const procedure::RunOutcome& run) {
  return {{"run", run.run},     {"ending", name_of(run.ending)}, {"resumed", run.resumed}, {"readings", run.readings},
          {"taken", run.taken}, {"spent_s", run.spent.s}};
}

int say_stopped(const Output& output, const procedure::RunOutcome& run) {
  output.say(fmt::format("Not finished ({}); {} readings are kept. The same command goes on.\n", name_of(run.ending),
                         run.readings),
             outcome_json(run));
  if (run.cause) fmt::print(stderr, "provenit: {}\n", run.cause->text());
  return kStopped;
}

int read(const Output& output, const CorrectOptions& o) {
  auto open = open_loan(o);
  if (!open) return output.fail(open.error());
  MachineClock clock;
  fmt::print(stderr, "{}", kReadingCautions);
  const auto bound = open_shown_devices(*open, o.screen, o.pictures, clock);
  if (!bound) return output.fail(bound.error());
  const auto run = loan::read_model(open->bench, open->loan, *bound->devices, o.model, hooks());
  if (!run) return output.fail(run.error());
  if (run->ending != procedure::Ending::complete) return say_stopped(output, *run);
  output.say(fmt::format("Run {}: {} readings{}, {}.\nNext: provenit correct model {}\n", run->run, run->readings,
                         run->taken == 0 ? " (finished before; --again reads anew)" : "", duration_text(run->spent.s),
                         o.bench),
             outcome_json(*run));
  return kDone;
}

// The model ----------------------------------------------------------------------------------------------------------

int model(const Output& output, const CorrectOptions& o) {
  const auto open = open_loan(o);
  if (!open) return output.fail(open.error());
  const auto found = loan::model_of(open->bench, open->loan);
  if (!found) return output.fail(found.error());
  const auto limiter = loan::limiter_of(open->bench, open->loan);
  if (!limiter) return output.fail(limiter.error());
  auto document = to_json(*found);
  if (*limiter) document["limiter"] = limiter_json(**limiter);
  output.say(model_text(*found) + limiter_text(*limiter), document);
  return kDone;
}

// Tables -------------------------------------------------------------------------------------------------------------

loan::TableShape shape_of(const std::string& name) {
  if (name == "1d") return loan::TableShape::curves;
  return name == "3x3" ? loan::TableShape::matrix : loan::TableShape::three_d;
}

int solve(const Output& output, const CorrectOptions& o) {
  auto open = open_loan(o);
  if (!open) return output.fail(open.error());
  const auto found = loan::model_of(open->bench, open->loan, {.diagnose = false});
  if (!found) return output.fail(found.error());
  auto request = o.solve;
  request.shape = shape_of(o.shape);
  if (request.size == 0) request.size = request.shape == loan::TableShape::three_d ? 33 : 4096;
  request.primaries = found->parameters.value("primaries", "p3_d65");
  if (!o.solve.primaries.empty()) request.primaries = o.solve.primaries;
  const auto container = signal::container_from_name(request.primaries);
  if (!container)
    return output.fail(Error{.code = ErrorCode::invalid_input,
                             .message = "'" + request.primaries + "' names no primaries",
                             .advice = "Use bt709, p3_d65 or bt2020."});
  request.goal.primaries = signal::primaries_of(*container);
  request.goal.input = found->model.encoding();
  if (o.peak_cdm2 > 0) request.goal.peak = colour::Luminance<>{.cdm2 = o.peak_cdm2};
  request.goal.mapping.mapping = o.mapping == "soft" ? correct::Mapping::soft_shoulder : correct::Mapping::hard_clip;
  const auto table = loan::solve_table(open->bench, open->loan, *found, request, machine_time());
  if (!table) return output.fail(table.error());
  const auto& errors = table->solved.errors;
  double mean = 0;
  for (const double e : errors) mean += e / static_cast<double>(errors.size());
  const double p95 = errors.empty() ? 0 : errors[errors.size() * 95 / 100], worst = errors.empty() ? 0 : errors.back();
  output.say(fmt::format(
                 "Correction {} written to {}: white {:.4g} cd/m2.\n"
                 "By the model, over {} colours the display can show: mean Delta E ITP {:.2f}, 95th percentile {:.2f}, "
                 "largest {:.2f}; {} more are beyond it and were mapped.\nNext: provenit correct prove {}\n",
                 table->correction, request.path, table->solved.peak.cdm2, errors.size(), mean, p95, worst,
                 table->solved.mapped, o.bench),
             {{"correction", table->correction},
              {"file", request.path},
              {"peak_cdm2", table->solved.peak.cdm2},
              {"model_mean_delta_e_itp", mean},
              {"model_p95_delta_e_itp", p95},
              {"model_max_delta_e_itp", worst},
              {"mapped", table->solved.mapped}});
  return kDone;
}

// Proof --------------------------------------------------------------------------------------------------------------

int prove(const Output& output, const CorrectOptions& o) {
  auto open = open_loan(o);
  if (!open) return output.fail(open.error());
  MachineClock clock;
  fmt::print(stderr, "{}", kReadingCautions);
  const auto bound = open_shown_devices(*open, o.screen, o.pictures, clock);
  if (!bound) return output.fail(bound.error());
  const auto run = loan::read_proof(open->bench, open->loan, *bound->devices, o.proof, hooks());
  if (!run) return output.fail(run.error());
  if (run->ending != procedure::Ending::complete) return say_stopped(output, *run);
  const auto proof = loan::proof_of(open->bench, open->loan);
  if (!proof) return output.fail(proof.error());
  const auto& found = **proof;
  auto document = outcome_json(*run);
  document.update(to_json(found));
  output.say(proof_text(found) + fmt::format("Next: provenit evaluate {}\n", o.bench), document);
  return found.result.regions.front().verdict == correct::ProofVerdict::worse ? kCheckFailed : kDone;
}

void add_reading_options(CLI::App& verb, CorrectOptions& o) {
  verb.add_option("--pictures", o.pictures, "folder for pictures of signals that the operator shows");
  add_screen_choice(verb, o.screen);
}

CLI::App* part(CLI::App& verb, const char* name, const char* what, CorrectOptions& o) {
  auto* out = verb.add_subcommand(name, what);
  add_loan_choice(*out, o);
  out->fallthrough();
  return out;
}

}  // namespace

void add_correct(Command& command) {
  auto* verb = add_verb(command, "correct", "model the display, solve tables that make it right, prove the gain",
                        "provenit correct read tern.bench --minutes 20\n"
                        "provenit correct model tern.bench\n"
                        "provenit correct solve tern.bench --out tern.cube\n"
                        "provenit correct solve tern.bench --shape 1d --size 1024 --bits 10 --out tern-1d.clf\n"
                        "provenit correct prove tern.bench\n"
                        "provenit correct colorimeter tern.bench --loan 2 --reference 1");
  verb->require_subcommand(1);
  const auto o = std::make_shared<CorrectOptions>();
  o->solve.size = 0;
  o->solve.primaries.clear();
  const auto run = [&command, o](CLI::App* sub, int (*action)(const Output&, const CorrectOptions&)) {
    sub->callback(
        [&command, o, action] { command.action = [&command, o, action] { return action(command.output, *o); }; });
  };

  auto* sub = part(*verb, "read", "read patches, each batch chosen by what those before say", *o);
  sub->add_option("--minutes", o->model.minutes, "of measuring (20)")->check(CLI::Range(1.0, 1440.0));
  sub->add_option("--window", o->model.window_percent, "area of the patch in percent (4)")
      ->check(CLI::Range(0.1, 100.0));
  sub->add_option("--primaries", o->model.primaries, "colours to be right: bt709, p3_d65 (usual), bt2020")
      ->check(CLI::IsMember({"bt709", "p3_d65", "bt2020"}));
  sub->add_option("--settle", o->model.settle_s, "seconds before each reading (1.5)")->check(CLI::Range(0.0, 600.0));
  sub->add_flag("--again", o->model.again, "a new run though there is a finished one");
  add_reading_options(*sub, *o);
  run(sub, read);

  sub = part(*verb, "model", "what the readings say of the display, and how well", *o);
  run(sub, model);

  sub = part(*verb, "solve", "a table that makes the display right, as a file and kept in the bench", *o);
  sub->add_option("--out", o->solve.path, "file: .cube, .clf or .icc (device link)")->required();
  sub->add_option("--shape", o->shape, "3d (usual), 1d, 3x3 (curves, matrix, curves)")
      ->check(CLI::IsMember({"3d", "1d", "3x3"}));
  sub->add_option("--size", o->solve.size, "nodes along an axis (33), or entries (4096)")->check(CLI::Range(2, 65536));
  sub->add_option("--bits", o->solve.entry_bits, "round entries to what so many bits hold")
      ->check(CLI::IsMember({8, 10, 12, 16}));
  std::vector<std::string> kinds;
  for (const auto& k : correct::display_kinds()) kinds.push_back(k.id);
  sub->add_option("--kind", o->solve.kind, "kind of display that is to take it: its sizes, bits and scale")
      ->check(CLI::IsMember(kinds));
  sub->add_option("--profile", o->solve.profile, "also an ICC profile of the display as corrected (.icc)");
  sub->add_option("--primaries", o->solve.primaries, "colours to be right, if not those of the readings")
      ->check(CLI::IsMember({"bt709", "p3_d65", "bt2020"}));
  sub->add_option("--peak", o->peak_cdm2, "white, cd/m2 (the brightest the display can show)")
      ->check(CLI::PositiveNumber);
  sub->add_option("--mapping", o->mapping, "what the display cannot show: hard (clip) or soft (shoulder), hue kept")
      ->check(CLI::IsMember({"hard", "soft"}));
  sub->add_flag("--limit", o->solve.goal.limit_to_primaries, "show nothing beyond the primaries");
  run(sub, solve);

  sub = part(*verb, "prove", "read colours with and without the table, and say whether it is better", *o);
  sub->add_option("--correction", o->proof.correction, "its number, if not the newest");
  sub->add_option("--colours", o->proof.colours, "unseen colours (60)")->check(CLI::Range(12, 10000));
  sub->add_option("--settle", o->proof.settle_s, "seconds before each reading (1.5)")->check(CLI::Range(0.0, 600.0));
  sub->add_flag("--again", o->proof.again, "a new run though there is a finished one");
  add_reading_options(*sub, *o);
  run(sub, prove);

  add_correct_colorimeter(command, *verb);
}

}  // namespace provenit::cli
