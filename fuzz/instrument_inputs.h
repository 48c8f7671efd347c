#pragma once
// One input into each parser of instrument that reads bytes from outside, and what must hold whatever the bytes are.
// The fuzz targets call these; so does the test that replays fuzz/corpus/.
#include <cmath>
#include <cstdlib>
#include <string_view>

#include "provenit/instrument/import.h"
#include "provenit/instrument/instrument_description.h"
#include "provenit/instrument/raw_text.h"
#include "provenit/instrument/reply_pattern.h"
#include "provenit/instrument/trace.h"

namespace provenit::instrument::fuzz {

/// Ends the process: the input is then a finding. (A plain assert is compiled out of some builds.)
inline void must(bool holds) {
  if (!holds) std::abort();
}

inline void check_report(const ImportReport& report) {
  must(report.rows == report.readings.size() + report.refused.size());
  for (const auto& r : report.readings) {
    const auto& m = r.measurement;
    must(std::isfinite(m.xyz.X) && std::isfinite(m.xyz.Y) && std::isfinite(m.xyz.Z));
    must(is_utf8(r.sample) && is_utf8(r.step) && is_utf8(m.raw_reply));
    if (m.spectrum)
      for (const double value : m.spectrum->radiance) must(std::isfinite(value));
  }
  for (const auto& e : report.refused) must(!e.message.empty() && is_utf8(e.text()));
}

/// The first byte chooses the options, so that one corpus reaches them all.
inline ImportOptions options_of(unsigned char byte) {
  ImportOptions o;
  o.file = "input";
  o.scale = static_cast<ValueScale>(byte % 3);
  o.spectral_unit = static_cast<SpectralUnit>(byte / 3 % 4);
  if (byte & 0x40U) o.relative_white = RelativeWhite{.cdm2 = 100};
  if (byte & 0x80U) o.encoding = signal::Encoding{};
  o.rgb_fields_are_codes = byte % 5 == 0;
  o.observer = colour::Observer::cie1931_2deg;
  return o;
}

inline void import_input(std::string_view bytes, ImportFormat format) {
  if (bytes.empty()) return;
  auto options = options_of(static_cast<unsigned char>(bytes.front()));
  options.format = format;
  const auto report = import_readings(bytes.substr(1), options);
  if (report)
    check_report(*report);
  else
    must(!report.error().message.empty() && is_utf8(report.error().text()));
}
inline void csv_import(std::string_view bytes) {
  import_input(bytes, ImportFormat::csv);
}
inline void cgats_import(std::string_view bytes) {
  import_input(bytes, ImportFormat::cgats);
}

/// Bytes up to a NUL are the pattern, one line each ("*" before a line: repeated by {count}; "3*": three times); the
/// rest is the reply.
inline void line_reply(std::string_view bytes) {
  const auto nul = bytes.find('\0');
  if (nul == std::string_view::npos) return;
  std::string_view text = bytes.substr(0, nul);
  const std::string_view reply = bytes.substr(nul + 1);
  std::vector<LinePattern> lines;
  while (!text.empty() && lines.size() < 8) {
    const auto line = text.substr(0, text.find('\n'));
    text.remove_prefix(std::min(line.size() + 1, text.size()));
    if (line.starts_with('*'))
      lines.push_back({std::string(line.substr(1)), 1, true});
    else if (line.starts_with("3*"))
      lines.push_back({std::string(line.substr(2)), 3, false});
    else
      lines.push_back({std::string(line), 1, false});
  }
  const auto pattern = ReplyPattern::compile(std::move(lines));
  if (!pattern) return;
  const ReplyLimits limits{
      .ending = reply.size() % 3 == 0 ? "\r\n" : "\n", .line_bytes = 200, .decimal_comma = nul % 2 == 0};
  const auto match = pattern->match(reply, limits);
  must(match.consumed <= reply.size() && match.line_begin <= reply.size());
  must(match.state != ReplyState::bad ||
       (!match.why.empty() && match.consumed > match.line_begin && is_utf8(match.why)));
  must(match.state != ReplyState::good || match.consumed > 0);
  for (const auto& [name, values] : match.fields.numbers)
    for (const double value : values) must(std::isfinite(value));
  for (const auto& [name, value] : match.fields.texts) must(is_utf8(value));
  if (match.state == ReplyState::good) {
    InstrumentDescription description;
    const auto measurement = measurement_from(match.fields, description);
    if (measurement) must(std::isfinite(measurement->xyz.X + measurement->xyz.Y + measurement->xyz.Z));
    // A good reply stays good whatever follows, and takes no more; cut short, it needs more.
    const auto longer = pattern->match(std::string(reply) + "7\n", limits);
    must(longer.state == ReplyState::good && longer.consumed == match.consumed);
    must(pattern->match(reply.substr(0, match.consumed - 1), limits).state == ReplyState::more);
  }
}

/// The first byte says whether a rate is stated.
inline void trace_import(std::string_view bytes) {
  if (bytes.empty()) return;
  TraceOptions options{.file = "input"};
  if (bytes.front() % 2 == 1) options.rate_hz = 1000;
  const auto trace = parse_trace(bytes.substr(1), options);
  if (!trace) {
    must(!trace.error().message.empty() && is_utf8(trace.error().text()));
    return;
  }
  must(std::isfinite(trace->rate_hz) && trace->rate_hz > 0 && trace->samples() >= kFewestSamples);
  for (const auto& channel : trace->channels) {
    must(channel.values.size() == trace->samples() && is_utf8(channel.name) && is_utf8(channel.unit));
    for (const double value : channel.values) must(std::isfinite(value));
  }
}

inline void instrument_description(std::string_view bytes) {
  const auto description = parse_description(bytes, "input");
  if (description) {
    must(!description->measure.empty() && !description->title.empty());
    must(description->recovery.attempts >= 1);
  } else {
    must(!description.error().message.empty() && is_utf8(description.error().text()));
  }
}

}  // namespace provenit::instrument::fuzz
