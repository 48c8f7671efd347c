// provenit survey: measures every frame of a film, a still or a live source. Ctrl-C keeps what was measured; the same
// command goes on with it. provenit merge: joins the parts of a title.
#include "provenit/programme/survey.h"

#include <fmt/format.h>
#include <unistd.h>

#include <CLI/CLI.hpp>
#include <chrono>
#include <memory>

#include "interpretation.h"
#include "provenit/base/text.h"
#include "provenit/programme/bench.h"
#include "provenit/programme/frame_meter.h"
#include "title_text.h"
#include "verbs.h"

namespace provenit::cli {
namespace {

struct SurveyOptions {
  std::string source, out, bench, csv, part, simd;
  int threads = 0;
  double give_up_s = 0, frame_rate_hz = 0;
  InterpretationOptions meant;
};

/// Frames per second, time left and the light of the newest frame, a few times a second; on a log, every ten seconds.
class Speed {
 public:
  void show(const programme::SurveyProgress& p) {
    const auto now = std::chrono::steady_clock::now();
    if (began_ == std::chrono::steady_clock::time_point{}) began_ = now, done_before_ = p.done - 1;
    if (now - shown_ < (terminal_ ? std::chrono::milliseconds(200) : std::chrono::milliseconds(10000))) return;
    shown_ = now;
    const double spent = std::chrono::duration<double>(now - began_).count();
    const double rate = spent > 0 ? static_cast<double>(p.done - done_before_) / spent : 0;
    std::string line = p.total > 0 ? fmt::format("{}/{} frames", p.done, p.total) : fmt::format("{} frames", p.done);
    if (rate > 0) line += fmt::format(", {:.1f} frames/s", rate);
    if (p.total > 0 && rate > 0) line += ", left " + duration_text(static_cast<double>(p.total - p.done) / rate);
    if (p.total == 0) line += live_text(p.live);
    if (p.latest != nullptr)
      line += fmt::format(" | max {:.1f}, mean {:.2f} cd/m2", p.latest->max_rgb_max, p.latest->max_rgb_mean);
    fmt::print(stderr, "{}{}{}", terminal_ ? "\r\033[K" : "", line.substr(0, 160), terminal_ ? "" : "\n");
    std::fflush(stderr);
  }
  void clear() const {
    if (terminal_) fmt::print(stderr, "\r\033[K");
  }

