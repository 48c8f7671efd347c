#include "reader/live_address.h"

extern "C" {
#include <libavdevice/avdevice.h>
#include <libavformat/avformat.h>
}

#include <array>
#include <filesystem>

#include "provenit/programme/live.h"

namespace provenit::programme {
namespace {

struct Scheme {
  std::string_view prefix;
  const char* protocols;
};
constexpr std::array kNetwork{Scheme{"udp://", "udp"}, Scheme{"rtp://", "rtp,udp"}, Scheme{"srt://", "srt"},
                              Scheme{"tcp://", "tcp"}};
constexpr std::string_view kDevice = "v4l2:";

bool has_input_protocol(std::string_view name) {
  void* state = nullptr;
  while (const char* const protocol = avio_enum_protocols(&state, 0))
    if (name == protocol) return true;
  return false;
}

}  // namespace

bool is_live_address(std::string_view text) {
  if (text.starts_with(kDevice)) return true;
  for (const Scheme& scheme : kNetwork)
    if (text.starts_with(scheme.prefix)) return true;
  return false;
}

Result<LiveAddress> live_address(const std::string& text) {
  if (text.starts_with(kDevice)) {
    const std::string device = text.substr(kDevice.size());
    avdevice_register_all();
    if (av_find_input_format("v4l2") == nullptr)
      return fail(ErrorCode::unsupported, "libav was built without V4L2", "Use a network stream.", {.file = text});
    std::error_code ignored;
    if (!std::filesystem::is_character_file(device, ignored))
      return fail(ErrorCode::unsupported, "this machine has no such device", "Plug it in, or name another.",
                  {.file = text});
    return LiveAddress{.url = device, .demuxer = "v4l2", .protocols = {}};
  }
  for (const Scheme& scheme : kNetwork) {
    if (!text.starts_with(scheme.prefix)) continue;
    const std::string_view name = scheme.prefix.substr(0, scheme.prefix.find(':'));
    if (!has_input_protocol(name))
      return fail(ErrorCode::unsupported, "libav was built without the protocol " + std::string(name),
                  "Use udp://, which it always has.", {.file = text});
    return LiveAddress{.url = text, .demuxer = {}, .protocols = scheme.protocols};
  }
  return fail(ErrorCode::invalid_input, "is no live address", "Give v4l2:, udp://, rtp://, srt:// or tcp://.",
              {.file = text});
}

}  // namespace provenit::programme
