#pragma once
// What is written to files: frames of code values, made row by row when asked for.
#include <cstdint>
#include <functional>
#include <vector>

#include "provenit/base/error.h"
#include "provenit/colour/light_level.h"
#include "provenit/signal/raster.h"
#include "provenit/signal/signal.h"
#include "provenit/signal/test_picture.h"

namespace provenit::signal {

/// Video frames per second, exactly: 24 is 24 / 1, 23.976 is 24000 / 1001.
struct FrameRate {
  int numerator = 24, denominator = 1;
  friend bool operator==(const FrameRate&, const FrameRate&) = default;
};

/// Frames of one encoding and size.
struct FrameSource {
  Encoding encoding;
  RasterSize size;
  int frames = 1;
  FrameRate rate;  ///< of the clip; stills have none
  /// Row y of a frame, top row first: R', G', B' of each pixel, code values of the encoding's bit depth. Asked for each
  /// frame in order, more than once. It may not throw.
  std::function<std::vector<std::uint16_t>(int frame, int y)> row;
  /// For how many video frames a clip shows this frame, at least 1; not set: 1 for each.
  std::function<int(int frame)> hold;
  /// The first frame that shows the very same picture, at most `frame`; not set: each shows its own.
  std::function<int(int frame)> same_as;
};
/// source.same_as(frame), or the frame itself.
[[nodiscard]] int picture_of(const FrameSource& source, int frame);

/// A signal as a source of one frame, shown for `hold` video frames. The raster is copied.
[[nodiscard]] FrameSource frames_of(const Raster& raster, FrameRate rate = {}, int hold = 1);

/// Every frame of a test picture, each shown for `hold` video frames. The picture must outlive the source.
[[nodiscard]] FrameSource frames_of(const TestPicture& picture, FrameRate rate = {}, int hold = 1);

/// Whether encoding, size, frames, rate, holds and same_as can be. Errors: out_of_range naming the field.
[[nodiscard]] Result<void> validate(const FrameSource& source);

/// One row of the source, looked at: as long as the raster is wide, every code within the bit depth.
/// Errors: invalid_input naming the frame and row.
[[nodiscard]] Result<std::vector<std::uint16_t>> checked_row(const FrameSource& source, int frame, int y);

/// MaxCLL and MaxFALL of the source's R'G'B' codes: light of the encoding's reference display, black at 0; for HLG and
/// BT.1886 with the nominal peak. The whole raster counts. Hold does not matter: both are maxima over frames.
/// in      frame_read: called at each frame with its number from 1; false stops
/// errors  those of validate and checked_row; cancelled
/// source  CTA-861.3-A (2016) Annex A; BT.2100-3 (PQ, HLG), BT.1886
[[nodiscard]] Result<colour::ContentLightLevel> content_light(const FrameSource& source,
                                                              const std::function<bool(int)>& frame_read = {});

}  // namespace provenit::signal
