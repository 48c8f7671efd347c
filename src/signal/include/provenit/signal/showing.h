#pragma once
// What showing frames on a display asks of the people in front of it, and of the panel: flashing and long bright stays,
// judged before anything is shown. Pure: the light is that of the encoding's reference display, black at 0. A display
// that is brighter or dimmer, or a room, changes it.
#include <functional>
#include <string>
#include <vector>

#include "provenit/base/clock.h"
#include "provenit/base/error.h"
#include "provenit/signal/flash.h"
#include "provenit/signal/raster.h"
#include "provenit/signal/test_picture.h"

namespace provenit::signal {

/// Frames of one encoding, shown one after another.
struct Showing {
  Encoding encoding;
  RasterSize size;
  int frames = 1;
  std::function<std::vector<std::uint16_t>(int frame, int y)> row;  ///< as TestPicture::row
  Seconds every{0};   ///< each frame is held for this long; 0: until somebody asks for the next
  bool again = true;  ///< from the first frame anew after the last
};
/// The picture must outlive it.
[[nodiscard]] Showing showing_of(const TestPicture& picture, Seconds every = {});
/// A still. The raster is copied.
[[nodiscard]] Showing showing_of(const Raster& raster);

/// A place that is bright for long.
struct BrightStay {
  double level_cdm2 = 0;  ///< luminance of the place that asks for the shortest stay; 0: no place is that bright
  double area = 0;        ///< share of the picture at least as bright, in the same frame
  Seconds allowed;        ///< how long it may stay (allowed_stay)
  Seconds held;           ///< how long it does stay without a change; 0: as long as somebody leaves it
  /// The stay is longer than allowed, or has no end of its own.
  [[nodiscard]] bool caution() const { return level_cdm2 > 0 && (held.s == 0 || held > allowed); }
};

inline constexpr double kBrightStay_cdm2 = 200;

/// How long a static place may be shown without a caution: 300 s at kBrightStay_cdm2, shorter as it is brighter
/// (in proportion), and half as long where a tenth of the picture or more is as bright; at least 5 s. Without end below
/// kBrightStay_cdm2.
/// source  common practice, no source: that limits are set on level, time and area; the numbers are ours. What a panel
///         bears is its maker's to say, and that comes first
[[nodiscard]] Seconds allowed_stay(double level_cdm2, double area);

struct ShowingCautions {
  FlashSecond flashing;  ///< the worst second; no flash can be told where `every` is 0 (see kCalmHold_s)
  BrightStay stay;
  /// Above the limits of BT.1702 as far as flash.h knows them: not to be shown unless somebody confirms it.
  [[nodiscard]] bool needs_confirmation() const { return flashing.above; }
  /// For people, with the figures; what applies to every showing is not repeated here.
  [[nodiscard]] std::vector<std::string> texts() const;
};

/// Looks at 96 x 54 places, one in each cell of an even grid, jittered the same way every time so that no pattern hides
/// between them; shares of area are right to about 1 %.
/// errors  out_of_range for no frames, a size or encoding that cannot be; a negative or non-finite `every`
[[nodiscard]] Result<ShowingCautions> cautions_of(const Showing& showing);

/// The error to give where needs_confirmation() and nobody confirmed: out_of_range with the figures and `confirm`, the
/// option that would.
[[nodiscard]] Error flashing_refused(const ShowingCautions& cautions, const std::string& confirm);

}  // namespace provenit::signal
