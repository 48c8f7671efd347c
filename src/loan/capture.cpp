// Captured stills: bytes of the bench -> pixels. The reader takes files by name, so they pass through a temporary one.
#include <fmt/format.h>

#include <cstring>

#include "frame_findings.h"
#include "provenit/programme/reader.h"
#include "recordings_internal.h"
#include "temporary_folder.h"

namespace provenit::loan {
namespace {

/// Only code values are used: what they stand for is said so that a file without labels is taken too.
programme::ReaderOptions as_codes() {
  programme::ReaderOptions options{.threads = 1};
  options.interpretation = {.transfer = programme::Transfer::bt1886,
                            .gamut = programme::Gamut::bt709,
                            .matrix = programme::Matrix::rgb,
                            .range = colour::Range::full};
  return options;
}

float sample(const programme::Plane& plane, int bits, int x, int y) {
  const auto* row = plane.data + y * plane.stride;
  if (bits == 8) return static_cast<float>(std::to_integer<int>(row[x]));
  std::uint16_t value = 0;
  std::memcpy(&value, row + 2 * static_cast<std::ptrdiff_t>(x), sizeof value);
  return value;
}

}  // namespace

Result<evaluation::CapturedFrame> capture_of(const std::string& bytes, const std::string& name) {
  const TemporaryFolder folder;
  const auto path = folder.put(bytes, name);
  if (!path) return tl::unexpected(path.error());
  const auto named = [&](Error error) {
    error.where.file = name;
    return tl::unexpected(std::move(error));
  };
  const auto reader = programme::open_reader(*path, as_codes());
  if (!reader) return named(reader.error());
  const auto picture = (*reader)->next();
  if (!picture) return named(picture.error());
  if (!*picture) return named({ErrorCode::invalid_input, "holds no picture", {}, {}});
  const auto& format = (*picture)->format;
  if (format.chroma != programme::Chroma::rgb || format.is_float)
    return named({ErrorCode::unsupported,
                  "is no still of whole R', G', B' values (" + describe(format) + ")",
                  "Capture as PNG or TIFF of 8 or 16 bits in R', G', B': what carries chroma at less resolution cannot "
                  "show what a display does.",
                  {}});
  evaluation::CapturedFrame frame{.width = format.width, .height = format.height};
  frame.rgb.reserve(3 * static_cast<std::size_t>(frame.width) * static_cast<std::size_t>(frame.height));
  for (int y = 0; y < frame.height; ++y)
    for (int x = 0; x < frame.width; ++x)
      for (const auto& plane : (*picture)->planes) frame.rgb.push_back(sample(plane, format.bits, x, y));
  return frame;
}

Result<signal::TestPicture> picture_of(const nlohmann::json& conditions, const signal::Encoding& encoding) {
  const auto& shown = conditions["picture"];
  const auto size = shown["size"].get<std::array<int, 2>>();
  return signal::TestPicture::make({.key = shown["key"].get<std::string>(),
                                    .parameters = shown["parameters"],
                                    .encoding = encoding,
                                    .size = {size[0], size[1]}});
}

Result<void> check_capture(const evaluation::CapturedFrame& frame, const signal::TestPicture& picture,
                           const std::string& recording) {
  if (auto found = frame_findings(recording, frame, picture); !found) return tl::unexpected(found.error());
  return {};
}

}  // namespace provenit::loan
