// provenit attach: a light sensor's trace or a captured frame, kept with the loan.
#include <fmt/format.h>

#include <CLI/CLI.hpp>
#include <memory>

#include "provenit/base/text.h"
#include "provenit/loan/recordings.h"
#include "verbs.h"

namespace provenit::cli {
namespace {

struct AttachOptions : LoanChoice {
  bool list = false;
  std::string file, recording, step, size, channel, marker, coding;
  std::vector<std::string> set;
  std::optional<double> rate, rate_uncertainty, bandwidth, dark, frame_time, start, flat_uncertainty;
  store::Id run = 0;
};

int list(const Output& output, const store::Bench& bench, const store::LoanRecord& loan) {
  Table what({"recording", "step", "file", "picture", "time", "what"});
  nlohmann::ordered_json document;
  for (const auto& r : procedure::all_recordings())
    for (const auto& s : r.steps) {
      const auto time = duration_text((s.preparation + s.play).s);
      what.add({r.id, s.key, name_of(s.kind), s.picture, time, s.why});
      document["recordings"].push_back({{"recording", r.id},
                                        {"step", s.key},
                                        {"kind", name_of(s.kind)},
                                        {"picture", s.picture},
                                        {"parameters", s.parameters},
                                        {"time_s", (s.preparation + s.play).s}});
    }
  const auto kept = bench.attachments(loan.id);
  if (!kept) return output.fail(kept.error());
  Table files({"attachment", "recording", "step", "file", "bytes", "added"});
  document["attachments"] = nlohmann::ordered_json::array();
  for (const auto& a : *kept) {
    files.add({std::to_string(a.id), a.recording, a.conditions.value("step", ""), a.name, std::to_string(a.bytes),
               iso8601(a.added)});
    document["attachments"].push_back({{"attachment", a.id},
                                       {"recording", a.recording},
                                       {"name", a.name},
                                       {"bytes", a.bytes},
                                       {"sha256", a.content_hash},
                                       {"conditions", a.conditions}});
  }
  output.say(what.text() + (kept->empty() ? "" : '\n' + files.text()), document);
  return kDone;
}

Result<loan::AttachRequest> request_of(const AttachOptions& o) {
  loan::AttachRequest request{.path = o.file, .recording = o.recording, .step = o.step, .run = o.run};
  auto& c = request.conditions;
  const auto say = [&](const char* key, const std::optional<double>& value) {
    if (value) c[key] = *value;
  };
  say("rate_hz", o.rate);
  say("rate_relative", o.rate_uncertainty);
  say("bandwidth_hz", o.bandwidth);
  say("dark", o.dark);
  say("frame_s", o.frame_time);
  say("start_s", o.start);
  say("flat_relative", o.flat_uncertainty);
  if (!o.coding.empty()) c["coding"] = o.coding;
  if (!o.channel.empty()) c["channel"] = o.channel;
  if (!o.marker.empty()) c["marker"] = o.marker;
  if (!o.size.empty()) {
    const auto parts = split(o.size, 'x');
    const auto width = parse_integer(parts[0]), height = parts.size() == 2 ? parse_integer(parts[1]) : std::nullopt;
    if (!width || !height)
      return provenit::fail(ErrorCode::invalid_input, "'" + o.size + "' is no size", "Write 3840x2160.",
                            {.field = "--size"});
    c["size"] = {*width, *height};
  }
  for (const auto& text : o.set) {
    const auto at = text.find('=');
    const auto value = at == std::string::npos ? std::nullopt : parse_double(text.substr(at + 1));
    if (!value)
      return provenit::fail(ErrorCode::invalid_input, "'" + text + "' is no parameter of the picture",
                            "Write name=number.", {.field = "--set"});
    request.parameters[text.substr(0, at)] = *value;
  }
  return request;
}

int attach(const Output& output, const AttachOptions& o) {
  auto open = open_loan(o);
  if (!open) return output.fail(open.error());
  auto& [bench, loan] = *open;
  if (o.list || o.file.empty()) return list(output, bench, loan);
  const auto request = request_of(o);
  if (!request) return output.fail(request.error());
  const auto attached = loan::attach(bench, loan, *request, machine_time());
  if (!attached) return output.fail(attached.error());
  output.say(
      fmt::format("Attachment {}: {}, {}.\nNext: provenit evaluate {}\n", attached->id, attached->record.name,
                  attached->read_as, o.bench),
      {{"attachment", attached->id}, {"read_as", attached->read_as}, {"conditions", attached->record.conditions}});
  return kDone;
}

}  // namespace

void add_attach(Command& command) {
  const auto o = std::make_shared<AttachOptions>();
  auto* verb = add_verb(
      command, "attach",
      "keep what was recorded by hand: a light sensor's trace (CSV), a camera's clip, a captured frame",
      "provenit attach tern.bench --list\n"
      "provenit attach tern.bench across.csv --for zone_walk --step across --frame-time 0.0416667\n"
      "provenit attach tern.bench down.csv --for zone_walk --step down --frame-time 0.0416667 --set step_pixels=1\n"
      "provenit attach tern.bench down.mp4 --for zone_walk --step down --frame-time 0.0416667\n"
      "provenit attach tern.bench field.tif --for field_picture --step field --coding linear\n"
      "provenit attach tern.bench steady.csv --for flicker --dark 0.012 --bandwidth 20000");
  add_loan_choice(*verb, *o);
  verb->add_option("file", o->file, "the file; without one, the recordings and attachments are listed");
  verb->add_flag("--list", o->list, "list what can be recorded, and what the loan has");
  verb->add_option("--for", o->recording, "the recording it was made for, see --list");
  verb->add_option("--step", o->step, "its step, if it has several");
  verb->add_option("--set", o->set, "NAME=NUMBER of the test picture that was shown, where other than listed");
  verb->add_option("--size", o->size, "raster of the test picture, WIDTHxHEIGHT (3840x2160)");
  verb->add_option("--rate", o->rate, "trace: samples per second, if the file has no times");
  verb->add_option("--rate-uncertainty", o->rate_uncertainty, "trace: standard uncertainty of it, relative (0.0001)");
  verb->add_option("--bandwidth", o->bandwidth, "trace: -3 dB bandwidth of the sensor, Hz");
  verb->add_option("--dark", o->dark, "trace: what the sensor gives without light, in the file's unit");
  verb->add_option("--channel", o->channel, "trace: column of the light (light, or the first)");
  verb->add_option("--marker", o->marker, "trace: column of the signal's marker (marker)");
  verb->add_option("--frame-time", o->frame_time, "zone walk: seconds that each frame stayed");
  verb->add_option("--start", o->start, "zone walk: when it begins, s from the first sample");
  verb->add_option("--coding", o->coding, "field pictures of whole numbers: linear or srgb");
  verb->add_option("--flat-uncertainty", o->flat_uncertainty,
                   "flat field: standard uncertainty of how even its light is, relative (0.01)");
  verb->add_option("--run", o->run, "number of the run during which it was recorded");
  verb->callback([&command, o] { command.action = [&command, o] { return attach(command.output, *o); }; });
}

}  // namespace provenit::cli
