#include "provenit/signal_files/frame_source.h"

#include <fmt/format.h>

#include <algorithm>
#include <limits>

#include "light.h"

namespace provenit::signal {
namespace {

constexpr int kLargestSide = 32768;

/// Sum and largest of max(R, G, B) over a row.
struct RowLight {
  double sum = 0, largest = 0;
};

RowLight light_of(const std::vector<std::uint16_t>& row, const ReferenceLight& light) {
  RowLight out;
  double pixel = 0;
  for (std::size_t i = 0; i < row.size(); i += 3) {
    // Runs of one code are common.
    if (i == 0 || !std::equal(&row[i], &row[i] + 3, &row[i - 3])) {
      const auto rgb = light.of(row[i], row[i + 1], row[i + 2]);
      pixel = std::max({rgb.r, rgb.g, rgb.b});
    }
    out.sum += pixel;
    out.largest = std::max(out.largest, pixel);
  }
  return out;
}

}  // namespace

FrameSource frames_of(const Raster& raster, FrameRate rate, int hold) {
  return {.encoding = raster.signal().encoding,
          .size = raster.size(),
          .rate = rate,
          .row = [raster](int, int y) { return raster.row(y); },
          .hold = [hold](int) { return hold; }};
}

FrameSource frames_of(const TestPicture& picture, FrameRate rate, int hold) {
  return {.encoding = picture.request().encoding,
          .size = picture.request().size,
          .frames = picture.frames(),
          .rate = rate,
          .row = [&picture](int frame, int y) { return picture.row(frame, y); },
          .hold = [hold](int) { return hold; }};
}

int picture_of(const FrameSource& source, int frame) {
  return source.same_as ? source.same_as(frame) : frame;
}

Result<void> validate(const FrameSource& source) {
  if (auto ok = validate(source.encoding); !ok) return ok;
  const auto& size = source.size;
  if (size.width < 1 || size.height < 1 || size.width > kLargestSide || size.height > kLargestSide)
    return fail(ErrorCode::out_of_range,
                fmt::format("a raster of {} x {} pixels cannot be written", size.width, size.height),
                fmt::format("Give 1 to {} pixels each way.", kLargestSide), {.field = "raster"});
  if (source.frames < 1 || !source.row)
    return fail(ErrorCode::out_of_range, "there is no frame to write", {}, {.field = "frames"});
  if (source.rate.numerator < 1 || source.rate.denominator < 1)
    return fail(
        ErrorCode::out_of_range,
        fmt::format("a rate of {}/{} frames per second cannot be", source.rate.numerator, source.rate.denominator),
        "Give whole numbers above 0, such as 24/1 or 24000/1001.", {.field = "rate"});
  std::int64_t shown = 0;
  for (int frame = 0; frame < source.frames; ++frame) {
    const int hold = source.hold ? source.hold(frame) : 1;
    shown += hold;
    if (hold < 1 || shown > std::numeric_limits<int>::max() / 2)
      return fail(ErrorCode::out_of_range, fmt::format("a frame cannot be held for {} video frames", hold),
                  "Give 1 or more.", {.frame = frame, .field = "hold"});
    if (const int first = picture_of(source, frame); first < 0 || first > frame || picture_of(source, first) != first)
      return fail(ErrorCode::out_of_range, fmt::format("a frame cannot show the picture of frame {}", first),
                  "Name the first frame that shows it.", {.frame = frame, .field = "same_as"});
  }
  return {};
}

Result<std::vector<std::uint16_t>> checked_row(const FrameSource& source, int frame, int y) {
  auto row = source.row(frame, y);
  if (row.size() != 3 * static_cast<std::size_t>(source.size.width))
    return fail(ErrorCode::invalid_input,
                fmt::format("row {} has {} code values, not the {} of {} pixels", y, row.size(), 3 * source.size.width,
                            source.size.width),
                {}, {.frame = frame});
  if (const int largest = *std::ranges::max_element(row); largest >= 1 << source.encoding.bits)
    return fail(ErrorCode::invalid_input,
                fmt::format("row {} has the code {}, above the {} of {} bits", y, largest,
                            (1 << source.encoding.bits) - 1, source.encoding.bits),
                {}, {.frame = frame});
  return row;
}

Result<colour::ContentLightLevel> content_light(const FrameSource& source, const std::function<bool(int)>& frame_read) {
  if (const auto ok = validate(source); !ok) return tl::unexpected(ok.error());
  const ReferenceLight light(source.encoding);
  colour::ContentLightLevel level;
  std::vector<std::uint16_t> above;
  RowLight of_row;
  for (int frame = 0; frame < source.frames; ++frame) {
    if (frame_read && !frame_read(frame + 1))
      return fail(ErrorCode::cancelled, "stopped while the light of the frames was added up");
    if (picture_of(source, frame) != frame) continue;
    double sum = 0;
    for (int y = 0; y < source.size.height; ++y) {
      auto row = checked_row(source, frame, y);
      if (!row) return tl::unexpected(row.error());
      if (*row != above) of_row = light_of(*row, light);
      above = std::move(*row);
      sum += of_row.sum;
      level.maxcll_cdm2 = std::max(level.maxcll_cdm2, of_row.largest);
    }
    level.maxfall_cdm2 = std::max(level.maxfall_cdm2, sum / (1.0 * source.size.width * source.size.height));
  }
  return level;
}

}  // namespace provenit::signal
