#pragma once
// Scenes of a surveyed title: where they change, what each asks of a display, and which moments ask most. Pure
// functions over the stored frames, in their order; times are those of the frames. Definitions and limits:
// docs/scenes.md.
#include <array>
#include <cstdint>
#include <span>
#include <string>
#include <vector>

#include "provenit/programme/figures.h"

namespace provenit::programme {

// Changes of scene --------------------------------------------------------------------------------------------------

enum class ChangeKind { cut, fade, dissolve };
/// "cut", "fade", "dissolve"
[[nodiscard]] const char* name_of(ChangeKind value);

/// Positions are places in the span, not FrameFigures::index: a live survey may have gaps.
struct SceneChange {
  ChangeKind kind = ChangeKind::cut;
  std::size_t first = 0;  ///< first frame of the change (cut: the new scene's first frame)
  std::size_t last = 0;   ///< last frame of it (cut: the same)
  std::size_t start = 0;  ///< where the new scene starts: first picture after a blank, middle of a dissolve
  double strength = 0;    ///< dissimilarity of the pictures before and after, in PQ signal; see docs/scenes.md
};

/// In order of `start`. A cut is a step of the block map that stands out from its neighbourhood in time, in level and
/// in structure; a flash (the picture before and after it are alike) is none, whatever its size. A fade goes through
/// frames of one level (black, white, any). A dissolve runs along the straight line between two pictures.
/// in      frames in order of display; width, height in luma samples, > 0
[[nodiscard]] std::vector<SceneChange> scene_changes(std::span<const FrameRecord> frames, int width, int height);

// Flashing ----------------------------------------------------------------------------------------------------------

/// More flashing than Rec. ITU-R BT.1702-3 advises, as far as the block map can tell. It sees luminance averaged over
/// blocks, so it misses small or moving flashes, saturated red and patterns: never a clearance.
struct FlashCaution {
  std::size_t first = 0, last = 0;  ///< positions: first and last change of the seconds that exceed
  int flashes = 0;                  ///< in the worst second; more than 3
  double area = 0;                  ///< largest share of the picture that changed together, more than 0.25
  double change_cdm2 = 0;           ///< largest change of a block's luminance in it
};
/// Runs of flashing with more than 3 flashes within a second over more than a quarter of the picture. A flash is a pair
/// of opposing changes of a block's luminance, each of 20 cd/m2 or more with the darker end under 160 cd/m2; from 160
/// up, of a Michelson contrast of 1/17 or more (the latter from memory). A change may take several frames.
/// source  Rec. ITU-R BT.1702-3 (11/2023), second-hand; see docs/scenes.md
[[nodiscard]] std::vector<FlashCaution> flash_cautions(std::span<const FrameRecord> frames, int width, int height);

// What a scene asks -------------------------------------------------------------------------------------------------

inline constexpr std::array<double, 4> kHighlightPeaks{600, 1000, 2000, 4000};

/// Light above a peak: what a display of that peak cannot show as it is.
struct HighlightDetail {
  double share = 0;  ///< of the pixels, luminance above the peak, from the light histogram
  double bits = 0;   ///< entropy of those pixels over the bins of 1/128 PQ signal: 0 if all have one level
  /// share x bits: clipped highlights have no detail, however large.
  [[nodiscard]] double detail() const { return share * bits; }
};
/// A bin that holds the peak counts by the part of it, in PQ signal, above the peak.
[[nodiscard]] HighlightDetail highlight_detail(const FrameRecord& frame, double peak_cdm2);

/// Numbers of one frame, larger asks more. Units in brackets; definitions in docs/scenes.md.
struct FrameDemands {
  double limiter = 0;     ///< mean of max(R,G,B) over the whole frame [cd/m2]: full-field light
  double zones = 0;       ///< dark_beside_bright x stops from the median to the robust maximum [share x stops]
  double near_black = 0;  ///< near_black_detail [share of cells]
  double beyond_p3 = 0;   ///< share_outside_p3 [share of pixels]
  double highlights = 0;  ///< HighlightDetail::detail above the peak asked for [share x bits]
  double flashes = 0;     ///< flashes of the caution the frame is in x its area [flashes x share]
  double changes = 0;     ///< temporal_difference [PQ signal]
};

struct Scene {
  std::size_t first = 0, last = 0;  ///< positions in the span, both belong to it
  ChangeKind opened_by = ChangeKind::cut;
  double full_field_largest_cdm2 = 0, full_field_mean_cdm2 = 0;
  double maximum_cdm2 = 0;                                      ///< largest max_rgb_robust
  FrameDemands largest, mean;                                   ///< over its frames, number by number
  std::array<HighlightDetail, kHighlightPeaks.size()> above{};  ///< of the frame with the most detail above each
  bool flashing = false;                                        ///< some FlashCaution lies in it
};

struct SceneList {
  std::vector<Scene> scenes;  ///< without gaps; empty for no frame
  std::vector<SceneChange> changes;
  std::vector<FlashCaution> cautions;
  std::vector<FrameDemands> demands;  ///< of each frame
  double peak_cdm2 = 1000;            ///< that `highlights` looks above
};
/// in      as scene_changes; peak_cdm2 > 0: of the display in question
[[nodiscard]] SceneList find_scenes(std::span<const FrameRecord> frames, int width, int height,
                                    double peak_cdm2 = 1000);

// Moments -----------------------------------------------------------------------------------------------------------

enum class Demand { limiter, zones, near_black, beyond_p3, highlights, flashes, changes };
inline constexpr std::array kDemands{Demand::limiter,    Demand::zones,   Demand::near_black, Demand::beyond_p3,
                                     Demand::highlights, Demand::flashes, Demand::changes};
/// "limiter", "zones", "near_black", "beyond_p3", "highlights", "flashes", "changes"
[[nodiscard]] const char* name_of(Demand value);
/// What the number is, in words and with its unit.
[[nodiscard]] const char* describe(Demand value);
[[nodiscard]] double value_of(const FrameDemands& demands, Demand kind);

struct Moment {
  std::size_t position = 0;
  std::size_t scene = 0;
  double value = 0;
};
/// The frames that ask most, largest first; a tie goes to the earlier frame. One of each scene; only when all scenes
/// have given theirs, second ones at least a second away from those taken, and so on. Frames with 0 are left out, so
/// fewer than `count` may come.
[[nodiscard]] std::vector<Moment> ranked_moments(std::span<const FrameRecord> frames, const SceneList& list,
                                                 Demand kind, std::size_t count = 10);

}  // namespace provenit::programme
