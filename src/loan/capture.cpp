// Captured stills: bytes of the bench -> pixels. The reader takes files by name, so they pass through a temporary one.
#include <fmt/format.h>

#include <cstring>

#include "frame_findings.h"
#include "recordings_internal.h"
#include "still.h"

namespace provenit::loan {
namespace {

float sample(const programme::Plane& plane, int bits, int x, int y) {
  const auto* row = plane.data + y * plane.stride;
  if (bits == 8) return static_cast<float>(std::to_integer<int>(row[x]));
  std::uint16_t value = 0;
  std::memcpy(&value, row + 2 * static_cast<std::ptrdiff_t>(x), sizeof value);
  return value;
}

}  // namespace

Result<evaluation::CapturedFrame> capture_of(const std::string& bytes, const std::string& name) {
  const auto still = Still::open(bytes, name);
  if (!still) return tl::unexpected(still.error());
  const auto& picture = still->picture();
  const auto& format = picture.format;
  if (format.chroma != programme::Chroma::rgb || format.is_float)
    return fail(ErrorCode::unsupported, "is no still of whole R', G', B' values (" + describe(format) + ")",
                "Capture as PNG or TIFF of 8 or 16 bits in R', G', B': what carries chroma at less resolution cannot "
                "show what a display does.",
                {.file = name});
  evaluation::CapturedFrame frame{.width = format.width, .height = format.height};
  frame.rgb.reserve(3 * static_cast<std::size_t>(frame.width) * static_cast<std::size_t>(frame.height));
  for (int y = 0; y < frame.height; ++y)
    for (int x = 0; x < frame.width; ++x)
      for (const auto& plane : picture.planes) frame.rgb.push_back(sample(plane, format.bits, x, y));
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