 private:
  static std::string live_text(const programme::LiveState& s) {
    return fmt::format(", dropped {}, lost {}{}", s.dropped, s.lost, s.connected ? "" : ", waiting for the sender");
  }
  bool terminal_ = isatty(STDERR_FILENO) != 0;
  std::chrono::steady_clock::time_point began_{}, shown_{};
  std::int64_t done_before_ = 0;
};

Result<void> read_part(const std::string& text, programme::SurveyOptions& options) {
  if (text.empty()) return {};
  const auto numbers = split(text, '/');
  const auto part = parse_integer(numbers[0]), parts = numbers.size() == 2 ? parse_integer(numbers[1]) : std::nullopt;
  if (!part || !parts || *parts > 1'000'000 || *part < 1 || *part > *parts)
    return fail(ErrorCode::invalid_input, "'" + text + "' is no part", "Give k/n, e.g. 2/4.", {.field = "--part"});
  options.part = static_cast<int>(*part);
  options.parts = static_cast<int>(*parts);
  return {};
}

Result<void> write_csv(const programme::SurveyFile& survey, const std::string& path) {
  std::string text = programme::csv_head();
  return survey
      .for_each_chunk([&](std::span<const programme::FrameRecord> frames) -> Result<void> {
        programme::append_csv(text, frames);
        return {};
      })
      .and_then([&] { return write_file(path, text); });
}

/// What follows a finished survey: CSV, bench, and the working file's end.
Result<store::Id> deliver(const SurveyOptions& o, const std::string& path) {
  if (o.csv.empty() && o.bench.empty()) return store::Id{0};
  const auto survey = programme::SurveyFile::open(path);
  if (!survey) return tl::unexpected(survey.error());
  if (!o.csv.empty()) {
    if (const auto written = write_csv(*survey, o.csv); !written) return tl::unexpected(written.error());
  }
  if (o.bench.empty()) return store::Id{0};
  auto bench = store::Bench::open(o.bench);
  if (!bench) return tl::unexpected(bench.error());
  if (o.out.empty()) return programme::move_into_bench(path, *bench, machine_time());
  return programme::add_to_bench(*survey, *bench, machine_time());
}

Result<programme::SurveyOutcome> measure(const SurveyOptions& o, const std::string& path,
                                         programme::SurveyOptions& options) {
  if (!programme::is_live_address(o.source)) return programme::survey_title(o.source, path, options);
  if (options.parts != 1)
    return fail(ErrorCode::invalid_input, "a live source has no parts", "Leave --part out.", {.field = "--part"});
  const programme::LiveOptions live{.reading = options.reading, .give_up_s = o.give_up_s, .stop = stop_requested};
  return programme::survey_live(o.source, path, live, options);
}

int survey(const Output& output, const SurveyOptions& o) {
  if (o.out.empty() && o.bench.empty())
    return output.fail({ErrorCode::invalid_input,
                        "nowhere to keep the survey",
                        "Give --out FILE or --bench BENCH.",
                        {.field = "--out"}});
  programme::SurveyOptions options{.simd_level = o.simd, .software = kSoftware};
  options.reading.threads = o.threads;
  options.reading.frame_rate_hz = o.frame_rate_hz;
  const auto meant = programme::interpretation_of(o.meant, "--");
  if (!meant) return output.fail(meant.error());
  options.reading.interpretation = *meant;
  if (const auto part = read_part(o.part, options); !part) return output.fail(part.error());
  if (!o.bench.empty()) {  // a wrong bench is told before hours of work
    if (const auto bench = store::Bench::open(o.bench); !bench) return output.fail(bench.error());
  }
  stop_on_signals();
  Speed speed;
  options.progress = [&](const programme::SurveyProgress& p) {
    speed.show(p);
    return !stop_requested();
  };
  const std::string path = o.out.empty() ? programme::working_survey_path(o.bench, o.source) : o.out;
  const auto outcome = measure(o, path, options);
  speed.clear();
  if (!outcome) return output.fail(outcome.error());
  auto [text, document] = summary_of(outcome->header, outcome->light);
  document["stopped"] = outcome->stopped;
  if (outcome->stopped) {
    output.say(text + "\nStopped; what was measured is kept. The same command goes on with it.\n", document);
    return kStopped;
  }
  const auto id = deliver(o, path);
  if (!id) return output.fail(id.error());
  if (*id != 0) document["bench_survey"] = *id, text += fmt::format("\nSurvey {} of {}\n", *id, o.bench);
  if (!o.out.empty()) text += fmt::format("\nSurvey: {}\n", o.out);
  output.say(text, document);
  return outcome->header.complete ? kDone : kCheckFailed;
}

struct MergeOptions {
  std::vector<std::string> parts;
  std::string out;
};

int merge(const Output& output, const MergeOptions& o) {
  const auto header = programme::merge_surveys(o.parts, o.out);
  if (!header) return output.fail(header.error());
  const auto survey = programme::SurveyFile::open(o.out);
  if (!survey) return output.fail(survey.error());
  std::vector<programme::FrameLight> light;
  const auto read = survey->for_each_chunk([&](std::span<const programme::FrameRecord> frames) -> Result<void> {
    for (const auto& f : frames) light.push_back(programme::light_of(f.figures));
    return {};
  });
  if (!read) return output.fail(read.error());
  auto [text, document] = summary_of(*header, light);
  document["hash"] = survey->hash();
  output.say(text + fmt::format("\nSurvey: {} (hash {})\n", o.out, survey->hash()), document);
  return header->complete ? kDone : kCheckFailed;
}

std::string levels() {
  std::string text;
  for (const auto& level : programme::simd_levels()) text += (text.empty() ? "" : ", ") + level;
  return text;
}

}  // namespace

void add_survey(Command& command) {
  const auto o = std::make_shared<SurveyOptions>();
  auto* verb = add_verb(command, "survey", "measure every frame of a film, a still or a live source",
                        "provenit survey shore.mp4 --bench tern.bench --csv shore.csv\n"
                        "provenit survey shore.mp4 --out shore-2.survey --part 2/4\n"
                        "provenit survey 'shots/shore.####.exr' --out shore.survey --peak 100\n"
                        "provenit survey udp://127.0.0.1:5000 --bench tern.bench");
  verb->add_option("source", o->source,
                   "film, still, folder or name with #### for the frame number; or udp://, rtp://, srt://, v4l2:DEVICE")
      ->required();
  verb->add_option("--bench", o->bench, "bench that the survey goes into");
  verb->add_option("--out", o->out, "survey file to write");
  verb->add_option("--csv", o->csv, "file for the frames' figures as CSV");
  verb->add_option("--part", o->part, "k/n: this part of the title alone, cut on key frames");
  verb->add_option("--threads", o->threads, "frames measured at once and threads of the decoder; cores if not given")
      ->check(CLI::Range(0, 1024));
  verb->add_option("--simd", o->simd, "instruction set, if not the best: " + levels());
  verb->add_option("--rate", o->frame_rate_hz, "frames per second of a sequence of stills; 24 if not given")
      ->check(CLI::Range(0.0, 1000.0));
  verb->add_option("--give-up", o->give_up_s, "live: end the session after so many seconds without a frame")
      ->check(CLI::Range(0.0, 1e6));
  add_interpretation(*verb, o->meant);
  verb->callback([&command, o] { command.action = [&command, o] { return survey(command.output, *o); }; });
}

void add_merge(Command& command) {
  const auto o = std::make_shared<MergeOptions>();
  auto* verb = add_verb(command, "merge", "join the parts of a title's survey into one",
                        "provenit merge shore-1.survey shore-2.survey --out shore.survey");
  verb->add_option("parts", o->parts, "survey files of the parts, in any order")->required();
  verb->add_option("--out", o->out, "survey file to write")->required();
  verb->callback([&command, o] { command.action = [&command, o] { return merge(command.output, *o); }; });
}

}  // namespace provenit::cli
