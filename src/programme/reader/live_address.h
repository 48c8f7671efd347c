#pragma once
// How libav is to be asked for a live source.
#include <string>
#include <string_view>

#include "provenit/base/error.h"

namespace provenit::programme {

struct LiveAddress {
  std::string url;        ///< for libav
  std::string demuxer;    ///< of a capture device; empty: found by content
  std::string protocols;  ///< libav may use, e.g. "rtp,udp"
};

/// Errors: invalid_input for another text; unsupported where libav was built without the protocol or demuxer, or the
/// machine has no such device.
[[nodiscard]] Result<LiveAddress> live_address(const std::string& text);

}  // namespace provenit::programme
