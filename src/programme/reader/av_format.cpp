#include "reader/av_format.h"

extern "C" {
#include <libavutil/pixdesc.h>
}

#include <fmt/format.h>

#include <bit>
#include <cstring>
#include <vector>

namespace provenit::programme {
namespace {

constexpr bool kBigEndian = std::endian::native == std::endian::big;

const AVPixFmtDescriptor* descriptor_of(const AVFrame& frame) {
  return av_pix_fmt_desc_get(static_cast<AVPixelFormat>(frame.format));
}

int components(const AVPixFmtDescriptor& d) {
  return d.nb_components >= 3 ? 3 : 1;
}

bool has(const AVPixFmtDescriptor& d, std::uint64_t flag) {
  return (d.flags & flag) != 0;
}

std::optional<Chroma> chroma_of(const AVPixFmtDescriptor& d) {
  if (components(d) == 1) return Chroma::grey;
  if (has(d, AV_PIX_FMT_FLAG_RGB)) return Chroma::rgb;
  if (d.log2_chroma_w == 1 && d.log2_chroma_h == 1) return Chroma::c420;
  if (d.log2_chroma_w == 1 && d.log2_chroma_h == 0) return Chroma::c422;
  if (d.log2_chroma_w == 0 && d.log2_chroma_h == 0) return Chroma::c444;
  return std::nullopt;
}

bool same_depth(const AVPixFmtDescriptor& d) {
  for (int c = 1; c < components(d); ++c)
    if (d.comp[c].depth != d.comp[0].depth) return false;
  return true;
}

int sample_bytes(const AVPixFmtDescriptor& d) {
  const int depth = d.comp[0].depth;
  return depth <= 8 ? 1 : depth <= 16 ? 2 : 4;
}

// Every component alone in its plane, native byte order, value in the low bits.
bool is_planar(const AVPixFmtDescriptor& d) {
  const int bytes = sample_bytes(d);
  if (has(d, AV_PIX_FMT_FLAG_BITSTREAM)) return false;
  if (bytes > 1 && has(d, AV_PIX_FMT_FLAG_BE) != kBigEndian) return false;
  for (int c = 0; c < components(d); ++c) {
    const AVComponentDescriptor& comp = d.comp[c];
    if (comp.step != bytes || comp.offset != 0 || comp.shift != 0) return false;
  }
  return true;
}

Plane plane_size(const AVPixFmtDescriptor& d, const AVFrame& frame, int component) {
  const bool chroma = component > 0 && !has(d, AV_PIX_FMT_FLAG_RGB);
  return {.data = nullptr,
          .stride = 0,
          .width = chroma ? AV_CEIL_RSHIFT(frame.width, d.log2_chroma_w) : frame.width,
          .height = chroma ? AV_CEIL_RSHIFT(frame.height, d.log2_chroma_h) : frame.height};
}

// Samples of two bytes in native order, at a fixed distance: P010, P016, rgb48 and their kin.
void gather16(const std::uint8_t* row, const AVComponentDescriptor& comp, int width, std::uint16_t* out) {
  row += comp.offset;
  for (int x = 0; x < width; ++x, row += comp.step) {
    std::uint16_t value = 0;
    std::memcpy(&value, row, sizeof value);
    out[x] = static_cast<std::uint16_t>((value >> comp.shift) & ((1 << comp.depth) - 1));
  }
}

void gather8(const std::uint8_t* row, const AVComponentDescriptor& comp, int width, std::uint8_t* out) {
  row += comp.offset;
  for (int x = 0; x < width; ++x, row += comp.step) out[x] = *row;
}

class Gatherer {
 public:
  Gatherer(const AVFrame& frame, const AVPixFmtDescriptor& d) : frame_(frame), d_(d) {
    const bool native = !has(d, AV_PIX_FMT_FLAG_BE) || kBigEndian;
    whole16_ = native && !has(d, AV_PIX_FMT_FLAG_BITSTREAM);
    for (int c = 0; c < components(d); ++c) {
      const AVComponentDescriptor& comp = d.comp[c];
      whole16_ = whole16_ && comp.depth > 8 && comp.depth + comp.shift <= 16;
      whole8_ = whole8_ && comp.depth == 8 && comp.shift == 0 && !has(d, AV_PIX_FMT_FLAG_BITSTREAM);
    }
  }

