#include "reader/stills.h"

#include <OpenImageIO/imageio.h>
#include <fmt/format.h>

#include <array>
#include <cmath>
#include <cstring>
#include <fstream>
#include <new>

#include "provenit/colour/matrix3.h"
#include "reader/isobmff.h"
#include "reader/still_colour.h"

namespace provenit::programme {
namespace {

constexpr std::int64_t kMostPixels = std::int64_t{1} << 28;

const char* oiio_name(StillKind kind) {
  switch (kind) {
    case StillKind::tiff:
      return "tiff";
    case StillKind::png:
      return "png";
    case StillKind::dpx:
      return "dpx";
    case StillKind::openexr:
      return "openexr";
    case StillKind::radiance:
      return "hdr";
    default:
      return "";
  }
}

tl::unexpected<Error> refuse_still(ErrorCode code, const std::string& path, const std::string& what,
                                   const std::string& advice) {
  return fail(code, what, advice, {.file = path});
}

// Channels of the picture: R, G, B (of the first layer that has them), or one of light alone.
struct Channels {
  std::array<int, 3> at{};
  int count = 0;
};

int channel(const OIIO::ImageSpec& spec, const std::string& name) {
  for (std::size_t i = 0; i < spec.channelnames.size(); ++i)
    if (spec.channelnames[i] == name) return static_cast<int>(i);
  return -1;
}

Result<Channels> find_channels(const std::string& path, const OIIO::ImageSpec& spec, std::vector<std::string>& notes) {
  std::vector<std::string> layers{""};
  for (const std::string& name : spec.channelnames)
    if (name.ends_with(".R")) layers.push_back(name.substr(0, name.size() - 1));
  for (const std::string& layer : layers) {
    const Channels c{.at = {channel(spec, layer + "R"), channel(spec, layer + "G"), channel(spec, layer + "B")},
                     .count = 3};
    if (c.at[0] < 0 || c.at[1] < 0 || c.at[2] < 0) continue;
    if (!layer.empty()) notes.push_back("layer " + layer.substr(0, layer.size() - 1) + " is measured");
    if (spec.nchannels > 3) notes.push_back("channels besides R, G and B are not used; colour is taken as stored");
    return c;
  }
  const bool chroma = channel(spec, "RY") >= 0 || channel(spec, "BY") >= 0;
  if ((spec.nchannels == 1 || channel(spec, "Y") >= 0) && !chroma)
    return Channels{.at = {std::max(0, channel(spec, "Y")), 0, 0}, .count = 1};
  return refuse_still(ErrorCode::unsupported, path, "it has neither channels R, G, B nor one of luminance",
                      "Convert it to RGB.");
}

Result<SampleLayout> layout_of(const std::string& path, const OIIO::ImageSpec& spec, int channels) {
  SampleLayout layout;
  layout.width = spec.full_width;
  layout.height = spec.full_height;
  layout.chroma = channels == 3 ? Chroma::rgb : Chroma::grey;
  const auto type = static_cast<OIIO::TypeDesc::BASETYPE>(spec.format.basetype);
  if (type == OIIO::TypeDesc::HALF || type == OIIO::TypeDesc::FLOAT) {
    layout.is_float = true;
    layout.bits = 32;
  } else if (type == OIIO::TypeDesc::UINT8) {
    layout.bits = 8;
  } else if (type == OIIO::TypeDesc::UINT16) {
    layout.bits = spec.get_int_attribute("oiio:BitsPerSample", 16);
  } else {
    return refuse_still(ErrorCode::unsupported, path,
                        fmt::format("samples of type {} are not supported", spec.format.c_str()),
                        "Convert it to 8 to 16 bit whole numbers, half or float.");
  }
  if (layout.width < 1 || layout.height < 1 || spec.width < 1 || spec.height < 1 || spec.depth > 1 ||
      std::int64_t{layout.width} * layout.height > kMostPixels ||
      std::int64_t{spec.width} * spec.height * spec.nchannels > 4 * kMostPixels)
    return refuse_still(ErrorCode::unsupported, path, fmt::format("a picture of {} x {}", layout.width, layout.height),
                        "It may be damaged.");
  return layout;
}

// The samples as stored: all channels of each pixel, data window only.
Result<std::vector<std::byte>> read_samples(const std::string& path, OIIO::ImageInput& in, const OIIO::ImageSpec& spec,
                                            const OIIO::TypeDesc& type) {
  std::vector<std::byte> all(static_cast<std::size_t>(spec.width) * static_cast<std::size_t>(spec.height) *
                             static_cast<std::size_t>(spec.nchannels) * type.size());
  if (!in.read_image(0, 0, 0, spec.nchannels, type, all.data()))
    return refuse_still(ErrorCode::invalid_input, path, "the picture cannot be read: " + in.geterror(),
                        "The file may be damaged or cut off.");
  return all;
}

template <class T>
std::shared_ptr<std::vector<T>> sort_planes(const std::vector<std::byte>& all, const OIIO::ImageSpec& spec,
                                            const Channels& channels, int shift) {
  const auto width = static_cast<std::size_t>(spec.full_width), height = static_cast<std::size_t>(spec.full_height);
  auto planes = std::make_shared<std::vector<T>>(width * height * static_cast<std::size_t>(channels.count));
  // Place of the data window in the display window.
  const std::int64_t dx = std::int64_t{spec.x} - spec.full_x, dy = std::int64_t{spec.y} - spec.full_y;
  for (std::int64_t y = std::max<std::int64_t>(0, -dy); y < spec.height && y + dy < spec.full_height; ++y)
    for (std::int64_t x = std::max<std::int64_t>(0, -dx); x < spec.width && x + dx < spec.full_width; ++x)
      for (int c = 0; c < channels.count; ++c) {
        const std::size_t from =
            (static_cast<std::size_t>(y) * static_cast<std::size_t>(spec.width) + static_cast<std::size_t>(x)) *
                static_cast<std::size_t>(spec.nchannels) +
            static_cast<std::size_t>(channels.at[static_cast<std::size_t>(c)]);
        T value{};
        std::memcpy(&value, all.data() + from * sizeof(T), sizeof(T));
        if constexpr (std::is_integral_v<T>) value = static_cast<T>(value >> shift);
        (*planes)[(static_cast<std::size_t>(c) * height + static_cast<std::size_t>(y + dy)) * width +
                  static_cast<std::size_t>(x + dx)] = value;
      }
  return planes;
}

void to_gamut(std::vector<float>& planes, const colour::Matrix3<>& m) {
  const std::size_t n = planes.size() / 3;
  for (std::size_t i = 0; i < n; ++i) {
    const auto v = m * colour::Vector3<>{planes[i], planes[n + i], planes[2 * n + i]};
    for (std::size_t c = 0; c < 3; ++c) planes[c * n + i] = static_cast<float>(v[c]);
  }
}

void count_odd_pixels(const std::vector<float>& planes, int channels, std::vector<std::string>& remarks) {
  const std::size_t n = planes.size() / static_cast<std::size_t>(channels);
  std::size_t odd = 0, negative = 0;
  for (std::size_t i = 0; i < n; ++i) {
    bool is_odd = false, is_negative = false;
    for (std::size_t c = 0; c < static_cast<std::size_t>(channels); ++c) {
      const float v = planes[c * n + i];
      is_odd = is_odd || !std::isfinite(v);
      is_negative = is_negative || v < 0;
    }
    odd += is_odd ? 1 : 0;
    negative += is_negative ? 1 : 0;
  }
  if (odd > 0) remarks.push_back(fmt::format("{} pixels have a sample that is NaN or infinite", odd));
  if (negative > 0) remarks.push_back(fmt::format("{} pixels have a negative sample", negative));
}

template <class T>
void set_planes(const std::shared_ptr<std::vector<T>>& store, int channels, Picture& picture) {
  const auto width = static_cast<std::size_t>(picture.format.width);
  const std::size_t n = width * static_cast<std::size_t>(picture.format.height);
  for (std::size_t c = 0; c < static_cast<std::size_t>(channels); ++c)
    picture.planes[c] = {.data = reinterpret_cast<const std::byte*>(store->data() + c * n),
                         .stride = static_cast<std::ptrdiff_t>(width * sizeof(T)),
                         .width = picture.format.width,
                         .height = picture.format.height};
  picture.owner = store;
}

void note_parts(OIIO::ImageInput& in, const OIIO::ImageSpec& spec, SourceInfo& info) {
  if (in.seek_subimage(1, 0)) info.notes.push_back("it holds several parts: the first is measured");
  static_cast<void>(in.seek_subimage(0, 0));
  static_cast<void>(in.geterror());
  if (spec.x != spec.full_x || spec.y != spec.full_y || spec.width != spec.full_width ||
      spec.height != spec.full_height)
    info.notes.push_back(
        "data and display window differ: the display window is measured, black where there is no data");
}

Result<Still> read_with(const std::string& path, StillKind kind, const ReaderOptions& options) {
  const auto facts = examine_still(path, kind);
  if (!facts) return tl::unexpected(facts.error());
  auto in = OIIO::ImageInput::create(oiio_name(kind));
  if (!in)
    return refuse_still(ErrorCode::unsupported, path, std::string("no reader for ") + oiio_name(kind), "Convert it.");
  OIIO::ImageSpec config, spec;
  config.attribute("oiio:UnassociatedAlpha", 1);  // or colour comes multiplied by alpha
  config.attribute("oiio:RawColor", 1);
  if (!in->open(path, spec, config))
    return refuse_still(ErrorCode::invalid_input, path, "cannot be opened as a still picture: " + in->geterror(),
                        "The file may be damaged or cut off.");
  Still still;
  SourceInfo& info = still.info;
  info.path = path;
  info.container = info.codec = oiio_name(kind);
  info.frames = 1;
  const auto channels = find_channels(path, spec, info.notes);
  if (!channels) return tl::unexpected(channels.error());
  auto layout = layout_of(path, spec, channels->count);
  if (!layout) return tl::unexpected(layout.error());
  const auto colour = still_colour(path, kind, *facts, spec, options.interpretation, info);
  if (!colour) return tl::unexpected(colour.error());
  if (colour->always_full) {
    layout->silent_range = colour::Range::full;
    layout->silent_range_reason = colour->full_reason;
  }
  const auto format = settle_format(path, *layout, colour->said, options.interpretation, info.notes);
  if (!format) return tl::unexpected(format.error());
  info.format = still.picture.format = *format;
  note_parts(*in, spec, info);

  const OIIO::TypeDesc type = layout->is_float    ? OIIO::TypeFloat
                              : layout->bits == 8 ? OIIO::TypeUInt8
                                                  : OIIO::TypeUInt16;
  const auto all = read_samples(path, *in, spec, type);
  if (!all) return tl::unexpected(all.error());
  if (layout->is_float) {
    const auto planes = sort_planes<float>(*all, spec, *channels, 0);
    count_odd_pixels(*planes, channels->count, still.remarks);
    if (colour->to_gamut && channels->count == 3) to_gamut(*planes, *colour->to_gamut);
    set_planes(planes, channels->count, still.picture);
  } else if (layout->bits == 8) {
    set_planes(sort_planes<std::uint8_t>(*all, spec, *channels, 0), channels->count, still.picture);
  } else {  // OpenImageIO widens 10 and 12 bits to 16; the code is in the upper ones
    set_planes(sort_planes<std::uint16_t>(*all, spec, *channels, 16 - layout->bits), channels->count, still.picture);
  }
  return still;
}

}  // namespace

StillKind still_kind_of(const std::string& path) {
  std::array<char, 64> head{};
  std::ifstream file(path, std::ios::binary);
  file.read(head.data(), head.size());
  const std::string start(head.data(), static_cast<std::size_t>(std::max<std::streamsize>(0, file.gcount())));
  const auto begins = [&start](std::string_view magic) { return start.starts_with(magic); };
  using namespace std::string_view_literals;
  if (begins("II*\0"sv) || begins("MM\0*"sv) || begins("II+\0"sv) || begins("MM\0+"sv)) return StillKind::tiff;
  if (begins("\x89PNG\r\n"sv)) return StillKind::png;
  if (begins("SDPX"sv) || begins("XPDS"sv)) return StillKind::dpx;
  if (begins("\x76\x2f\x31\x01"sv)) return StillKind::openexr;
  if (begins("#?RADIANCE"sv) || begins("#?RGBE"sv)) return StillKind::radiance;
  if (is_avif_still(bytes_of(start))) return StillKind::avif;
  return StillKind::none;
}

Result<Still> read_still(const std::string& path, StillKind kind, const ReaderOptions& options) {
  if (kind == StillKind::avif) return read_avif(path, options);
  try {
    return read_with(path, kind, options);
  } catch (const std::exception& error) {  // OpenEXR and others throw through OpenImageIO on broken files
    return refuse_still(ErrorCode::invalid_input, path, std::string("the picture cannot be read: ") + error.what(),
                        "The file may be damaged or cut off.");
  }
}

}  // namespace provenit::programme
