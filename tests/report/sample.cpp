#include "sample.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "sample_correction.h"
#include "sample_findings.h"

namespace provenit::report {
namespace {

using nlohmann::json;
using store::QuestionRecord;
using store::SourceMark;

constexpr Timestamp kStart{1795510800};  // 2026-11-24T09:00:00Z

signal::Encoding pq10() {
  return {};  // PQ, BT.2020, 10 bit, narrow
}

/// Runs and readings are numbered as they are made.
class Bench {
 public:
  RunContents& run(std::string procedure) {
    RunContents c;
    c.run.id = store::Id(runs.size() + 1);
    c.run.loan = 1;
    c.run.procedure = std::move(procedure);
    c.run.state = store::RunState::finished;
    c.run.started = now_;
    c.run.origin = "simulated";
    runs.push_back(std::move(c));
    return runs.back();
  }
  void read(const std::string& step, int r, int g, int b, double cdm2, double area, int repeat = 0) {
    auto& contents = runs.back();
    store::ReadingRecord reading;
    reading.id = ++last_;
    reading.run = contents.run.id;
    reading.sequence = store::Id(contents.readings.size());
    reading.step = step;
    reading.repeat = repeat;
    reading.taken = now_;
    reading.signal.encoding = pq10();
    reading.signal.patch.code = {r, g, b};
    reading.signal.surround.code = {64, 64, 64};
    reading.signal.geometry = area < 1 ? signal::Geometry{signal::Shape::window, area, 0, 0} : signal::Geometry{};
    const double y = std::round(cdm2 * 1e5) / 1e5;
    reading.measurement.xyz = {.X = std::round(y * 95050) / 1e5, .Y = y, .Z = std::round(y * 108600) / 1e5};
    reading.measurement.integration = Seconds{cdm2 < 1 ? 4.0 : 0.5};
    reading.measurement.below_range = cdm2 < 0.003;
    contents.readings.push_back(std::move(reading));
    now_ = now_ + Seconds{cdm2 < 1 ? 7.0 : 3.5};
    contents.run.ended = now_;
  }
  std::vector<RunContents> runs;

