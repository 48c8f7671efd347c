#include "picture_file.h"

#include <fmt/format.h>

#include <CLI/CLI.hpp>
#include <algorithm>
#include <cmath>
#include <filesystem>
#include <limits>

#include "provenit/base/text.h"
#include "provenit/signal_files/clip.h"
#include "provenit/signal_files/still.h"

namespace provenit::cli {
namespace {

tl::unexpected<Error> not_known(const std::string& text, const char* option, const char* advice) {
  return fail(ErrorCode::invalid_input, "'" + text + "' is not known", advice, {.field = option});
}

Result<signal::FrameRate> rate_of(const std::string& text) {
  const auto parts = split(text, '/');
  const auto numerator = parse_integer(parts[0]), denominator = parts.size() == 2 ? parse_integer(parts[1]) : 1;
  constexpr long long kMost = 1'000'000;
  if (parts.size() > 2 || !numerator || !denominator || *numerator < 1 || *denominator < 1 || *numerator > kMost ||
      *denominator > kMost)
    return not_known(text, "--rate", "Give frames per second, e.g. 24, 50 or 24000/1001.");
  return signal::FrameRate{.numerator = static_cast<int>(*numerator), .denominator = static_cast<int>(*denominator)};
}

Result<signal::ClipFormat> format_of(const std::string& path, const PictureFileChoice& choice) {
  signal::ClipFormat format;
  const bool matroska = std::filesystem::path(path).extension() == ".mkv";
  if (choice.codec == "ffv1" || (choice.codec.empty() && matroska))
    format.codec = signal::ClipCodec::ffv1;
  else if (!choice.codec.empty() && choice.codec != "hevc")
    return not_known(choice.codec, "--codec", "Give hevc or ffv1.");
  if (choice.chroma.empty())
    format.chroma = format.codec == signal::ClipCodec::ffv1 ? signal::ClipChroma::rgb : signal::ClipChroma::c420;
  else if (const auto chroma = signal::clip_chroma_from_name(choice.chroma))
    format.chroma = *chroma;
  else
    return not_known(choice.chroma, "--chroma", "Give 420, 422, 444 or rgb.");
  if (choice.quality == "visual")
    format.crf = signal::visually_lossless_crf;
  else if (choice.quality != "lossless")
    format.crf = parse_double(choice.quality);
  if (!format.crf && choice.quality != "lossless")
    return not_known(choice.quality, "--quality", "Give lossless, visual, or a rate factor of 0 to 51.");
  return format;
}

/// Whether the name ends as that of a clip.
bool is_clip(const std::string& path) {
  const auto ending = std::filesystem::path(path).extension();
  return ending == ".mp4" || ending == ".mov" || ending == ".mkv";
}

/// Ten seconds for a still; two for each of several steps, which would flash at the rate of a film; none for what
/// moves.
int usual_hold(const signal::TestPicture& picture, const signal::FrameRate& rate) {
  const bool moves =
      std::ranges::any_of(picture.info().parameters, [](const auto& p) { return p.name == "pixels_per_frame"; });
  if (moves) return 1;
  const double seconds = picture.frames() == 1 ? 10 : 2;
  return std::max(1, static_cast<int>(std::lround(seconds * rate.numerator / rate.denominator)));
}

Result<std::string> write_clip_file(const signal::TestPicture& picture, const std::string& path,
                                    const PictureFileChoice& choice) {
  const auto rate = rate_of(choice.rate);
  if (!rate) return tl::unexpected(rate.error());
  const auto format = format_of(path, choice);
  if (!format) return tl::unexpected(format.error());
  const int hold = choice.hold > 0 ? choice.hold : usual_hold(picture, *rate);
  const auto written = signal::write_clip(signal::frames_of(picture, *rate, hold), path, *format);
  if (!written) return tl::unexpected(written.error());
  return fmt::format("{} video frames at {} per second, {} {}, {}", std::int64_t{hold} * picture.frames(), choice.rate,
                     format->codec == signal::ClipCodec::hevc ? "HEVC" : "FFV1", name_of(format->chroma),
                     format->crf ? fmt::format("rate factor {}", *format->crf) : "lossless");
}

}  // namespace

void add_picture_file_choice(CLI::App& verb, PictureFileChoice& choice) {
  verb.add_option("--quality", choice.quality, "of an HEVC clip: lossless, visual, or a rate factor of 0 to 51")
      ->capture_default_str();
  verb.add_option("--chroma", choice.chroma, "of a clip: 420, 422, 444 or rgb; else 420 for HEVC, rgb for FFV1");
  verb.add_option("--codec", choice.codec, "of a clip: hevc or ffv1; else ffv1 for .mkv, hevc for .mp4 and .mov");
  verb.add_option("--rate", choice.rate, "of a clip: frames per second, e.g. 24 or 24000/1001")->capture_default_str();
  verb.add_option(
          "--hold", choice.hold,
          "of a clip: video frames for each frame; else 10 s for a still, 2 s for a step, 1 frame for what moves")
      ->check(CLI::Range(1, std::numeric_limits<int>::max()));
}

Result<std::string> write_picture_file(const signal::TestPicture& picture, int frame, const std::string& path,
                                       const PictureFileChoice& choice) {
  if (is_clip(path)) return write_clip_file(picture, path, choice);
  const auto format = signal::still_format_of(path, picture.request().encoding);
  if (!format)
    return fail(ErrorCode::unsupported, "the ending of the file's name is not known",
                "Name it .png, .tif, .dpx, .exr, .mp4, .mov or .mkv.", {.file = path, .field = "--out"});
  const auto written = signal::write_still(signal::frames_of(picture), frame, path, *format);
  if (!written) return tl::unexpected(written.error());
  return fmt::format("frame {}, {}", frame, name_of(*format));
}

}  // namespace provenit::cli
