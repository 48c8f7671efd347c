#include "provenit/signal_files/clip.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <filesystem>

#include "av_clip.h"
#include "clip_planes.h"
#include "part_file.h"
#include "provenit/signal/encoding.h"

namespace provenit::signal {
namespace {

Result<std::string> container_of(const std::string& path, ClipCodec codec) {
  auto ending = std::filesystem::path(path).extension().string();
  std::ranges::transform(ending, ending.begin(), [](char c) { return c >= 'A' && c <= 'Z' ? char(c - 'A' + 'a') : c; });
  if (ending == ".mkv") return "matroska";
  if (codec == ClipCodec::ffv1)
    return fail(ErrorCode::unsupported, "FFV1 is written to .mkv only", "Name the file .mkv.", {.file = path});
  if (ending == ".mp4") return "mp4";
  if (ending == ".mov") return "mov";
  return fail(ErrorCode::unsupported, fmt::format("'{}' is no ending of a clip", ending),
              "Name the file .mp4, .mov or .mkv.", {.file = path});
}

Result<void> check(const FrameSource& source, const ClipFormat& format) {
  if (auto ok = validate(source); !ok) return ok;
  const auto [width, height] = source.size;
  const bool across = format.chroma == ClipChroma::c420 || format.chroma == ClipChroma::c422;
  if ((across && width % 2 != 0) || (format.chroma == ClipChroma::c420 && height % 2 != 0))
    return fail(ErrorCode::out_of_range,
                fmt::format("{} x {} pixels cannot have chroma of {}", width, height, name_of(format.chroma)),
                "Give an even size, or chroma 444 or rgb.", {.field = "raster"});
  if (format.crf && !(*format.crf >= 0 && *format.crf <= 51))
    return fail(ErrorCode::out_of_range, fmt::format("a rate factor of {} cannot be", *format.crf), "Give 0 to 51.",
                {.field = "crf"});
  if (format.crf && format.codec == ClipCodec::ffv1)
    return fail(ErrorCode::out_of_range, "FFV1 is lossless and has no rate factor", "Leave it out, or write HEVC.",
                {.field = "crf"});
  return check_encoder(source.encoding, format);
}

Result<void> check(const MasteringDisplay& m) {
  // The bounds are those of the fields: ST 2086:2018, Rec. ITU-T H.265 (SEI of payload type 137).
  if (!(std::round(m.maximum_cdm2) >= 5 && std::round(m.maximum_cdm2) <= 10000) ||
      !(m.minimum_cdm2 >= 0.0001 && m.minimum_cdm2 <= 5))
    return fail(ErrorCode::out_of_range,
                fmt::format("a mastering display of {} to {} cd/m2 cannot be written", m.minimum_cdm2, m.maximum_cdm2),
                "Give a black of 0.0001 to 5 cd/m2 and a peak of 5 to 10000 cd/m2, or leave the metadata out.",
                {.field = "mastering"});
  const auto& p = m.primaries;
  for (const auto& c : {p.red, p.green, p.blue, p.white})
    if (!(c.x >= 0.0001 && c.x <= 0.74 && c.y >= 0.0001 && c.y <= 0.84))
      return fail(ErrorCode::out_of_range,
                  fmt::format("a mastering display with x {}, y {} cannot be written", c.x, c.y),
                  "Give x up to 0.74 and y up to 0.84.", {.field = "mastering"});
  return {};
}

bool light_is_written(const Encoding& encoding, LightMetadata choice) {
  if (choice == LightMetadata::automatic) return encoding.transfer == Transfer::pq;
  return choice == LightMetadata::written;
}

/// Counts the frames for whoever watches.
class Counter {
 public:
  Counter(const ClipProgress& progress, int total) : progress_(progress), total_(total) {}
  /// False: stop.
  [[nodiscard]] bool one_more() {
    ++done_;
    return !progress_ || progress_(done_, total_);
  }

 private:
  const ClipProgress& progress_;
  int done_ = 0, total_;
};

int hold_of(const FrameSource& source, int frame) {
  return source.hold ? source.hold(frame) : 1;
}

Result<std::optional<ClipLight>> light_of(const FrameSource& source, const ClipFormat& format, Counter& counter) {
  if (!light_is_written(source.encoding, format.light)) return std::nullopt;
  const auto mastering = format.mastering.value_or(MasteringDisplay{
      .primaries = primaries_of(source.encoding.container), .maximum_cdm2 = source.encoding.nominal_peak_cdm2});
  if (const auto ok = check(mastering); !ok) return tl::unexpected(ok.error());
  const auto level = content_light(source, [&](int) { return counter.one_more(); });
  if (!level) return tl::unexpected(level.error());
  return ClipLight{
      .mastering = mastering, .maxcll_cdm2 = level->maxcll_field(), .maxfall_cdm2 = level->maxfall_field()};
}

Result<void> add_frames(const FrameSource& source, ClipChroma chroma, AvClip& clip, Counter& counter) {
  PlaneMaker maker(source, chroma);
  for (int frame = 0; frame < source.frames; ++frame) {
    const int picture = picture_of(source, frame);
    if (clip.knows(picture)) {
      clip.show(picture);
    } else {
      if (auto ok = maker.make(frame); !ok) return ok;
      if (auto ok = clip.show(picture, maker.planes()); !ok) return ok;
    }
    const int hold = hold_of(source, frame);
    for (int i = 0; i < hold; ++i) {
      if (auto ok = clip.add_frame(i == 0 && hold > 1); !ok) return ok;
      if (!counter.one_more()) return fail(ErrorCode::cancelled, "stopped while the clip was written");
    }
  }
  return {};
}

Result<void> write(const FrameSource& source, const std::string& path, const ClipFormat& format,
                   const ClipProgress& progress) {
  const auto container = container_of(path, format.codec);
  if (!container) return tl::unexpected(container.error());
  if (auto ok = check(source, format); !ok) return ok;
  int total = light_is_written(source.encoding, format.light) ? source.frames : 0;
  for (int frame = 0; frame < source.frames; ++frame) total += hold_of(source, frame);
  Counter counter(progress, total);
  PartFile file(path);
  if (auto ok = file.try_out(); !ok) return ok;
  const auto light = light_of(source, format, counter);
  if (!light) return tl::unexpected(light.error());
  {
    auto clip = AvClip::open(source, format, *light, *container, file);
    if (!clip) return tl::unexpected(clip.error());
    if (auto ok = add_frames(source, format.chroma, *clip, counter); !ok) return ok;
    if (auto ok = clip->finish(); !ok) return ok;
  }
  return file.keep();
}

}  // namespace

const char* name_of(ClipChroma chroma) {
  switch (chroma) {
    case ClipChroma::c420:
      return "420";
    case ClipChroma::c422:
      return "422";
    case ClipChroma::c444:
      return "444";
    case ClipChroma::rgb:
      break;
  }
  return "rgb";
}

std::optional<ClipChroma> clip_chroma_from_name(std::string_view name) {
  for (const auto chroma : {ClipChroma::c420, ClipChroma::c422, ClipChroma::c444, ClipChroma::rgb})
    if (name == name_of(chroma)) return chroma;
  return std::nullopt;
}

Result<void> write_clip(const FrameSource& source, const std::string& path, const ClipFormat& format,
                        const ClipProgress& progress) {
  auto written = write(source, path, format, progress);
  if (!written && written.error().where.file.empty()) written.error().where.file = path;
  return written;
}

}  // namespace provenit::signal