  void row(int component, int y, int width, std::byte* out) const {
    const AVComponentDescriptor& comp = d_.comp[component];
    const std::uint8_t* const line = frame_.data[comp.plane] + std::ptrdiff_t{y} * frame_.linesize[comp.plane];
    if (whole8_) return gather8(line, comp, width, reinterpret_cast<std::uint8_t*>(out));
    if (whole16_) return gather16(line, comp, width, reinterpret_cast<std::uint16_t*>(out));
    std::vector<std::uint16_t> any(static_cast<std::size_t>(width));
    av_read_image_line(any.data(), const_cast<const std::uint8_t**>(frame_.data), frame_.linesize, &d_, 0, y, component,
                       width, 0);
    if (sample_bytes(d_) == 2) {
      std::memcpy(out, any.data(), any.size() * 2);
    } else {
      for (std::size_t x = 0; x < any.size(); ++x) out[x] = static_cast<std::byte>(any[x]);
    }
  }

 private:
  const AVFrame& frame_;
  const AVPixFmtDescriptor& d_;
  bool whole16_ = false, whole8_ = true;
};

void gather_planes(const AVFrame& frame, const AVPixFmtDescriptor& d, Picture& picture) {
  const auto bytes = static_cast<std::size_t>(sample_bytes(d));
  std::array<std::size_t, 3> start{};
  std::size_t total = 0;
  for (int c = 0; c < components(d); ++c) {
    Plane& plane = picture.planes[static_cast<std::size_t>(c)];
    plane = plane_size(d, frame, c);
    plane.stride = static_cast<std::ptrdiff_t>((static_cast<std::size_t>(plane.width) * bytes + 63) / 64 * 64);
    start[static_cast<std::size_t>(c)] = total;
    total += static_cast<std::size_t>(plane.stride) * static_cast<std::size_t>(plane.height);
  }
  const auto store = std::make_shared<std::vector<std::byte>>(total);
  const Gatherer gatherer(frame, d);
  for (int c = 0; c < components(d); ++c) {
    Plane& plane = picture.planes[static_cast<std::size_t>(c)];
    std::byte* const first = store->data() + start[static_cast<std::size_t>(c)];
    plane.data = first;
    for (int y = 0; y < plane.height; ++y) gatherer.row(c, y, plane.width, first + y * plane.stride);
  }
  picture.owner = store;
}

}  // namespace

Result<SampleLayout> layout_of(const std::string& path, const AVFrame& frame) {
  const AVPixFmtDescriptor* const d = descriptor_of(frame);
  const char* const name = d != nullptr ? d->name : "unknown";
  const auto refuse = [&](const char* why) {
    return fail(ErrorCode::unsupported, fmt::format("pixel format {} is not supported: {}", name, why),
                "Convert it to planar Y'CbCr or R'G'B' of 8 to 16 bits.", {.file = path});
  };
  if (d == nullptr) return refuse("libav does not describe it");
  if (has(*d, AV_PIX_FMT_FLAG_HWACCEL)) return refuse("it lives in a graphics card");
  if (has(*d, AV_PIX_FMT_FLAG_PAL) || has(*d, AV_PIX_FMT_FLAG_BAYER))
    return refuse("its numbers are no colour components");
  if (std::string_view(name).starts_with("xyz")) return refuse("X'Y'Z' samples");
  const std::optional<Chroma> chroma = chroma_of(*d);
  if (!chroma) return refuse("its chroma subsampling is neither 4:2:0, 4:2:2 nor 4:4:4");
  if (!same_depth(*d)) return refuse("its components differ in depth");
  const int depth = d->comp[0].depth;
  const bool is_float = has(*d, AV_PIX_FMT_FLAG_FLOAT);
  if (is_float ? (depth != 32 || !is_planar(*d)) : (depth < 8 || depth > 16)) return refuse("its depth");
  return SampleLayout{.width = frame.width,
                      .height = frame.height,
                      .bits = is_float ? 32 : depth,
                      .is_float = is_float,
                      .chroma = *chroma,
                      .silent_siting = {},
                      .silent_siting_reason = {},
                      .silent_range = {},
                      .silent_range_reason = {}};
}

Picture picture_of(FramePtr frame, const PictureFormat& format) {
  const AVPixFmtDescriptor& d = *descriptor_of(*frame);
  Picture picture;
  picture.format = format;
  if (!is_planar(d)) {
    gather_planes(*frame, d, picture);
    return picture;
  }
  for (int c = 0; c < components(d); ++c) {
    Plane& plane = picture.planes[static_cast<std::size_t>(c)];
    plane = plane_size(d, *frame, c);
    plane.data = reinterpret_cast<const std::byte*>(frame->data[d.comp[c].plane]);
    plane.stride = frame->linesize[d.comp[c].plane];
  }
  picture.owner = std::shared_ptr<const AVFrame>(frame.release(), libav::FreeFrame{});
  return picture;
}

}  // namespace provenit::programme
