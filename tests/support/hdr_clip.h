#pragma once
// A moving view over a real HDR photograph, as an HDR10 clip: HEVC Main10, PQ, BT.2020, 4:2:0. The view pans, every
// frame has grain of its own, and nothing in the source goes above the clip level.
#include <cstdint>
#include <string>

namespace provenit::support {

struct HdrClip {
  int width = 480, height = 270, frames = 24;
  double clip_cdm2 = 1000;  ///< largest R, G or B of the source
  double grain = 0.004;     ///< standard deviation in PQ signal, independent in R', G' and B', clipped with the source
  std::string encoder = "-c:v libx265 -preset fast";  ///< codec options of the ffmpeg program
  std::string x265 = "keyint=24";                     ///< added to the HDR10 parameters
  std::uint64_t seed = 1;
};

/// Renders `photograph` (Radiance .hdr, linear BT.709, white at 203 cd/m2) and encodes it to `path` by the ffmpeg
/// program. The clip declares P3-D65 mastering 1000 / 0.0001 cd/m2 and MaxCLL, MaxFALL of `declared` ("1000,400").
/// False, with a line on stderr, if reading or encoding fails.
bool make_hdr_clip(const std::string& photograph, const std::string& path, const HdrClip& clip,
                   const std::string& declared = "1000,400");

}  // namespace provenit::support
