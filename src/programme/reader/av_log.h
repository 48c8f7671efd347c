#pragma once
// What libav says while it works. Decoders tell of broken data in their log only, so every error message is caught and
// laid to the packet it speaks of.
#include <cstdint>
#include <mutex>
#include <string>
#include <vector>

namespace provenit::programme {

/// Errors of one decoder or demuxer. Set as `opaque` of an AVCodecContext or AVFormatContext it gets their error
/// messages, from whatever thread they come.
class AvErrors {
 public:
  static constexpr std::int64_t kNoPacket = -1;
  struct Entry {
    std::int64_t packet = kNoPacket;  ///< AVCodecContext::reordered_opaque of the packet in hand
    std::string message;
    bool from_decoder = true;
  };

  AvErrors();
  ~AvErrors();
  AvErrors(const AvErrors&) = delete;
  AvErrors& operator=(const AvErrors&) = delete;

  /// What came since the last call.
  [[nodiscard]] std::vector<Entry> take();
  void add(Entry entry);

 private:
  std::mutex mutex_;
  std::vector<Entry> entries_;
};

/// Libav's messages go to the AvErrors of their context from now on, and nowhere else. Any number of calls.
void catch_av_log();

}  // namespace provenit::programme
