#pragma once
// Flashing by Rec. ITU-R BT.1702, one definition for programmes and for what the bench itself shows. It is a caution
// and no clearance: red flashes, regular patterns and areas by angle of view are not looked at.
#include <cstddef>
#include <memory>
#include <span>
#include <vector>

namespace provenit::signal {

// source  Rec. ITU-R BT.1702-3 (11/2023), second-hand, but for kFlashContrast, which is from memory.
inline constexpr double kFlashChange_cdm2 = 20;        ///< least change, where the darker end lies below
inline constexpr double kFlashDarkerBelow_cdm2 = 160;  ///< this
inline constexpr double kFlashContrast = 1.0 / 17;     ///< least Michelson contrast of a change from there up
inline constexpr double kFlashArea = 0.25;             ///< share of the picture: more than this, and
inline constexpr int kFlashesPerSecond = 3;            ///< more flashes than these exceed
/// 7 changes of alternating direction are the fewest that exceed, so frames held for a sixth of a second or more never
/// do. Held for this long, frames stay clear of the limit whatever they show, late clocks included.
inline constexpr double kCalmHold_s = 0.2;

/// What happened in the second that ends with a frame.
struct FlashSecond {
  int flashes = 0;         ///< leading changes of one direction; of those that changed more than kFlashArea at once
  double area = 0;         ///< largest share of the picture that changed together, or that flashed on its own
  double change_cdm2 = 0;  ///< largest change of one place
  std::size_t from = 0;    ///< frame (by number of calls) with the first of the changes
  bool above = false;      ///< more than kFlashesPerSecond over more than kFlashArea
};

/// Follows the places of a picture frame by frame. A flash is a pair of opposing changes of a place's luminance, each
/// as large as the rule says; a change may take several frames, and is followed from extreme to extreme. Two counts are
/// made, and either exceeds: changes of the picture, when places of more than kFlashArea change the same way within
/// 0.1 s (our choice), and places that each flash too often and together fill more than kFlashArea.
class FlashWatch {
 public:
  /// in      shares: of each place of the picture's area, summing to 1 at most
  explicit FlashWatch(std::vector<double> shares);
  FlashWatch(FlashWatch&&) noexcept;
  FlashWatch& operator=(FlashWatch&&) noexcept;
  ~FlashWatch();
  /// in      time_s: not before that of the last call; light_cdm2: luminance of each place, as many as shares
  FlashSecond step(double time_s, std::span<const double> light_cdm2);

 private:
  class State;
  std::unique_ptr<State> state_;
};

}  // namespace provenit::signal
