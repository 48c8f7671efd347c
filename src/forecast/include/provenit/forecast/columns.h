#pragma once
// Outlooks of many frames summed up in columns, for a time line.
#include <array>
#include <span>
#include <vector>

#include "provenit/forecast/title.h"

namespace provenit::forecast {

/// What is left of a frame's difference beside its causes: tone and white between black and clip.
[[nodiscard]] double tone_part(const FrameOutlook& frame);
inline constexpr const char* kTone = "tone";
/// Name of the cause with the largest part, or kTone where that is larger.
[[nodiscard]] const char* leading_part(const FrameOutlook& frame);

/// Column i covers the positions first + i x frames_per_column and on; the last may hold fewer.
struct OutlookColumns {
  std::size_t first = 0, last = 0;  ///< positions [first, last)
  std::size_t frames_per_column = 1;
  std::vector<double> time_s;                         ///< of the first frame of each
  std::vector<double> delta_e;                        ///< largest mean Delta E ITP of a frame in it
  std::array<std::vector<double>, kCauses> by_cause;  ///< largest part of each cause
  std::vector<double> tone;                           ///< and of tone_part
};
/// At most `count` columns over the positions [first, last), which are held inside the frames. No column for no frame.
[[nodiscard]] OutlookColumns columns_of(std::span<const FrameOutlook> frames, std::size_t first, std::size_t last,
                                        std::size_t count);

/// A title in few numbers.
struct TitleSummary {
  double mean_delta_e = 0;              ///< over the frames
  std::array<double, 2> share_above{};  ///< of frames whose mean Delta E ITP is above 1, above 3
  double mean_tone = 0;
  std::size_t frames_led_by_tone = 0;
  std::array<double, kCauses> mean_by_cause{};    ///< over the frames
  std::array<std::size_t, kCauses> frames_led{};  ///< frames above 1 of which the cause has the largest part
};
[[nodiscard]] TitleSummary summary_of(std::span<const FrameOutlook> frames);

}  // namespace provenit::forecast
