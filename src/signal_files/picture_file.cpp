#include "provenit/signal_files/picture_file.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <filesystem>

#include "provenit/base/text.h"
#include "provenit/signal_files/still.h"

namespace provenit::signal {
namespace {

tl::unexpected<Error> not_known(const std::string& text, const char* choice, const char* advice) {
  return fail(ErrorCode::invalid_input, "'" + text + "' is not known", advice, {.field = choice});
}

Result<FrameRate> rate_of(const std::string& text) {
  const auto parts = split(text, '/');
  const auto numerator = parse_integer(parts[0]), denominator = parts.size() == 2 ? parse_integer(parts[1]) : 1;
  constexpr long long kMost = 1'000'000;
  if (parts.size() > 2 || !numerator || !denominator || *numerator < 1 || *denominator < 1 || *numerator > kMost ||
      *denominator > kMost)
    return not_known(text, "rate", "Give frames per second, e.g. 24, 50 or 24000/1001.");
  return FrameRate{.numerator = static_cast<int>(*numerator), .denominator = static_cast<int>(*denominator)};
}

Result<ClipFormat> format_of(const std::string& path, const PictureFileChoice& choice) {
  ClipFormat format;
  const bool matroska = std::filesystem::path(path).extension() == ".mkv";
  if (choice.codec == "ffv1" || (choice.codec.empty() && matroska))
    format.codec = ClipCodec::ffv1;
  else if (!choice.codec.empty() && choice.codec != "hevc")
    return not_known(choice.codec, "codec", "Give hevc or ffv1.");
  if (choice.chroma.empty())
    format.chroma = format.codec == ClipCodec::ffv1 ? ClipChroma::rgb : ClipChroma::c420;
  else if (const auto chroma = clip_chroma_from_name(choice.chroma))
    format.chroma = *chroma;
  else
    return not_known(choice.chroma, "chroma", "Give 420, 422, 444 or rgb.");
  if (choice.quality == "visual")
    format.crf = visually_lossless_crf;
  else if (choice.quality != "lossless")
    format.crf = parse_double(choice.quality);
  if (!format.crf && choice.quality != "lossless")
    return not_known(choice.quality, "quality", "Give lossless, visual, or a rate factor of 0 to 51.");
  return format;
}

/// Ten seconds for a still; two for each of several steps, which would flash at the rate of a film; none for what
/// moves.
int usual_hold(const TestPicture& picture, const FrameRate& rate) {
  const bool moves =
      std::ranges::any_of(picture.info().parameters, [](const auto& p) { return p.name == "pixels_per_frame"; });
  if (moves) return 1;
  const double seconds = picture.frames() == 1 ? 10 : 2;
  return std::max(1, static_cast<int>(std::lround(seconds * rate.numerator / rate.denominator)));
}

struct Clip {
  ClipFormat format;
  FrameRate rate;
  int hold = 1;
};
Result<Clip> clip_of(const TestPicture& picture, const std::string& path, const PictureFileChoice& choice) {
  const auto rate = rate_of(choice.rate);
  if (!rate) return tl::unexpected(rate.error());
  const auto format = format_of(path, choice);
  if (!format) return tl::unexpected(format.error());
  return Clip{.format = *format, .rate = *rate, .hold = choice.hold > 0 ? choice.hold : usual_hold(picture, *rate)};
}

Result<std::string> write_clip_file(const TestPicture& picture, const std::string& path,
                                    const PictureFileChoice& choice, const ClipProgress& progress) {
  const auto clip = clip_of(picture, path, choice);
  if (!clip) return tl::unexpected(clip.error());
  const auto& [format, rate, hold] = *clip;
  const auto written = write_clip(frames_of(picture, rate, hold), path, format, progress);
  if (!written) return tl::unexpected(written.error());
  return fmt::format("{} video frames at {} per second, {} {}, {}", std::int64_t{hold} * picture.frames(), choice.rate,
                     format.codec == ClipCodec::hevc ? "HEVC" : "FFV1", name_of(format.chroma),
                     format.crf ? fmt::format("rate factor {}", *format.crf) : "lossless");
}

}  // namespace

bool is_clip(const std::string& path) {
  const auto ending = std::filesystem::path(path).extension();
  return ending == ".mp4" || ending == ".mov" || ending == ".mkv";
}

Result<std::int64_t> clip_frames(const TestPicture& picture, const std::string& path, const PictureFileChoice& choice) {
  const auto clip = clip_of(picture, path, choice);
  if (!clip) return tl::unexpected(clip.error());
  return std::int64_t{clip->hold} * picture.frames();
}

Result<std::string> write_picture_file(const TestPicture& picture, int frame, const std::string& path,
                                       const PictureFileChoice& choice, const ClipProgress& progress) {
  if (is_clip(path)) return write_clip_file(picture, path, choice, progress);
  const auto format = still_format_of(path, picture.request().encoding);
  if (!format)
    return fail(ErrorCode::unsupported, "the ending of the file's name is not known",
                "Name it .png, .tif, .dpx, .exr, .mp4, .mov or .mkv.", {.file = path, .field = "file"});
  const auto written = write_still(frames_of(picture), frame, path, *format);
  if (!written) return tl::unexpected(written.error());
  return fmt::format("frame {}, {}", frame, name_of(*format));
}

}  // namespace provenit::signal
