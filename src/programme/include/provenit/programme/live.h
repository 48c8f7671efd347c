#pragma once
// Live inputs: a capture device or a network stream. Frames come when they come; what the caller is too slow for is
// dropped and counted.
#include "provenit/programme/reader.h"

namespace provenit::programme {

struct LiveOptions {
  ReaderOptions reading;
  double open_timeout_s = 10;    ///< to wait for a sender
  double silence_timeout_s = 5;  ///< without a frame: the sender has gone; next() then waits for it to come back
  double give_up_s = 0;          ///< end the session after so long without a frame; 0: only when `stop` says so
  int queue = 3;                 ///< decoded frames kept for the caller
  std::function<bool()> stop;    ///< asked at least ten times a second while open_live or next() waits, by its thread
};

struct LiveState {
  std::int64_t received = 0;  ///< decoded frames
  std::int64_t dropped = 0;   ///< of these, not measured because the caller was busy
  std::int64_t lost = 0;      ///< not decodable, or missing by their time stamps
  int interruptions = 0;      ///< times the sender went away and came back
  bool connected = false;
};

/// A Reader over a live source. Picture::index counts the frames received, so a dropped frame leaves a gap. next()
/// gives nullopt once `stop` said so or `give_up_s` is over. A sender that comes back is placed in time by the clock.
class LiveReader : public Reader {
 public:
  [[nodiscard]] virtual LiveState state() const = 0;
};

/// "v4l2:/dev/video0", "udp://127.0.0.1:5000", "srt://...", "rtp://..." (MPEG-TS), "tcp://...". Errors: unsupported
/// where libav was built without the protocol or the machine has no such device; timeout if no sender came; those of
/// open_reader for missing fields.
[[nodiscard]] Result<std::unique_ptr<LiveReader>> open_live(const std::string& address,
                                                            const LiveOptions& options = {});
/// Whether the text names a live source and not a file.
[[nodiscard]] bool is_live_address(std::string_view text);

}  // namespace provenit::programme