 private:
  store::Id last_ = 0;
  Timestamp now_ = kStart;
};

std::vector<RunContents> sample_runs() {
  Bench bench;
  bench.run("warm_up");
  for (int i = 0; i <= 90; ++i) bench.read("reference", 573, 573, 573, 203 * (1 + 0.05 * std::exp(-i / 14.0)), 0.1, i);
  bench.run("black_level");
  for (int i = 0; i < 6; ++i) bench.read("black", 64, 64, 64, 0.0021 + 0.0003 * std::sin(i), 1, i);
  bench.runs.back().events.push_back({.id = 1,
                                      .run = 2,
                                      .at = kStart + Seconds{400},
                                      .kind = "timeout",
                                      .text = "no reply within 20 s; the reading was asked for again"});
  bench.run("window_peak");
  for (const int percent : {1, 2, 5, 10, 25, 50, 75, 100})
    for (int repeat = 0; repeat < 3; ++repeat)
      bench.read(fmt::format("window_{}", percent), 940, 940, 940, sample_window(percent) * (1 + 0.001 * (repeat - 1)),
                 percent / 100.0, repeat);
  bench.run("greyscale");
  for (int i = 0; i < 29; ++i) {
    const int code = 64 + int(std::lround(876.0 * i / 28));
    bench.read(fmt::format("grey_{}", code), code, code, code, sample_luminance((code - 64) / 876.0), 0.1);
  }
  bench.run("white_point");
  for (int i = 0; i < 5; ++i) bench.read("white", 573, 573, 573, 203.1 + 0.1 * i, 0.1, i);
  bench.run("primaries");
  bench.read("red", 573, 64, 64, 51.2, 0.1);
  bench.read("green", 64, 573, 64, 139.8, 0.1);
  bench.read("blue", 64, 64, 573, 12.4, 0.1);
  bench.run("display_model");
  for (int i = 0; i < 8; ++i)
    bench.read(fmt::format("patch_{:04}", i + 1), 100 * i + 64, 573, 64, 20.0 * (i + 1), 0.04);
  bench.run("correction_proof");
  const auto colours = sample_colours();
  for (std::size_t i = 0; i < colours.size(); ++i)
    for (const char* when : {"before", "after"})
      bench.read(fmt::format("{}_{:03}", when, i + 1), 573, 573, 573, colours[i].asked_cdm2, 0.04);
  return bench.runs;
}

QuestionRecord question(std::string key, std::string text, std::string quantity, std::string unit, std::string source,
                        SourceMark mark) {
  QuestionRecord q;
  q.key = std::move(key);
  q.loan = 1;
  q.set = "sample";
  q.text = std::move(text);
  q.quantity = std::move(quantity);
  q.unit = std::move(unit);
  q.source = std::move(source);
  q.mark = mark;
  return q;
}

std::vector<QuestionRecord> sample_questions() {
  const std::string sheet = "Maker's data sheet (invented)", own = "Evaluator's own limit (invented)";
  std::vector<QuestionRecord> out;
  auto add = [&](QuestionRecord q, json conditions, store::Comparison comparison, std::optional<double> lower,
                 std::optional<double> upper, std::string clause) {
    q.conditions = std::move(conditions);
    q.comparison = comparison;
    q.lower = lower;
    q.upper = upper;
    q.clause = std::move(clause);
    q.id = store::Id(out.size() + 1);
    out.push_back(std::move(q));
  };
  using enum store::Comparison;
  add(question("peak-10", "Does a 10 % window reach 1400 cd/m\u00b2?", "peak_luminance", "cd/m2", sheet,
               SourceMark::claim),
      {{"window_percent", 10}}, at_least, 1400, {}, "line 3");
  add(question("peak-100", "Does the full field reach 700 cd/m\u00b2?", "peak_luminance", "cd/m2", sheet,
               SourceMark::claim),
      {{"window_percent", 100}}, at_least, 700, {}, "line 4");
  add(question("black", "Is full-field black at or below 0.005 cd/m\u00b2?", "black_luminance", "cd/m2",
               "Rec. ITU-R BT.2100-3", SourceMark::second_hand),
      json::object(), at_most, {}, 0.005, "Table 3");
  add(question("eotf-mean", "Is the mean Delta E ITP of the greyscale at or below 3?", "eotf_mean_delta_e_itp", "1",
               own, SourceMark::common_practice),
      json::object(), at_most, {}, 3, "");
  add(question("white", "Is white within 0.002 of D65 in u\u2032v\u2032?", "white_delta_uv", "1", own,
               SourceMark::common_practice),
      json::object(), at_most, {}, 0.002, "");
  add(question("white-cct", "Is the correlated colour temperature between 6400 K and 6600 K?", "white_cct", "K", own,
               SourceMark::common_practice),
      json::object(), within, 6400, 6600, "");
  add(question("gamut-p3", "Does the gamut cover 98 % of P3-D65?", "gamut_coverage", "%", sheet, SourceMark::claim),
      {{"reference", "p3_d65"}, {"plane", "uv"}}, at_least, 98, {}, "line 7");
  add(question("contrast", "What is the sequential contrast of a 10 % window?", "sequential_contrast", "1", "",
               SourceMark::unset),
      {{"window_percent", 10}}, at_least, {}, {}, "");
  add(question("checkerboard", "Is the contrast of the 5 x 5 checkerboard at least 1000?", "checkerboard_contrast", "1",
               sheet, SourceMark::claim),
      {{"columns", 5}, {"rows", 5}}, at_least, 1000, {}, "line 9");
  return out;
}

/// Verdict of each question with a limit, by its interval.
std::vector<store::VerdictRecord> sample_verdicts(const std::vector<QuestionRecord>& questions,
                                                  const std::vector<store::FindingRecord>& findings) {
  std::vector<store::VerdictRecord> out;
  for (const auto& q : questions) {
    const auto f = std::ranges::find_if(findings, [&](const auto& one) {
      return one.quantity == q.quantity && (q.conditions.empty() || one.conditions == q.conditions);
    });
    if (f == findings.end() || (!q.lower && !q.upper)) continue;
    const double below = q.lower ? *q.lower : -HUGE_VAL, above = q.upper ? *q.upper : HUGE_VAL;
    store::VerdictRecord v;
    v.id = store::Id(out.size() + 1);
    v.question = q.id;
    v.finding = f->id;
    v.margin = std::min(f->value - below, above - f->value);
    v.verdict = f->lower95 >= below && f->upper95 <= above ? store::Verdict::meets
                : f->upper95 < below || f->lower95 > above ? store::Verdict::fails
                                                           : store::Verdict::undecided;
    v.decides = f->dominant.substr(0, f->dominant.find(" ("));
    v.text = fmt::format("{} {} against the limit", f->value, f->unit);
    out.push_back(std::move(v));
  }
  return out;
}

/// Two walks of a box before a light sensor; the first was recorded anew.
std::vector<store::AttachmentRecord> sample_attachments() {
  std::vector<store::AttachmentRecord> out;
  const auto add = [&](const char* name, const char* step, store::AttachmentKind kind, char digit, double at) {
    out.push_back({.id = store::Id(out.size() + 1),
                   .loan = 1,
                   .kind = kind,
                   .recording = "zone_walk",
                   .name = name,
                   .conditions = {{"step", step},
                                  {"frame_s", 0.0416667},
                                  {"picture",
                                   {{"key", "border_walk"},
                                    {"parameters", {{"down", std::string(step) == "down" ? 1 : 0}}},
                                    {"size", {3840, 2160}}}}},
                   .added = kStart + Seconds{at},
                   .content_hash = std::string(64, digit),
                   .bytes = 1234567});
  };
  add("across-first-try.csv", "across", store::AttachmentKind::trace, 'b', 7000);
  add("across.csv", "across", store::AttachmentKind::trace, 'c', 7400);
  add("down.mkv", "down", store::AttachmentKind::clip, 'd', 7900);
  return out;
}

store::FindingRecord sample_zones(store::Id id, const char* quantity, double zones, std::vector<store::Id> from) {
  store::FindingRecord f;
  f.id = id;
  f.loan = 1;
  f.quantity = quantity;
  f.unit = "1";
  f.value = f.lower95 = f.upper95 = zones;
  f.interval_method = "whole numbers with 95 % of the probability; 1 for the value";
  f.dominant = "nothing: the other whole numbers are improbable";
  f.method = "zone_walk";
  f.sources = {"This project (docs/methods/zone_walk.md)"};
  f.attachments = std::move(from);
  f.computed = kStart + Seconds{86000};
  f.software = "provenit 0.1.0";
  return f;
}

/// What an invented forecast says of it, with pictures of one point each for its worst moment.
nlohmann::ordered_json sample_forecast() {
  const auto parts = [](double tone) {
    return nlohmann::ordered_json{{"clip", 1.5},  {"limiter", 0.25}, {"black", 0.0},
                                  {"halo", 0.75}, {"gamut", 0.5},    {"tone", tone}};
  };
  nlohmann::ordered_json time, difference, by_cause;
  for (int i = 0; i < 90; ++i) {
    time.push_back(10 * i / 24.0);
    difference.push_back(2 + std::sin(i / 9.0));
    for (const char* part : {"clip", "limiter", "black", "halo", "gamut", "tone"})
      by_cause[part].push_back(part == std::string("clip") ? 1 + std::sin(i / 9.0) : 0.2);
  }
  const auto moment = [&](int frame, double value) {
    return nlohmann::ordered_json{
        {"frame", frame},
        {"time_s", frame / 24.0},
        {"delta_e_itp", {{"value", value}, {"lower90", value - 0.5}, {"upper90", value + 0.5}}},
        {"cause", "clip"},
        {"by_cause", parts(0.25)}};
  };
  const std::string point =
      "data:image/png;base64,"
      "iVBORw0KGgoAAAANSUhEUgAAAAEAAAABCAYAAAAfFcSJAAAADUlEQVR42mNk+M9QDwADhgGAWjR9awAAAABJRU5ErkJggg==";
  auto worst = moment(602, 4.25);
  worst["pictures"] = {{"intended", point}, {"shown", point}, {"difference", point}};
  nlohmann::ordered_json moments_by_cause;
  for (const char* cause : {"clip", "limiter", "black", "halo", "gamut"})
    moments_by_cause[cause] = nlohmann::ordered_json::array();
  return {{"frames", 900},
          {"mean_delta_e_itp", 2.5},
          {"share_of_frames_above_1", 0.75},
          {"share_of_frames_above_3", 0.25},
          {"mean_by_cause", parts(0.5)},
          {"frames_led_by", {{"clip", 500}, {"limiter", 0}, {"black", 0}, {"halo", 100}, {"gamut", 0}, {"tone", 75}}},
          {"course",
           {{"first", 0},
            {"last", 900},
            {"frames_per_column", 10},
            {"time_s", time},
            {"delta_e_itp", difference},
            {"by_cause", by_cause}}},
          {"moments", {worst, moment(126, 3.5)}},
          {"moments_by_cause", moments_by_cause},
          {"assumptions", {"invented for the tests of the page"}},
          {"difference_steps", {1.0, 3.0, 10.0, 30.0}},
          {"difference_greys", {0.06, 0.27, 0.47, 0.69, 0.95}}};
}

/// An invented title of 900 frames: a slow swell with a burst of highlights, as title_document lays one out.
nlohmann::ordered_json sample_title() {
  nlohmann::ordered_json time, peak, high, mean;
  for (int i = 0; i < 150; ++i) {
    const double swell = 0.5 + 0.5 * std::sin(i / 13.0);
    time.push_back(i / 4.0);
    peak.push_back(180 + 500 * swell + (i > 98 && i < 110 ? 900 : 0));
    high.push_back(120 + 300 * swell);
    mean.push_back(4 + 60 * swell * swell);
  }
  const auto at = [](double cdm2, int frame) {
    return nlohmann::ordered_json{{"cdm2", cdm2}, {"frame", frame}, {"time_s", frame / 24.0}};
  };
  return {{"title", "invented-shore.mp4"},
          {"codec", "hevc"},
          {"format", "3840x2160 10-bit 420 narrow, transfer pq, primaries bt2020, matrix bt2020_ncl, chroma top_left"},
          {"frames", 900},
          {"complete", true},
          {"notes", {"invented for the tests of the page"}},
          {"troubles", nlohmann::ordered_json::array()},
          {"figures",
           {{"maxcll", at(1580, 602)},
            {"maxcll_robust", at(1410, 602)},
            {"maxfall_active", at(85.3, 126)},
            {"maxfall_full", at(64, 126)},
            {"mean_luminance_full", at(58.1, 126)}}},
          {"declared",
           {{{"name", "MaxCLL"},
             {"declared", "1580"},
             {"measured", "1580.00 cd/m2"},
             {"agrees", true},
             {"explanation", ""}},
            {{"name", "MaxFALL"},
             {"declared", "64"},
             {"measured", "85.30 cd/m2"},
             {"agrees", false},
             {"explanation", "the mean over the whole frame was declared, bars included"}}}},
          {"course",
           {{"frames_per_column", 6}, {"time_s", time}, {"max_cdm2", peak}, {"high_cdm2", high}, {"mean_cdm2", mean}}},
          {"scenes", 12},
          {"flash_cautions", 1},
          {"highlight_peak_cdm2", 1000},
          {"moments",
           {{{"test", "limiter"},
             {"quantity", "mean of max(R,G,B), cd/m2"},
             {"value", 64.0},
             {"frame", 126},
             {"time_s", 5.25},
             {"scene", 2},
             {"max_cdm2", 680.0},
             {"mean_cdm2", 64.0}},
            {{"test", "highlights"},
             {"quantity", "share x bits"},
             {"value", 0.0132},
             {"frame", 602},
             {"time_s", 602 / 24.0},
             {"scene", 7},
             {"max_cdm2", 1580.0},
             {"mean_cdm2", 31.2}}}},
          {"forecast", sample_forecast()}};
}

}  // namespace

Contents sample_contents() {
  Contents c;
  c.title = "Sample bench";
  c.evaluator = "Saltmarsh Display Lab (invented)";
  c.invented = true;
  c.software = "provenit 0.1.0";
  c.written = kStart + Seconds{86400};
  c.display = {
      .id = 1,
      .name = "Tern 32",
      .technology = "LCD, mini-LED, quantum-dot film (invented)",
      .encoding = pq10(),
      .details = {{"diagonal_in", 32}, {"raster", "3840 x 2160"}, {"zones", "40 x 22"}, {"mode", "PQ reference"}}};
  c.instrument.id = 1;
  c.instrument.name = "Bench meter (simulated)";
  c.instrument.kind = "simulated";
  c.instrument.certificate.number = "SDL-0001 (invented)";
  c.instrument.certificate.issuer = "Saltmarsh Display Lab";
  c.instrument.certificate.date = "2026-03-02";
  c.instrument.capabilities.minimum_cdm2 = 0.003;
  c.instrument.capabilities.shot_noise = 0.001;
  c.instrument.details = {{"seed", 7}};
  c.room = {.id = 1,
            .name = "Grading suite 1 (invented)",
            .surround_cdm2 = 5,
            .screen_illuminance_lx = 3.5,
            .details = {{"walls", "neutral grey"}}};
  c.loan = {.id = 1,
            .display = 1,
            .instrument = 1,
            .room = 1,
            .starts = kStart,
            .ends = kStart + Seconds{2 * 86400.0},
            .purpose = "Is this display fit for the grading of a documentary?",
            .seed = 20261124};
  c.runs = sample_runs();
  c.questions = sample_questions();
  c.findings = sample_findings();
  for (auto& f : sample_proof(store::Id(c.findings.size() + 1))) c.findings.push_back(std::move(f));
  for (auto& f : c.findings) {  // each finding rests on every reading of the run that its quantity belongs to
    const std::string run = f.quantity == "settle_time" || f.quantity == "drift"                   ? "warm_up"
                            : f.quantity == "black_luminance"                                      ? "black_level"
                            : f.quantity == "peak_luminance"                                       ? "window_peak"
                            : f.quantity.starts_with("correction")                                 ? "correction_proof"
                            : f.quantity.starts_with("white")                                      ? "white_point"
                            : f.quantity.starts_with("primary") || f.quantity.starts_with("gamut") ? "primaries"
                                                                                                   : "greyscale";
    for (const auto& contents : c.runs)
      if (contents.run.procedure == run)
        for (const auto& r : contents.readings) f.readings.push_back(r.id);
  }
  c.attachments = sample_attachments();
  c.corrections = {sample_correction(c.runs[c.runs.size() - 2].run.id)};
  const auto next = store::Id(c.findings.size());
  c.findings.push_back(sample_zones(next + 1, "zone_columns", 40, {2}));
  c.findings.push_back(sample_zones(next + 2, "zone_rows", 22, {3}));
  c.findings.push_back(sample_zones(next + 3, "zone_count", 880, {2, 3}));
  c.verdicts = sample_verdicts(c.questions, c.findings);
  c.titles = {sample_title()};
  c.hashes = {{"questions of the set sample", std::string(64, 'a')}};
  return c;
}

}  // namespace provenit::report
