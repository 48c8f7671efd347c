#pragma once
// Frames as a video clip: HEVC (HDR10, HLG, SDR) or FFV1, labelled with what the codes stand for. No sound.
// docs/signal-files.md says what each file holds and what players make of it.
#include <array>
#include <functional>
#include <optional>
#include <string>
#include <string_view>

#include "provenit/base/error.h"
#include "provenit/colour/primaries.h"
#include "provenit/colour/ycbcr.h"
#include "provenit/signal_files/frame_source.h"

namespace provenit::signal {

enum class ClipCodec { hevc, ffv1 };
/// c4xx: Y'CbCr; rgb: R'G'B' as it is, the codes of the source unchanged.
enum class ClipChroma { c420, c422, c444, rgb };

[[nodiscard]] const char* name_of(ClipChroma chroma);  ///< "420", "422", "444", "rgb"
[[nodiscard]] std::optional<ClipChroma> clip_chroma_from_name(std::string_view name);

/// SMPTE ST 2086. Written as whole cd/m2 (5 to 10000) and 0.0001 cd/m2 (0.0001 to 5), x and y in steps of 0.00002.
struct MasteringDisplay {
  colour::Primaries<> primaries = colour::bt2020_primaries;
  double maximum_cdm2 = 1000, minimum_cdm2 = 0.0001;
};

/// Mastering display and content light (MaxCLL, MaxFALL).
enum class LightMetadata {
  automatic,  ///< written for PQ only: HLG does not need it, SDR has none
  written,
  left_out
};

/// Within one code of the lossless clip in the inner half of a patch of 32 pixels and more (measured, see
/// docs/signal-files.md).
inline constexpr double visually_lossless_crf = 6;

struct ClipFormat {
  ClipCodec codec = ClipCodec::hevc;
  ClipChroma chroma = ClipChroma::c420;
  /// HEVC: constant rate factor, 0 (largest file) to 51. Not set: lossless, as FFV1 always is.
  std::optional<double> crf;
  LightMetadata light = LightMetadata::automatic;
  /// Not set: the encoding's container and nominal peak, black at 0.0001 cd/m2. It is a statement and no measurement.
  std::optional<MasteringDisplay> mastering;
};

/// Chroma sample location types of ITU-T H.273.
enum class ClipSiting { left = 0, top_left = 2 };

/// Matrix of Y'CbCr: BT.2020 non-constant luminance for BT.2020, BT.709 for the others (P3-D65: common practice, no
/// source).
[[nodiscard]] colour::YcbcrMatrix clip_matrix(const Encoding& encoding);
/// Where the chroma samples of 4:2:0 lie: top left for BT.2020 and BT.2100 (PQ, HLG, or BT.2020 primaries), left for
/// the others. source  ITU-T H.273; BT.2020-2, BT.2100-3 (from memory)
[[nodiscard]] ClipSiting clip_siting(const Encoding& encoding);

/// What a decoder gets inside a patch of one code, away from its edges: Y', Cb, Cr, each rounded once from the exact
/// signals of the R'G'B' codes and held inside the codes that may carry video; with rgb the codes themselves. Exact for
/// lossless clips.
[[nodiscard]] std::array<int, 3> clip_codes(const Encoding& encoding, ClipChroma chroma, const CodeRgb& code);

/// Called after each frame; false stops the writing. done and total count the frames read for the content light, if it
/// is written, and the video frames.
using ClipProgress = std::function<bool(int done, int total)>;

/// Writes the clip, whole or not at all; a file of that name is replaced. The ending names the container: .mp4, .mov,
/// .mkv for HEVC, .mkv for FFV1.
/// chroma  4:2:2 and 4:2:0 are filtered with 1 2 1 over 4 across, about the co-sited sample; 4:2:0 with the same down
///         (top left) or 1 1 over 2 (left), the border repeated; then rounded once. A patch keeps its codes but for two
///         pixels along its edges
/// order   the first of the video frames that show one frame is a key frame where it is held for two or more, and one
///         every two seconds; no frame refers to a later one
/// errors  those of validate and checked_row; unsupported where this machine's encoder cannot, or the container;
/// out_of_
///         range naming the field (odd size with subsampled chroma, crf, mastering); cancelled; io with the path
[[nodiscard]] Result<void> write_clip(const FrameSource& source, const std::string& path, const ClipFormat& format,
                                      const ClipProgress& progress = {});

}  // namespace provenit::signal
