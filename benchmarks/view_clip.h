#pragma once
// The clip that surveys are timed on: a moving view over an HDR photograph with grain, 3840 x 2160 HEVC Main10 of about
// 45 Mb/s, 96 frames. Rendered and encoded once, then kept in build/benchmark-media.
#include <fmt/format.h>

#include <cstdlib>
#include <filesystem>
#include <string>

#include "../tests/support/hdr_clip.h"

namespace provenit::bench {

inline constexpr int kViewFrames = 96;

/// Its path. Ends the program if it cannot be made.
inline std::string view_clip_path() {
  namespace fs = std::filesystem;
  const fs::path folder = fs::path(PROVENIT_SOURCE_DIR) / "build" / "benchmark-media";
  fs::create_directories(folder);
  auto path = (folder / "view-2160.mp4").string();
  if (fs::exists(path)) return path;
  fmt::print(stderr, "Rendering and encoding the clip (a minute or two) ...\n");
  const support::HdrClip clip{.width = 3840,
                              .height = 2160,
                              .frames = kViewFrames,
                              .grain = 0.004,
                              .encoder = "-c:v libx265 -preset fast -b:v 45M",
                              .x265 = "keyint=48"};
  const auto unfinished = path + ".tmp.mp4";
  if (!support::make_hdr_clip(PROVENIT_SOURCE_DIR "/tests/programme/media/venice_sunset_1k.hdr", unfinished, clip))
    std::exit(2);
  fs::rename(unfinished, path);
  return path;
}

}  // namespace provenit::bench
