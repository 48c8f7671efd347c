#pragma once
// Decoded frames of one video stream in order of display, with what is known of their health.
//
// A frame is damaged if its packet was marked corrupt, if the decoder reported an error or concealed one in it, or if
// it may refer to such a frame: errors spread through their group of pictures to the next key frame, and to the
// pictures shown before that key frame but decoded after it.
#include <deque>
#include <functional>
#include <limits>
#include <map>
#include <optional>
#include <set>
#include <string>
#include <utility>
#include <vector>

#include "provenit/base/error.h"
#include "provenit/libav/handles.h"
#include "reader/av_log.h"
#include "reader/troubles.h"

namespace provenit::programme {

using libav::CodecPtr;
using libav::Dictionary;
using libav::FramePtr;
using libav::InputPtr;
using libav::PacketPtr;
using libav::ParametersPtr;
using libav::text_of_av_error;

struct AvOpening {
  int threads = 0;                  ///< 0: one per core
  std::string demuxer;              ///< empty: found by content
  std::string protocols = "file";   ///< nothing in a file may send libav elsewhere
  Dictionary* options = nullptr;    ///< of the demuxer and protocol
  std::function<bool()> interrupt;  ///< asked while libav waits
  double probe_s = 0;               ///< longest look ahead for codec parameters; 0: libav's own
};

/// What is decoded and reported: frames with start <= pts < end; those before `start` are decoded only as the others'
/// references.
struct AvWindow {
  std::int64_t start = std::numeric_limits<std::int64_t>::min();
  std::int64_t end = std::numeric_limits<std::int64_t>::max();
};

struct AvDecoded {
  FramePtr frame;
  std::int64_t pts = AV_NOPTS_VALUE;
  bool damaged = false;
  std::int64_t lost_before = 0;  ///< frames that should have been shown since the last one and were not decoded
};

class AvSource {
 public:
  ~AvSource();
  AvSource(const AvSource&) = delete;
  AvSource& operator=(const AvSource&) = delete;

  /// Errors: not_found, io, invalid_input (no video, unknown format), unsupported (no decoder), timeout (interrupted).
  [[nodiscard]] static Result<std::unique_ptr<AvSource>> open(const std::string& path, const std::string& url,
                                                              const AvOpening& opening);
  /// Only before the first next(): goes to the key frame shown at `window.start`.
  [[nodiscard]] Result<void> go_to(const AvWindow& window);
  /// nullopt at the end of stream or window.
  [[nodiscard]] std::optional<AvDecoded> next();

  /// Next packet of the stream from its first key frame on, without decoding; null at the end.
  [[nodiscard]] PacketPtr next_packet();

  [[nodiscard]] const AVStream& stream() const { return *stream_; }
  [[nodiscard]] const AVFormatContext& input() const { return *input_; }
  [[nodiscard]] const AVCodecParameters& container_parameters() const { return *container_; }
  [[nodiscard]] const Troubles& troubles() const { return troubles_; }
  [[nodiscard]] std::int64_t packets_read() const { return packets_read_; }
  /// Smallest time stamp of the title, known with the first frame.
  [[nodiscard]] std::optional<std::int64_t> first_pts() const { return first_pts_; }
  [[nodiscard]] std::optional<std::int64_t> last_end() const { return last_end_; }
  [[nodiscard]] int read_error() const { return read_error_; }  ///< why reading ended; 0 or AVERROR_EOF: it is the end
  void add_trouble(const std::string& kind, const std::string& place) { troubles_.add(kind, place); }
  [[nodiscard]] std::string place_of(std::int64_t pts) const;

 private:
  AvSource() = default;
  static constexpr std::int64_t kNever = std::numeric_limits<std::int64_t>::max();
  struct Chain {  // a key frame and what is decoded up to the next one
    std::int64_t key_serial = 0, key_pts = AV_NOPTS_VALUE;
    std::int64_t broken_from = kNever;          // serial
    std::int64_t leading_broken_from = kNever;  // only pictures shown before the key frame refer to its like
  };
  struct Sent {
    std::int64_t pts = AV_NOPTS_VALUE;
    bool disposable = false;  // no other picture refers to it
    bool damaged = false;
  };

  [[nodiscard]] Result<void> open_input();
  [[nodiscard]] Result<void> open_stream();
  [[nodiscard]] Result<void> open_codec();
  [[nodiscard]] PacketPtr read();
  [[nodiscard]] PacketPtr read_marking_end();
  [[nodiscard]] bool find_key(std::int64_t pts);
  [[nodiscard]] std::optional<AvDecoded> finish();
  [[nodiscard]] bool send_next();
  void remember(const AVPacket& packet);
  void harvest(bool call_failed, const char* call, int code);
  void mark(std::int64_t serial);
  void mark_awaited();
  [[nodiscard]] const Chain* chain_of(std::int64_t serial, const Chain** before) const;
  [[nodiscard]] AvDecoded take(FramePtr frame);
  [[nodiscard]] bool is_damaged(std::int64_t serial, std::int64_t pts) const;
  [[nodiscard]] std::int64_t drop_awaited_before(const std::pair<std::int64_t, std::int64_t>& shown);
  [[nodiscard]] bool in_window(std::int64_t pts) const;

  std::string path_, url_;
  AvOpening opening_;
  AvErrors errors_;
  InputPtr input_;
  ParametersPtr container_;
  AVStream* stream_ = nullptr;
  CodecPtr codec_;
  Troubles troubles_;
  AvWindow window_;
  PacketPtr held_;   // read by go_to, not yet sent
  PacketPtr ahead_;  // read to see whether the one before is the last
  bool ends_inside_ = false;
  bool key_seen_ = false, input_ended_ = false, finished_ = false;
  std::int64_t next_serial_ = 0, packets_read_ = 0;
  std::map<std::int64_t, Sent> sent_;                        // by serial; forgotten some time after they were shown
  std::set<std::pair<std::int64_t, std::int64_t>> awaited_;  // (pts, serial) of what has still to be shown
  std::deque<Chain> chains_;
  std::optional<std::int64_t> first_pts_, last_pts_, last_end_;
  int read_error_ = 0;
};

}  // namespace provenit::programme
