#pragma once
// Owners of libav's objects, and the text of its errors.
extern "C" {
#include <libavcodec/avcodec.h>
#include <libavformat/avformat.h>
#include <libavutil/frame.h>
}

#include <memory>
#include <string>

namespace provenit::libav {

struct FreeFrame {
  void operator()(AVFrame* frame) const { av_frame_free(&frame); }
};
struct FreePacket {
  void operator()(AVPacket* packet) const { av_packet_free(&packet); }
};
struct FreeCodec {
  void operator()(AVCodecContext* codec) const { avcodec_free_context(&codec); }
};
struct CloseInput {
  void operator()(AVFormatContext* input) const { avformat_close_input(&input); }
};
struct CloseOutput {
  void operator()(AVFormatContext* output) const {
    if (output->pb != nullptr) avio_closep(&output->pb);
    avformat_free_context(output);
  }
};
struct FreeParameters {
  void operator()(AVCodecParameters* parameters) const { avcodec_parameters_free(&parameters); }
};
using FramePtr = std::unique_ptr<AVFrame, FreeFrame>;
using PacketPtr = std::unique_ptr<AVPacket, FreePacket>;
using CodecPtr = std::unique_ptr<AVCodecContext, FreeCodec>;
using InputPtr = std::unique_ptr<AVFormatContext, CloseInput>;
using OutputPtr = std::unique_ptr<AVFormatContext, CloseOutput>;
using ParametersPtr = std::unique_ptr<AVCodecParameters, FreeParameters>;

class Dictionary {
 public:
  Dictionary() = default;
  Dictionary(const Dictionary&) = delete;
  Dictionary& operator=(const Dictionary&) = delete;
  ~Dictionary() { av_dict_free(&entries_); }
  void set(const char* key, const std::string& value) { av_dict_set(&entries_, key, value.c_str(), 0); }
  [[nodiscard]] AVDictionary** address() { return &entries_; }
  /// The first option that nobody took; empty: all were.
  [[nodiscard]] std::string left_over() const {
    const auto* entry = av_dict_get(entries_, "", nullptr, AV_DICT_IGNORE_SUFFIX);
    return entry != nullptr ? entry->key : "";
  }

 private:
  AVDictionary* entries_ = nullptr;
};

[[nodiscard]] inline std::string text_of_av_error(int code) {
  std::string text(AV_ERROR_MAX_STRING_SIZE, '\0');
  av_strerror(code, text.data(), text.size());
  return text.c_str();
}

}  // namespace provenit::libav
