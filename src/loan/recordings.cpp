// Attachments -> findings: reads the files and hands plain arrays to evaluation.
#include "provenit/loan/recordings.h"

#include <fmt/format.h>

#include <array>
#include <map>
#include <memory>

#include "frame_findings.h"
#include "provenit/evaluation/traces.h"
#include "provenit/procedure/catalogue.h"
#include "recordings_internal.h"

namespace provenit::loan {
namespace {

using evaluation::Figure;
using store::AttachmentRecord;

/// An attachment with what was read of it.
struct Recorded {
  AttachmentRecord attachment;
  instrument::Trace trace;                             ///< of a trace
  evaluation::CapturedFrame frame;                     ///< of a still
  std::shared_ptr<const signal::TestPicture> picture;  ///< likewise
  evaluation::WalkClip clip;                           ///< of a camera's clip
  evaluation::LinearPicture linear;                    ///< of a camera's picture of a field
  [[nodiscard]] const nlohmann::json& conditions() const { return attachment.conditions; }
  [[nodiscard]] const nlohmann::json& parameters() const { return conditions()["picture"]["parameters"]; }
  [[nodiscard]] double number(const char* key, double otherwise) const { return conditions().value(key, otherwise); }
};

/// The channel that `key` names, else one called like the key, else the first.
const instrument::TraceChannel* channel_of(const instrument::Trace& trace, const nlohmann::json& conditions,
                                           const char* key, const char* usual) {
  if (conditions.contains(key)) return trace.channel(conditions[key].get<std::string>());
  if (const auto* named = trace.channel(usual)) return named;
  return std::string_view(key) == "channel" ? &trace.channels.front() : nullptr;
}

evaluation::Samples samples_of(const Recorded& r, const char* key, const char* usual) {
  return {.values = channel_of(r.trace, r.conditions(), key, usual)->values,
          .rate_hz = r.trace.rate_hz,
          .rate_relative = r.number("rate_relative", 1e-4),
          .bandwidth_hz = std::string_view(key) == "channel" ? r.number("bandwidth_hz", 0) : 0};
}

class Collector {
 public:
  Collector(RecordedFindings& out, const procedure::Recording& recording) : out_(out), recording_(recording) {}

  store::FindingRecord& add(const char* quantity, nlohmann::json conditions, const Figure& f,
                            std::initializer_list<const Recorded*> from) {
    store::FindingRecord finding;
    finding.quantity = quantity;
    finding.conditions = std::move(conditions);
    finding.unit = procedure::find_quantity(quantity)->unit;
    finding.value = f.value;
    finding.standard_uncertainty = f.standard_uncertainty;
    finding.lower95 = f.interval.lower;
    finding.upper95 = f.interval.upper;
    finding.interval_method = f.interval_method;
    finding.method = recording_.id;
    finding.method_version = recording_.version;
    finding.sources = recording_.sources;
    auto shares = nlohmann::json::array();
    for (const auto& s : f.variance) shares.push_back({{"source", s.source}, {"fraction", s.fraction}});
    finding.parts["variance"] = shares;
    finding.dominant = f.variance.empty() ? "nothing: the other whole numbers are improbable"
                                          : fmt::format("{} ({:.0f} % of variance)", f.variance[0].source,
                                                        100 * f.variance[0].fraction);
    for (const auto* r : from) finding.attachments.push_back(r->attachment.id);
    out_.findings.push_back(std::move(finding));
    return out_.findings.back();
  }
  void note(const Recorded& r, const std::string& why) {
    out_.notes.push_back(
        fmt::format("{} ({}, attachment {}): {}", r.attachment.name, r.attachment.recording, r.attachment.id, why));
  }

