#include "reader/av_log.h"

extern "C" {
#include <libavcodec/avcodec.h>
#include <libavformat/avformat.h>
#include <libavutil/log.h>
}

#include <array>
#include <cstdarg>
#include <cstdio>
#include <cstring>
#include <set>
#include <utility>

namespace provenit::programme {
namespace {

constexpr std::size_t kMostEntries = 4096;  // between two calls of take()

struct Living {
  std::mutex mutex;
  std::set<const void*> all;
};
// Never destroyed: libav may log while the program ends.
Living& living() {
  static auto* const one = new Living;
  return *one;
}

// A decoder that wraps an outside library logs from that library's threads, where no packet is at hand.
AvErrors::Entry entry_for(const AVCodecContext& codec) {
  const bool wrapped = codec.codec != nullptr && codec.codec->wrapper_name != nullptr;
  return {.packet = wrapped ? AvErrors::kNoPacket : codec.reordered_opaque, .message = {}, .from_decoder = true};
}

// Concealed blocks are told at the level of information.
bool tells_of_damage(int level, const char* format) {
  return level <= AV_LOG_ERROR || (level <= AV_LOG_INFO && std::strncmp(format, "concealing", 10) == 0);
}

void on_message(void* context, int level, const char* format, va_list arguments) {
  if (context == nullptr || !tells_of_damage(level, format)) return;
  const AVClass* const kind = *static_cast<const AVClass* const*>(context);
  void* target = nullptr;
  AvErrors::Entry entry;
  if (kind == avcodec_get_class()) {
    const auto& codec = *static_cast<const AVCodecContext*>(context);
    target = codec.opaque;
    entry = entry_for(codec);
  } else if (kind == avformat_get_class()) {
    target = static_cast<const AVFormatContext*>(context)->opaque;
    entry.from_decoder = false;
  }
  if (target == nullptr) return;
  std::array<char, 512> text{};
  std::vsnprintf(text.data(), text.size(), format, arguments);
  entry.message = text.data();
  Living& l = living();
  const std::lock_guard lock(l.mutex);
  if (l.all.contains(target)) static_cast<AvErrors*>(target)->add(std::move(entry));
}

}  // namespace

AvErrors::AvErrors() {
  const std::lock_guard lock(living().mutex);
  living().all.insert(this);
}

AvErrors::~AvErrors() {
  const std::lock_guard lock(living().mutex);
  living().all.erase(this);
}

std::vector<AvErrors::Entry> AvErrors::take() {
  const std::lock_guard lock(mutex_);
  return std::exchange(entries_, {});
}

void AvErrors::add(Entry entry) {
  const std::lock_guard lock(mutex_);
  if (entries_.size() < kMostEntries) entries_.push_back(std::move(entry));
}

void catch_av_log() {
  static const bool once = [] {
    av_log_set_callback(on_message);
    return true;
  }();
  static_cast<void>(once);
}

}  // namespace provenit::programme
