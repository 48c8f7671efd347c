#pragma once
// A test picture as a file: one frame as a still, or all of them as a clip, by the ending of the file's name.
#include <cstdint>
#include <string>

#include "provenit/base/error.h"
#include "provenit/signal/test_picture.h"
#include "provenit/signal_files/clip.h"

namespace provenit::signal {

/// What a person says of a clip, in words.
struct PictureFileChoice {
  std::string quality = "lossless";  ///< of HEVC: lossless, visual (visually_lossless_crf), or a rate factor, 0 to 51
  std::string chroma;                ///< 420, 422, 444, rgb; empty: 420 for HEVC, rgb for FFV1
  std::string codec;                 ///< hevc, ffv1; empty: ffv1 for .mkv, hevc for .mp4 and .mov
  std::string rate = "24";           ///< video frames per second: "24", "24000/1001"
  int hold = 0;  ///< video frames for each frame; 0: ten seconds for a still picture, two for each of several steps,
                 ///< 1 for what moves
};

/// Whether a file of that name would be a clip: .mp4, .mov, .mkv.
[[nodiscard]] bool is_clip(const std::string& path);

/// How many video frames the clip would have. Errors: invalid_input naming the choice.
[[nodiscard]] Result<std::int64_t> clip_frames(const TestPicture& picture, const std::string& path,
                                               const PictureFileChoice& choice);

/// .png, .tif, .tiff, .dpx, .exr: one frame; .mp4, .mov, .mkv: every frame, one after another. Gives what was written,
/// for people: "240 video frames at 24 per second, HEVC 420, lossless".
/// errors  those of write_still and write_clip; invalid_input naming the choice; unsupported for another ending
[[nodiscard]] Result<std::string> write_picture_file(const TestPicture& picture, int frame, const std::string& path,
                                                     const PictureFileChoice& choice = {},
                                                     const ClipProgress& progress = {});

}  // namespace provenit::signal
