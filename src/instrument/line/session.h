#pragma once
// The talk with one line instrument: sends lines, awaits replies, keeps the two in step. Private.
//
// In step means: no reply is outstanding, so the next bytes belong to the next command. A time-out, a refused reply or
// a lost connection ends that; ready() restores it before anything else is sent. The proof of being in step is the
// identification: an instrument answers in order, so once its identification has come, every late reply is behind us.
#include <memory>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "provenit/instrument/line_instrument.h"

namespace provenit::instrument {

class LineInstrument::Session {
 public:
  Session(InstrumentDescription description, std::unique_ptr<Transport> transport);

  /// Connects for the first time and sends the set-up lines.
  Result<void> start();
  Result<Identity> identify();
  Result<Measurement> measure();
  void expect(colour::Luminance<> luminance) { expected_ = luminance; }
  std::vector<InstrumentEvent> take_events() { return std::exchange(events_, {}); }
  [[nodiscard]] const InstrumentDescription& description() const { return d_; }

 private:
  struct Reply {
    ReplyFields fields;
    std::string raw;  ///< escaped
  };
  Result<Reply> exchange(const Command& command);
  Result<Reply> await(const Command& command);
  Result<void> send_line(const Command& command);
  Result<void> discard_unasked();
  Result<void> receive_more(Seconds timeout);
  std::optional<Error> error_reply(std::size_t at);
  Reply take(ReplyMatch match);
  Error refused(const std::string& why, std::size_t bytes);
  Error timed_out(const Command& command, Seconds timeout);
  void drop_echo(const Command& command);

  Result<void> ready();
  Result<void> reconnect();
  Result<void> connect();
  Result<void> resynchronise();
  Result<void> drain(Seconds quiet);
  Result<Reply> find_identity();
  bool is_identity(const Reply& reply);

  Result<Measurement> attempt();
  std::optional<Error> read_error_queue();
  Error explained(Error error);

  [[nodiscard]] Seconds timeout_of(const TimeoutRule& rule) const;
  [[nodiscard]] Seconds longest_integration() const;
  void note(std::string kind, std::string text, std::string_view raw = {});
  Error lost(Error error);

  InstrumentDescription d_;
  std::unique_ptr<Transport> transport_;
  std::string pending_;  ///< received and not yet used
  std::vector<InstrumentEvent> events_;
  std::optional<colour::Luminance<>> expected_;
  std::string identity_raw_;  ///< the first identification: a different one is not believed
  Seconds last_sent_{0};
  bool echo_due_ = false;
  bool in_step_ = true;
  bool retry_asked_ = false;  ///< the last error reply is one that the description calls worth a retry
  int reconnects_ = 0;
};

}  // namespace provenit::instrument