 private:
  RecordedFindings& out_;
  const procedure::Recording& recording_;
};

void flag(store::FindingRecord& finding, const std::string& text) {
  finding.parts["flags"] = nlohmann::json::array({text});
}

using Steps = std::map<std::string, Recorded>;

evaluation::WalkPath path_of(const nlohmann::json& conditions) {
  const auto& p = conditions["picture"]["parameters"];
  const auto size = conditions["picture"]["size"].get<std::array<int, 2>>();
  const int length = p["down"].get<double>() != 0 ? size[1] : size[0];
  const double step = p["step_pixels"].get<double>(), along = p["along_pixels"].get<double>();
  return {.frames = static_cast<int>((length - along) / step) + 1,
          .step = step,
          .along = along,
          .length = static_cast<double>(length),
          .frame_s = conditions.value("frame_s", 0.0)};
}

std::optional<double> start_of(const nlohmann::json& conditions) {
  return conditions.contains("start_s") ? std::optional(conditions["start_s"].get<double>()) : std::nullopt;
}

Result<evaluation::ZoneCount> count_of(const Recorded& r, std::vector<std::string>& flags) {
  if (r.attachment.kind != store::AttachmentKind::clip)
    return evaluation::count_zones(samples_of(r, "channel", "light"), path_of(r.conditions()),
                                   start_of(r.conditions()));
  auto counted = count_in_clip(r.clip, r.conditions());
  if (!counted) return tl::unexpected(counted.error());
  flags = std::move(counted->flags);
  return std::move(counted->zones);
}

void add_zone_walk(Collector& out, const Steps& steps) {
  std::map<std::string, evaluation::ZoneCount> counts;
  for (const auto& [key, r] : steps) {
    std::vector<std::string> flags;
    auto count = count_of(r, flags);
    if (!count || !count->steps_seen) {
      out.note(r, count ? "no steps stand out: no zones, a sensor that does not see them, or too much noise"
                        : count.error().text());
      continue;
    }
    const bool down = r.parameters()["down"].get<double>() != 0;
    auto& found = out.add(down ? "zone_rows" : "zone_columns", nlohmann::json::object(), count->count, {&r});
    found.parts["probability"] = count->probability;
    for (std::size_t i = 0; i < count->light.size(); ++i)
      found.series.push_back({{"frame", i}, {"light", count->light[i]}});
    found.parts["recorded_with"] = r.attachment.kind == store::AttachmentKind::clip ? "camera" : "light sensor";
    if (!flags.empty()) found.parts["flags"] = flags;
    out.add("zone_pitch", {{"axis", down ? "rows" : "columns"}}, count->pitch, {&r});
    counts[down ? "down" : "across"] = std::move(*count);
  }
  if (!counts.contains("across") || !counts.contains("down")) return;
  out.add("zone_count", nlohmann::json::object(), evaluation::zone_product(counts["across"], counts["down"]),
          {&steps.at("across"), &steps.at("down")});
}

void add_light_steps(Collector& out, const Steps& steps) {
  constexpr std::array<double, 5> after{0.05, 0.1, 0.2, 0.5, 1};
  const auto& r = steps.begin()->second;
  const auto found = evaluation::measure_light_steps(samples_of(r, "channel", "light"), after);
  if (!found) return out.note(r, found.error().text());
  const char* limit = "the sensor or the recorder is no faster than this: the true time is at most the value";
  if (found->rise_ms) {
    auto& f = out.add("rise_time", nlohmann::json::object(), *found->rise_ms, {&r});
    if (found->rise_at_limit) flag(f, limit), f.lower95 = 0;
  }
  if (found->fall_ms) {
    auto& f = out.add("fall_time", nlohmann::json::object(), *found->fall_ms, {&r});
    if (found->fall_at_limit) flag(f, limit), f.lower95 = 0;
  }
  for (const auto& left : found->afterglow) out.add("afterglow", {{"after_s", left.after_s}}, left.percent, {&r});
}

void add_flicker(Collector& out, const Steps& steps) {
  const auto& r = steps.begin()->second;
  const auto found = evaluation::measure_flicker(samples_of(r, "channel", "light"), r.number("dark", 0),
                                                 static_cast<std::uint64_t>(r.attachment.id));
  if (!found) return out.note(r, found.error().text());
  auto& percent = out.add("flicker_percent", nlohmann::json::object(), found->percent, {&r});
  percent.parts["spectrum_peak"] = {{"hz", found->peak_hz}, {"amplitude_percent", found->peak_percent}};
  for (std::size_t i = 0; i < found->period.size(); ++i)
    percent.series.push_back({{"phase", (static_cast<double>(i) + 0.5) / static_cast<double>(found->period.size())},
                              {"light", found->period[i]}});
  if (!r.conditions().contains("dark")) flag(percent, "the sensor's dark level was not given: 0 was taken");
  if (found->below_noise) return out.note(r, "no line stands out of the noise: flicker_percent is an upper bound");
  out.add("flicker_frequency", nlohmann::json::object(), found->frequency_hz, {&r});
  out.add("flicker_index", nlohmann::json::object(), found->index, {&r});
}

void add_delay(Collector& out, const Steps& steps) {
  const auto& r = steps.begin()->second;
  const auto found = evaluation::measure_delay(samples_of(r, "marker", "marker"), samples_of(r, "channel", "light"));
  if (!found) return out.note(r, found.error().text());
  auto& mean = out.add("input_delay", nlohmann::json::object(), found->mean_ms, {&r});
  for (std::size_t i = 0; i < found->delays_ms.size(); ++i)
    mean.series.push_back({{"step", i}, {"delay_ms", found->delays_ms[i]}});
  out.add("input_delay_jitter", nlohmann::json::object(), found->jitter_ms, {&r});
}

void add_frame(Collector& out, const Steps& steps) {
  const auto& r = steps.begin()->second;
  const auto found = frame_findings(r.attachment.recording, r.frame, *r.picture);
  if (!found) return out.note(r, found.error().text());
  for (const auto& f : found->findings) {
    auto& finding = out.add(f.quantity, f.conditions, f.figure, {&r});
    finding.parts.update(f.parts);
    finding.series = f.series;
  }
  for (const auto& why : found->notes) out.note(r, why);
}

nlohmann::json map_of(const evaluation::FieldGrid& grid) {
  auto out = nlohmann::json::array();
  for (const auto& p : grid.points)
    out.push_back({{"x", p.u},
                   {"y", p.v},
                   {"percent_of_centre", p.percent},
                   {"percent_lower95", p.percent_95.lower},
                   {"percent_upper95", p.percent_95.upper},
                   {"red_to_green", p.red_to_green},
                   {"blue_to_green", p.blue_to_green}});
  return out;
}

void add_field(Collector& out, const Steps& steps) {
  for (const char* needed : {"field", "again", "flat"})
    if (!steps.contains(needed))
      return out.note(steps.begin()->second,
                      fmt::format("the picture '{}' is missing: attach it with --step {}", needed, needed));
  const auto &field = steps.at("field"), &again = steps.at("again"), &flat = steps.at("flat");
  evaluation::FieldOptions options{.seed = static_cast<std::uint64_t>(field.attachment.id)};
  options.flat_relative = flat.number("flat_relative", options.flat_relative);
  const auto found = evaluation::measure_field(field.linear, again.linear, flat.linear, options);
  if (!found) return out.note(field, found.error().text());
  for (const auto& grid : *found) {
    auto& f = out.add("camera_nonuniformity", {{"points", grid.columns * grid.rows}}, grid.nonuniformity,
                      {&field, &again, &flat});
    f.parts["as_read"] = grid.as_read;
    f.parts["flat_relative"] = options.flat_relative;
    f.series = map_of(grid);
    if (!flat.conditions().contains("flat_relative"))
      flag(f, "how even the flat field's light is was not stated: 1 % was taken");
  }
}

struct Evaluator {
  const char* recording;
  void (*add)(Collector&, const Steps&);
};
constexpr Evaluator kEvaluators[] = {{"flicker", add_flicker},      {"light_steps", add_light_steps},
                                     {"input_delay", add_delay},    {"zone_walk", add_zone_walk},
                                     {"chroma_capture", add_frame}, {"scaling_capture", add_frame},
                                     {"alias_capture", add_frame},  {"ramp_capture", add_frame},
                                     {"clip_capture", add_frame},   {"field_picture", add_field}};

Result<Recorded> read(const AttachmentRecord& attachment, const std::string& bytes, const signal::Encoding& encoding) {
  Recorded out{.attachment = attachment};
  if (attachment.kind == store::AttachmentKind::trace) {
    auto trace = trace_of(bytes, attachment.name, attachment.conditions);
    if (!trace) return tl::unexpected(trace.error());
    if (auto usable = check_trace(*trace, attachment); !usable) return tl::unexpected(usable.error());
    out.trace = std::move(*trace);
    return out;
  }
  if (attachment.kind == store::AttachmentKind::clip) {
    auto clip = walk_clip_of(bytes, attachment.name);
    if (!clip) return tl::unexpected(clip.error());
    out.clip = std::move(*clip);
    return out;
  }
  if (attachment.recording == "field_picture") {
    auto linear = linear_picture_of(bytes, attachment.name, attachment.conditions);
    if (!linear) return tl::unexpected(linear.error());
    out.linear = std::move(*linear);
    return out;
  }
  auto frame = capture_of(bytes, attachment.name);
  if (!frame) return tl::unexpected(frame.error());
  auto picture = picture_of(attachment.conditions, encoding);
  if (!picture) return tl::unexpected(picture.error());
  out.frame = std::move(*frame);
  out.picture = std::make_shared<const signal::TestPicture>(std::move(*picture));
  return out;
}

/// The newest attachment of each step, read.
Result<Steps> steps_of(const store::Bench& bench, const std::vector<AttachmentRecord>& all, const std::string& id,
                       const signal::Encoding& encoding, RecordedFindings& out) {
  std::map<std::string, AttachmentRecord> newest;
  for (const auto& a : all)
    if (a.recording == id) newest[a.conditions.value("step", "")] = a;
  Steps steps;
  for (auto& [key, attachment] : newest) {
    const auto bytes = bench.attachment_content(attachment.id);
    if (!bytes) return tl::unexpected(bytes.error());
    auto recorded = read(attachment, *bytes, encoding);
    if (!recorded)
      out.notes.push_back(fmt::format("attachment {}: {}", attachment.id, recorded.error().text()));
    else
      steps.emplace(key, std::move(*recorded));
  }
  return steps;
}

}  // namespace

Result<evaluation::ClipCount> count_in_clip(const evaluation::WalkClip& clip, const nlohmann::json& conditions) {
  if (!(conditions.value("frame_s", 0.0) > 0))
    return fail(ErrorCode::invalid_input, "how long each frame of the walk stayed was not stated",
                "Give --frame-time in seconds, e.g. 0.041667 for 24 frames per second.", {.field = "--frame-time"});
  return evaluation::count_zones(clip, path_of(conditions), start_of(conditions));
}

Result<void> check_trace(const instrument::Trace& trace, const AttachmentRecord& attachment) {
  const auto need = [&](const char* key, const char* usual) -> Result<void> {
    if (channel_of(trace, attachment.conditions, key, usual) != nullptr) return {};
    std::string names;
    for (const auto& c : trace.channels) names += (names.empty() ? "'" : ", '") + c.name + "'";
    return fail(ErrorCode::not_found, fmt::format("the trace has no channel for the {}; it has {}", usual, names),
                fmt::format("Name it with --{}.", key), {.file = attachment.name});
  };
  if (auto light = need("channel", "light"); !light) return light;
  if (attachment.recording == "input_delay") return need("marker", "marker");
  if (attachment.recording == "zone_walk" && !(attachment.conditions.value("frame_s", 0.0) > 0))
    return fail(ErrorCode::invalid_input, "how long each frame of the walk stayed was not stated",
                "Give --frame-time in seconds, e.g. 0.041667 for 24 frames per second.", {.field = "--frame-time"});
  return {};
}

Result<RecordedFindings> recorded_findings(const store::Bench& bench, const store::LoanRecord& loan) {
  const auto all = bench.attachments(loan.id);
  if (!all) return tl::unexpected(all.error());
  const auto display = bench.display(loan.display);
  if (!display) return tl::unexpected(display.error());
  RecordedFindings out;
  for (const auto& [id, add] : kEvaluators) {
    const auto steps = steps_of(bench, *all, id, display->encoding, out);
    if (!steps) return tl::unexpected(steps.error());
    if (steps->empty()) continue;
    Collector collector(out, *procedure::find_recording(id));
    add(collector, *steps);
  }
  return out;
}

}  // namespace provenit::loan
