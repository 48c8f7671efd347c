#include "provenit/signal_files/still.h"

#include <fmt/format.h>

#include <algorithm>
#include <filesystem>

#include "oiio_still.h"
#include "provenit/base/text.h"
#include "provenit/signal/png16.h"

namespace provenit::signal {
namespace {

int bits_of(StillFormat format) {
  switch (format) {
    case StillFormat::dpx10:
      return 10;
    case StillFormat::dpx12:
      return 12;
    case StillFormat::png16:
    case StillFormat::tiff16:
    case StillFormat::exr32:
      break;
  }
  return 16;
}

Result<void> write_png(const FrameSource& source, int frame, const std::string& path) {
  std::optional<Error> wrong;
  auto bytes = png16(source.encoding, source.size, [&](int y) {
    auto row = checked_row(source, frame, y);
    if (row) return std::move(*row);
    if (!wrong) wrong = row.error();
    return std::vector<std::uint16_t>{};
  });
  if (wrong) return tl::unexpected(*wrong);
  if (!bytes) return tl::unexpected(bytes.error());
  return write_file(path, *bytes);
}

}  // namespace

const char* name_of(StillFormat format) {
  switch (format) {
    case StillFormat::png16:
      return "png16";
    case StillFormat::tiff16:
      return "tiff16";
    case StillFormat::dpx10:
      return "dpx10";
    case StillFormat::dpx12:
      return "dpx12";
    case StillFormat::exr32:
      break;
  }
  return "exr32";
}

std::optional<StillFormat> still_format_of(std::string_view path, const Encoding& encoding) {
  auto ending = std::filesystem::path(path).extension().string();
  std::ranges::transform(ending, ending.begin(), [](char c) { return c >= 'A' && c <= 'Z' ? char(c - 'A' + 'a') : c; });
  if (ending == ".png") return StillFormat::png16;
  if (ending == ".tif" || ending == ".tiff") return StillFormat::tiff16;
  if (ending == ".dpx") return encoding.bits <= 10 ? StillFormat::dpx10 : StillFormat::dpx12;
  if (ending == ".exr") return StillFormat::exr32;
  return std::nullopt;
}

Result<void> write_still(const FrameSource& source, int frame, const std::string& path, StillFormat format) {
  if (auto ok = validate(source); !ok) return ok;
  if (frame < 0 || frame >= source.frames)
    return fail(ErrorCode::out_of_range, fmt::format("frame {} is not one of the {}", frame, source.frames), {},
                {.frame = frame});
  if (source.encoding.bits > bits_of(format))
    return fail(ErrorCode::out_of_range,
                fmt::format("{} has {} bits per sample, too few for codes of {} bits", name_of(format), bits_of(format),
                            source.encoding.bits),
                "Write PNG or TIFF, or take an encoding of fewer bits.", {.file = path, .field = "bits"});
  auto written = format == StillFormat::png16    ? write_png(source, frame, path)
                 : format == StillFormat::exr32  ? write_exr(source, frame, path)
                 : format == StillFormat::tiff16 ? write_tiff(source, frame, path)
                                                 : write_dpx(source, frame, path, bits_of(format));
  if (!written && written.error().where.file.empty()) written.error().where.file = path;
  return written;
}

}  // namespace provenit::signal
