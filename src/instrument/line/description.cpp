#include <fmt/format.h>

#include <array>
#include <string>
#include <utility>

#include "line/toml_section.h"
#include "provenit/base/text.h"
#include "provenit/instrument/instrument_description.h"
#include "provenit/instrument/raw_text.h"

namespace provenit::instrument {
namespace {

constexpr double kLongest_s = 3600;  ///< no single wait of a description may be longer

void read_transport(TomlSection s, TransportDescription& out) {
  int kind = 0, parity = 0, flow = 0;
  if (!s.has("kind")) s.refuse("is missing", "Write kind = \"tcp\" or \"serial\" under [transport].", nullptr, "kind");
  s.word("kind", {"tcp", "serial"}, kind);
  out.kind = static_cast<TransportKind>(kind);
  s.seconds("connect_timeout_s", kLongest_s, out.connect_timeout);
  if (out.kind == TransportKind::tcp) {
    s.text("host", out.host);
    s.integer("port", 1, 65535, out.port);
  } else {
    s.text("device", out.device);
    s.integer("baud", 50, 4000000, out.baud);
    s.integer("data_bits", 5, 8, out.data_bits);
    s.integer("stop_bits", 1, 2, out.stop_bits);
    s.word("parity", {"none", "even", "odd"}, parity);
    s.word("flow", {"none", "hardware", "software"}, flow);
    out.parity = static_cast<Parity>(parity);
    out.flow = static_cast<Flow>(flow);
  }
  s.finish();
}

void read_lines(TomlSection s, InstrumentDescription& out) {
  constexpr std::array<std::string_view, 3> endings{"\n", "\r", "\r\n"};
  const std::vector<std::string_view> words{"LF", "CR", "CRLF"};
  int send = 0, reply = 0, longest = 65536;
  s.word("send_ending", words, send);
  s.word("reply_ending", words, reply);
  s.integer("longest_bytes", 16, 1 << 20, longest);
  s.boolean("decimal_comma", out.lines.decimal_comma);
  s.boolean("echo", out.echo);
  s.seconds("delay_between_s", 60, out.delay_between);
  out.send_ending = endings[static_cast<std::size_t>(send)];
  out.lines.ending = endings[static_cast<std::size_t>(reply)];
  out.lines.line_bytes = static_cast<std::size_t>(longest);
  s.finish();
}

/// A line of a reply: text, or { line = "...", repeat = 81 } or repeat = "count".
void read_reply_line(TomlSection& owner, const toml::node& node, TomlErrors& errors, std::vector<LinePattern>& out) {
  LinePattern line;
  if (const auto text = node.value_exact<std::string>()) {
    line.text = *text;
  } else if (const auto* table = node.as_table()) {
    TomlSection s(table, "reply", errors);
    s.text("line", line.text);
    const auto* repeat = s.node("repeat");
    if (repeat && repeat->value_exact<std::string>() == "count")
      line.repeat_by_count = true;
    else
      s.integer("repeat", 1, 10000, line.repeat);
    s.finish();
  } else {
    owner.refuse("a reply line is neither text nor a table", "Write \"...\" or { line = \"...\", repeat = \"count\" }.",
                 &node, "reply");
  }
  out.push_back(std::move(line));
}

std::optional<ReplyPattern> read_pattern(TomlSection& s, std::string_view key, TomlErrors& errors) {
  const auto* node = s.node(key);
  if (!node) return std::nullopt;
  std::vector<LinePattern> lines;
  if (const auto* array = node->as_array())
    for (const auto& line : *array) read_reply_line(s, line, errors, lines);
  else
    read_reply_line(s, *node, errors, lines);
  if (errors.first) return std::nullopt;
  auto pattern = ReplyPattern::compile(std::move(lines));
  if (pattern) return std::move(*pattern);
  s.refuse(pattern.error().message, pattern.error().advice, node, key);
  return std::nullopt;
}

Command read_command(TomlSection& s, TomlErrors& errors) {
  Command out;
  s.text("send", out.send);
  if (out.send.find_first_of("\r\n") != std::string::npos)
    s.refuse("holds a line break", "The line ending is added; give each line a table of its own.", nullptr, "send");
  out.reply = read_pattern(s, "reply", errors);
  s.seconds("timeout_s", kLongest_s, out.timeout.fixed);
  s.number("timeout_integrations", 0, 100, out.timeout.integrations);
  s.seconds("delay_after_s", 600, out.delay_after);
  return out;
}

void read_commands(TomlSection& root, TomlErrors& errors, InstrumentDescription& out) {
  if (root.has("identify")) {
    auto s = root.section("identify");
    out.identify = read_command(s, errors);
    if (!out.identify->reply) s.refuse("is missing", "Give the pattern of the identification.", nullptr, "reply");
    s.finish();
  }
  for (auto& s : root.sections("setup")) {
    out.setup.push_back(read_command(s, errors));
    s.finish();
  }
  for (auto& s : root.sections("measure")) {
    out.measure.push_back(read_command(s, errors));
    s.finish();
  }
}

void read_errors(TomlSection& root, TomlErrors& errors, InstrumentDescription& out) {
  for (auto& s : root.sections("error_reply")) {
    ErrorReply reply;
    auto pattern = read_pattern(s, "pattern", errors);
    if (!pattern) s.refuse("is missing", "Give the pattern of the line.", nullptr, "pattern");
    s.text("meaning", reply.meaning);
    s.boolean("retry", reply.retry);
    s.finish();
    if (pattern) out.errors.push_back({std::move(*pattern), reply.meaning, reply.retry});
  }
  if (!root.has("error_queue")) return;
  auto s = root.section("error_queue");
  ErrorQueue queue;
  queue.command = read_command(s, errors);
  s.integer("empty_code", -32768, 32767, queue.empty_code);
  s.integer("limit", 1, 1000, queue.limit);
  s.boolean("after_each", queue.after_each);
  if (!queue.command.reply || !queue.command.reply->has("code"))
    s.refuse("has no {code}", "Give the pattern of an entry, e.g. reply = '{code},\"{message}\"'.", nullptr, "reply");
  s.finish();
  out.error_queue = std::move(queue);
}

void read_recovery(TomlSection s, RecoveryPolicy& out) {
  s.integer("attempts", 1, 10, out.attempts);
  s.seconds("drain_quiet_s", 60, out.drain_quiet);
  s.seconds("drain_limit_s", kLongest_s, out.drain_limit);
  s.integer("reconnect_attempts", 0, 100, out.reconnect_attempts);
  s.seconds("reconnect_wait_s", 600, out.reconnect_wait);
  s.integer("reconnect_total", 0, 100000, out.reconnect_total);
  s.finish();
}

void read_capabilities(TomlSection s, Capabilities& out) {
  s.boolean("spectral", out.spectral);
  s.number("minimum_cdm2", 0, 1e6, out.minimum_cdm2);
  s.number("maximum_cdm2", 1e-3, 1e9, out.maximum_cdm2);
  s.number("repeatability_relative", 0, 1, out.repeatability_relative);
  s.number("noise_floor_cdm2", 0, 1e3, out.noise_floor_cdm2);
  s.number("shot_noise", 0, 10, out.shot_noise);
  auto i = s.section("integration");
  i.seconds("overhead_s", kLongest_s, out.integration.overhead);
  i.seconds("minimum_s", kLongest_s, out.integration.minimum);
  i.seconds("maximum_s", kLongest_s, out.integration.maximum);
  i.number("reference_s", 1e-6, kLongest_s, out.integration.reference.s);
  i.number("reference_cdm2", 1e-9, 1e9, out.integration.reference_cdm2);
  i.number("exponent", 0, 4, out.integration.exponent);
  if (out.integration.minimum > out.integration.maximum) i.refuse("is longer than maximum_s", {}, nullptr, "minimum_s");
  i.finish();
  s.finish();
}

void read_certificate(TomlSection s, Certificate& out) {
  s.number("luminance_expanded_relative", 0, 1, out.luminance_expanded_relative);
  s.number("x_expanded", 0, 1, out.x_expanded);
  s.number("y_expanded", 0, 1, out.y_expanded);
  s.number("coverage_factor", 1, 10, out.coverage_factor);
  s.number("zero_offset_standard_cdm2", 0, 1e3, out.zero_offset_standard_cdm2);
  s.text("number", out.number);
  s.text("issuer", out.issuer);
  s.text("date", out.date);
  s.finish();
}

void read_spectrum(TomlSection s, InstrumentDescription& out) {
  std::vector<std::string_view> names;
  names.reserve(colour::kObservers.size());
  for (const auto observer : colour::kObservers) names.push_back(colour::name_of(observer));
  int observer = 0, summation = 2;
  s.word("observer", names, observer);
  s.word("summation", {"sprague", "linear", "native"}, summation);
  out.spectral.observer = colour::kObservers[static_cast<std::size_t>(observer)];
  out.spectral.summation = static_cast<colour::Summation>(summation);
  s.finish();
}

void read_dark(TomlSection s, InstrumentDescription& out) {
  if (!s.table()) return;
  colour::Xy<> c;
  if (!s.has("x") || !s.has("y")) s.refuse("needs x and y", {}, nullptr, "x");
  s.number("x", 0.01, 0.75, c.x);
  s.number("y", 0.01, 0.85, c.y);
  s.finish();
  out.dark_chromaticity = c;
}

/// The measure replies together must give a colour.
void check_measure(TomlSection& root, InstrumentDescription& out) {
  const auto has = [&](std::string_view field) {
    for (const auto& command : out.measure)
      if (command.reply && command.reply->has(field)) return true;
    return false;
  };
  const bool spectrum = has("radiance") && (has("wavelength") || (has("start") && has("step")));
  const bool light =
      (has("X") && has("Y") && has("Z")) || (has("Y") && has("x") && has("y")) || (has("Y") && has("u'") && has("v'"));
  if (out.measure.empty())
    root.refuse("is missing", "Give at least one [[measure]] with send and reply.", nullptr, "measure");
  else if (!light && !spectrum)
    root.refuse("the replies give no colour",
                "Their patterns need X, Y, Z; or Y, x, y; or Y, u', v'; or radiance with wavelength or start and step.",
                root.node("measure"), "measure");
  out.capabilities.spectral = out.capabilities.spectral || spectrum;
}

}  // namespace

std::string TransportDescription::address() const {
  if (kind == TransportKind::serial) return "serial:" + device;
  const bool v6 = host.find(':') != std::string::npos;
  return fmt::format("tcp:{}{}{}:{}", v6 ? "[" : "", host, v6 ? "]" : "", port);
}

Result<InstrumentDescription> parse_description(std::string_view toml, const std::string& file) {
  toml::table table;
  try {
    table = toml::parse(toml, file);
  } catch (const toml::parse_error& e) {
    return fail(ErrorCode::invalid_input, "is not TOML: " + escaped(e.description()), "Correct the line named.",
                {.file = file, .line = static_cast<int>(e.source().begin.line)});
  }
  TomlErrors errors{file, {}};
  TomlSection root(&table, "", errors);
  InstrumentDescription out;
  out.file = file;
  root.text("title", out.title);
  root.text("note", out.note);
  if (out.title.empty()) root.refuse("is missing", "Say what kind of meter this describes.", nullptr, "title");
  read_transport(root.section("transport"), out.transport);
  read_lines(root.section("lines"), out);
  read_commands(root, errors, out);
  read_errors(root, errors, out);
  read_recovery(root.section("recovery"), out.recovery);
  read_capabilities(root.section("capabilities"), out.capabilities);
  read_certificate(root.section("certificate"), out.certificate);
  read_spectrum(root.section("spectrum"), out);
  read_dark(root.section("dark"), out);
  check_measure(root, out);
  root.finish();
  if (errors.first) return tl::unexpected(*errors.first);
  return out;
}

Result<InstrumentDescription> read_description(const std::string& path) {
  const auto bytes = read_file(path);
  if (!bytes) return tl::unexpected(bytes.error());
  return parse_description(*bytes, path);
}

Result<void> set_address(InstrumentDescription& description, std::string_view address) {
  auto out = description.transport;
  const auto bad = [&] {
    return fail(ErrorCode::invalid_input, fmt::format("'{}' is no address of an instrument", escaped(address)),
                "Write tcp:HOST:PORT or serial:DEVICE or serial:DEVICE:BAUD.", {.field = "address"});
  };
  std::string_view rest = address;
  const bool tcp = rest.starts_with("tcp:");
  if (!tcp && !rest.starts_with("serial:")) return bad();
  rest.remove_prefix(tcp ? 4 : 7);
  const auto colon = rest.rfind(':');
  const bool has_tail = colon != std::string_view::npos && (tcp || !rest.ends_with(':'));
  const auto number = has_tail ? parse_integer(rest.substr(colon + 1)) : std::nullopt;
  std::string_view head = has_tail && number ? rest.substr(0, colon) : rest;
  if (tcp) {
    if (!number || *number < 1 || *number > 65535) return bad();
    if (head.starts_with('[') && head.ends_with(']')) head = head.substr(1, head.size() - 2);
    if (head.empty()) return bad();
    out.kind = TransportKind::tcp;
    out.host = head;
    out.port = static_cast<int>(*number);
  } else {
    if (head.empty() || (number && (*number < 50 || *number > 4000000))) return bad();
    out.kind = TransportKind::serial;
    out.device = head;
    if (number) out.baud = static_cast<int>(*number);
  }
  description.transport = std::move(out);
  return {};
}

}  // namespace provenit::instrument
