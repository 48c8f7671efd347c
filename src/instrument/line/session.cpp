#include "line/session.h"

#include <fmt/format.h>

#include <algorithm>

#include "provenit/base/text.h"
#include "provenit/instrument/raw_text.h"

namespace provenit::instrument {
namespace {

constexpr std::size_t kRawKept = 4096;          ///< bytes of a refused reply kept in its event
constexpr std::size_t kUnaskedLimit = 1 << 20;  ///< more than this without being asked: the line is not ours

}  // namespace

LineInstrument::Session::Session(InstrumentDescription description, std::unique_ptr<Transport> transport)
    : d_(std::move(description)), transport_(std::move(transport)) {}

void LineInstrument::Session::note(std::string kind, std::string text, std::string_view raw) {
  std::string kept = escaped(raw.substr(0, kRawKept));
  if (raw.size() > kRawKept) kept += fmt::format("... ({} bytes)", raw.size());
  events_.push_back({std::move(kind), std::move(text), std::move(kept)});
}

Seconds LineInstrument::Session::longest_integration() const {
  return d_.capabilities.integration.overhead + d_.capabilities.integration.maximum;
}

Seconds LineInstrument::Session::timeout_of(const TimeoutRule& rule) const {
  if (rule.integrations == 0) return rule.fixed;
  // A quarter: the display may be darker than expected, and a late reply costs more than a long wait.
  const Seconds integration =
      expected_ ? d_.capabilities.integration.expected({.cdm2 = expected_->cdm2 / 4}) : longest_integration();
  return rule.fixed + rule.integrations * integration;
}

Error LineInstrument::Session::lost(Error error) {
  note("connection_lost", error.message, pending_);
  pending_.clear();
  return error;
}

// --- one exchange -----------------------------------------------------------------------------------------------

Result<void> LineInstrument::Session::receive_more(Seconds timeout) {
  auto got = transport_->receive(timeout);
  if (!got) return tl::unexpected(lost(got.error()));
  pending_ += *got;
  return {};
}

Result<void> LineInstrument::Session::discard_unasked() {
  for (std::size_t before = 0;; before = pending_.size()) {
    if (auto got = receive_more({0}); !got) return got;
    if (pending_.size() == before) break;
    if (pending_.size() > kUnaskedLimit) {
      note("unasked_bytes", "the instrument sends without being asked", pending_);
      pending_.clear();
      transport_->close();
      return fail(ErrorCode::io, d_.transport.address() + ": the instrument does not stop sending",
                  "Check that the address and the line settings are this instrument's.");
    }
  }
  if (!trim(pending_).empty()) note("unasked_bytes", "bytes that nobody asked for were discarded", pending_);
  pending_.clear();
  return {};
}

Result<void> LineInstrument::Session::send_line(const Command& command) {
  transport_->wait(last_sent_ + d_.delay_between - transport_->elapsed());
  auto sent = transport_->send(command.send + d_.send_ending, {std::max(command.timeout.fixed.s, 1.0)});
  last_sent_ = transport_->elapsed();
  echo_due_ = d_.echo;
  if (sent) return {};
  if (!transport_->connected()) return tl::unexpected(lost(sent.error()));
  in_step_ = false;
  note("timeout", sent.error().message);
  return sent;
}

void LineInstrument::Session::drop_echo(const Command& command) {
  const auto end = pending_.find(d_.lines.ending);
  if (!echo_due_ || end == std::string::npos) return;
  echo_due_ = false;
  if (trim(std::string_view(pending_).substr(0, end)) == trim(command.send))
    pending_.erase(0, end + d_.lines.ending.size());
}

std::optional<Error> LineInstrument::Session::error_reply(std::size_t at) {
  const std::string_view bytes = std::string_view(pending_).substr(at);
  for (const auto& known : d_.errors) {
    auto match = known.pattern.match(bytes, d_.lines);
    if (match.state != ReplyState::good) continue;
    const auto& texts = match.fields.texts;
    const auto message = texts.find("message");
    std::string text = known.meaning.empty() ? "the instrument reports an error" : known.meaning;
    if (message != texts.end() && !message->second.empty()) text += ": " + message->second;
    const auto code = match.fields.numbers.find("code");
    if (code != match.fields.numbers.end()) text += fmt::format(" (code {})", code->second.front());
    note("instrument_error", text, std::string_view(pending_).substr(0, at + match.consumed));
    pending_.erase(0, at + match.consumed);
    retry_asked_ = known.retry;
    return Error{ErrorCode::instrument, text, "See the instrument's manual.", {}};
  }
  return std::nullopt;
}

LineInstrument::Session::Reply LineInstrument::Session::take(ReplyMatch match) {
  Reply reply{std::move(match.fields), escaped(std::string_view(pending_).substr(0, match.consumed))};
  pending_.erase(0, match.consumed);
  return reply;
}

Error LineInstrument::Session::refused(const std::string& why, std::size_t bytes) {
  note("refused_reply", why, std::string_view(pending_).substr(0, bytes));
  Error error{ErrorCode::invalid_input,
              fmt::format("the reply '{}' is not the described one: {}",
                          escaped(std::string_view(pending_).substr(0, std::min<std::size_t>(bytes, 80))), why),
              "Check the line settings, and the reply pattern in " + d_.file + ".",
              {}};
  pending_.erase(0, bytes);
  in_step_ = false;
  return error;
}

Error LineInstrument::Session::timed_out(const Command& command, Seconds timeout) {
  const auto text = fmt::format("no whole reply to '{}' within {:.3g} s", escaped(command.send), timeout.s);
  note("timeout", text, pending_);
  Error error{ErrorCode::timeout, text, "Check that the instrument is on and its time-outs in " + d_.file + ".", {}};
  if (!pending_.empty()) error.message += fmt::format(" ('{}' came)", escaped(pending_.substr(0, 80)));
  pending_.clear();
  in_step_ = false;
  return error;
}

Result<LineInstrument::Session::Reply> LineInstrument::Session::await(const Command& command) {
  const Seconds timeout = timeout_of(command.timeout);
  const Seconds end = transport_->elapsed() + timeout;
  for (;;) {
    drop_echo(command);
    if (!echo_due_) {
      if (auto error = error_reply(0)) return tl::unexpected(*error);
      auto match = command.reply->match(pending_, d_.lines);
      if (match.state == ReplyState::good) return take(std::move(match));
      if (match.state == ReplyState::bad) {
        // An error may also cut short a reply of several lines.
        if (auto error = error_reply(match.line_begin)) return tl::unexpected(*error);
        return tl::unexpected(refused(match.why, match.consumed));
      }
    } else if (pending_.size() > d_.lines.line_bytes) {
      return tl::unexpected(refused("no echo of the line sent", pending_.size()));
    }
    const Seconds left = end - transport_->elapsed();
    if (left.s <= 0) return tl::unexpected(timed_out(command, timeout));
    if (auto got = receive_more(left); !got) return tl::unexpected(got.error());
  }
}

Result<LineInstrument::Session::Reply> LineInstrument::Session::exchange(const Command& command) {
  if (auto clean = discard_unasked(); !clean) return tl::unexpected(clean.error());
  if (auto sent = send_line(command); !sent) return tl::unexpected(sent.error());
  Result<Reply> reply = command.reply ? await(command) : Reply{};
  transport_->wait(command.delay_after);
  return reply;
}

// --- getting into step --------------------------------------------------------------------------------------------

Result<void> LineInstrument::Session::start() {
  return connect();
}

Result<void> LineInstrument::Session::connect() {
  pending_.clear();
  if (auto connected = transport_->connect(); !connected) return connected;
  in_step_ = true;
  for (const auto& command : d_.setup) {
    auto reply = exchange(command);
    if (reply) continue;
    transport_->close();
    reply.error().message = fmt::format("set-up line '{}': {}", escaped(command.send), reply.error().message);
    return tl::unexpected(reply.error());
  }
  if (!d_.identify) return {};
  auto identity = find_identity();
  if (identity) return {};
  transport_->close();
  return tl::unexpected(identity.error());
}

Result<void> LineInstrument::Session::reconnect() {
  const auto& policy = d_.recovery;
  Error last{ErrorCode::io, d_.transport.address() + ": the connection is lost", "Check the cable and the power.", {}};
  for (int i = 0; i < policy.reconnect_attempts; ++i) {
    if (reconnects_ >= policy.reconnect_total)
      return fail(
          ErrorCode::io,
          fmt::format("{}: the connection was lost and made again {} times", d_.transport.address(), reconnects_),
          "Mend the cable or the network before going on.");
    if (i > 0) transport_->wait(policy.reconnect_wait);
    auto connected = connect();
    if (connected) {
      ++reconnects_;
      note("reconnected", d_.transport.address());
      return {};
    }
    last = connected.error();
  }
  return tl::unexpected(last);
}

Result<void> LineInstrument::Session::drain(Seconds quiet) {
  const Seconds end = transport_->elapsed() + d_.recovery.drain_limit + quiet;
  for (;;) {
    const auto before = pending_.size();
    if (auto got = receive_more(quiet); !got) return got;
    if (pending_.size() == before) break;
    if (transport_->elapsed() >= end || pending_.size() > kUnaskedLimit) {
      note("late_reply", "the line does not fall silent", pending_);
      pending_.clear();
      transport_->close();
      return fail(ErrorCode::io, d_.transport.address() + ": the line does not fall silent",
                  "Check that the address and the line settings are this instrument's.");
    }
  }
  if (!trim(pending_).empty()) note("late_reply", "a late reply was discarded", pending_);
  pending_.clear();
  return {};
}

bool LineInstrument::Session::is_identity(const Reply& reply) {
  if (!identity_raw_.empty()) return reply.raw == identity_raw_;
  // A late reading may fit a pattern made of commas; its parts are numbers, and no instrument's name is one.
  const auto name = reply.fields.texts.find("name");
  return name == reply.fields.texts.end() || !parse_double(name->second);
}

Result<LineInstrument::Session::Reply> LineInstrument::Session::find_identity() {
  const Command& command = *d_.identify;
  if (auto sent = send_line(command); !sent) return tl::unexpected(sent.error());
  // It may still be busy with a reading whose reply nobody awaits any more.
  const Seconds timeout = timeout_of(command.timeout) + longest_integration();
  const Seconds end = transport_->elapsed() + timeout;
  for (;;) {
    drop_echo(command);
    auto match = command.reply->match(pending_, d_.lines);
    if (match.state != ReplyState::more) {
      const std::string raw = pending_.substr(0, match.consumed);
      const bool good = match.state == ReplyState::good;
      auto reply = take(std::move(match));
      if (good && is_identity(reply)) {
        if (identity_raw_.empty()) identity_raw_ = reply.raw;
        in_step_ = true;
        return reply;
      }
      if (!trim(raw).empty()) note("late_reply", "a late reply was discarded", raw);
      continue;
    }
    const Seconds left = end - transport_->elapsed();
    if (left.s <= 0) return tl::unexpected(timed_out(command, timeout));
    if (auto got = receive_more(left); !got) return tl::unexpected(got.error());
  }
}

Result<void> LineInstrument::Session::resynchronise() {
  const bool serial = d_.transport.kind == TransportKind::serial;
  // Without an identification there is only silence to go by, and a reading may still be under way.
  const Seconds quiet =
      d_.identify ? d_.recovery.drain_quiet : std::max(d_.recovery.drain_quiet, longest_integration());
  auto drained = drain(quiet);
  if (drained && d_.identify && find_identity()) return {};
  if (drained && !d_.identify && serial) {
    in_step_ = true;
    return {};
  }
  transport_->close();
  return reconnect();
}

Result<void> LineInstrument::Session::ready() {
  if (!transport_->connected()) return reconnect();
  if (!in_step_) return resynchronise();
  return {};
}

// --- what is asked of it ------------------------------------------------------------------------------------------

Result<Identity> LineInstrument::Session::identify() {
  if (auto in_step = ready(); !in_step) return tl::unexpected(in_step.error());
  if (!d_.identify) return Identity{.name = d_.title};
  auto reply = exchange(*d_.identify);
  if (!reply) return tl::unexpected(reply.error());
  const auto text = [&](const char* field) {
    const auto found = reply->fields.texts.find(field);
    return found == reply->fields.texts.end() ? std::string{} : found->second;
  };
  Identity out{text("name"), text("serial"), text("firmware"), reply->raw};
  if (out.name.empty()) out.name = d_.title;
  return out;
}

std::optional<Error> LineInstrument::Session::read_error_queue() {
  std::optional<Error> first;
  if (!d_.error_queue || !transport_->connected() || !in_step_) return first;
  for (int i = 0; i < d_.error_queue->limit; ++i) {
    auto reply = exchange(d_.error_queue->command);
    if (!reply) break;
    const double code = reply->fields.numbers.at("code").front();
    if (code == d_.error_queue->empty_code) break;
    const auto message = reply->fields.texts.find("message");
    const auto text = fmt::format("the instrument reports error {}{}", code,
                                  message == reply->fields.texts.end() ? "" : ": " + message->second);
    note("instrument_error", text, {});
    if (!first) first = Error{ErrorCode::instrument, text, "See the instrument's manual.", {}};
  }
  return first;
}

/// The instrument's own account of a failure says more than the failure.
Error LineInstrument::Session::explained(Error error) {
  if (!d_.error_queue || !transport_->connected()) return error;
  if (!in_step_ && !resynchronise()) return error;
  if (auto own = read_error_queue()) return *own;
  return error;
}

Result<Measurement> LineInstrument::Session::attempt() {
  ReplyFields fields;
  std::string raw;
  retry_asked_ = false;
  for (const auto& command : d_.measure) {
    auto reply = exchange(command);
    if (!reply) return tl::unexpected(explained(reply.error()));
    for (auto& [name, values] : reply->fields.numbers) fields.numbers[name] = std::move(values);
    raw += reply->raw;
  }
  if (d_.error_queue && d_.error_queue->after_each)
    if (auto error = read_error_queue()) return tl::unexpected(*error);
  auto measurement = measurement_from(fields, d_);
  if (!measurement) {
    events_.push_back({"refused_reply", measurement.error().message, raw});
    return measurement;
  }
  measurement->raw_reply = std::move(raw);
  return measurement;
}

Result<Measurement> LineInstrument::Session::measure() {
  Result<Measurement> result = fail(ErrorCode::instrument, "no attempt was made");
  for (int i = 0; i < d_.recovery.attempts; ++i) {
    if (auto in_step = ready(); !in_step) return tl::unexpected(in_step.error());
    result = attempt();
    if (result || (result.error().code == ErrorCode::instrument && !retry_asked_)) break;
  }
  return result;
}

}  // namespace provenit::instrument
