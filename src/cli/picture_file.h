#pragma once
// What `provenit picture --out` writes: a still or a clip, by the ending of the file's name.
#include <string>

#include "provenit/signal/test_picture.h"

namespace CLI {
class App;
}

namespace provenit::cli {

struct PictureFileChoice {
  std::string quality = "lossless", chroma, codec, rate = "24";
  int hold = 0;  ///< video frames for each frame; 0: ten seconds for a still picture, two for each of several steps,
                 ///< 1 for what moves
};

/// The options --quality, --chroma, --codec, --rate, --hold.
void add_picture_file_choice(CLI::App& verb, PictureFileChoice& choice);

/// .png, .tif, .tiff, .dpx, .exr: one frame; .mp4, .mov, .mkv: every frame, one after another. Gives what was written,
/// for people: "240 video frames, HEVC 420, lossless". Errors: those of write_still and write_clip; invalid_input
/// naming the option.
[[nodiscard]] Result<std::string> write_picture_file(const signal::TestPicture& picture, int frame,
                                                     const std::string& path, const PictureFileChoice& choice);

}  // namespace provenit::cli
