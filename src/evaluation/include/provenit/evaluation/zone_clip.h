#pragma once
// Zones from a camera's clip of the walking box: light at each place of the camera's picture, frame by frame, becomes
// light per frame of the walk, which count_zones (traces.h) counts. Pure: numbers in, figures out. Method and limits:
// docs/methods/zone_walk.md.
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "provenit/base/error.h"
#include "provenit/evaluation/traces.h"

namespace provenit::evaluation {

/// What a camera on a tripod saw, frames in order. Light is linear (the camera's curve taken out), in any unit.
struct WalkClip {
  int places = 0;              ///< parts of the picture
  std::vector<double> time_s;  ///< of each frame, rising; lost and damaged frames are left out
  std::vector<float> light;    ///< frames x places: sum over the place's pixels that are bright in no frame
};

struct ClipCount {
  ZoneCount zones;             ///< start_s is in the clip's time
  int camera_frames = 0;       ///< within the walk
  int lost = 0;                ///< frames of the camera that are missing or damaged within the walk
  double frames_per_step = 0;  ///< camera frames for each frame of the walk
  /// Largest less smallest exposure over the walk, relative, from places that the walk does not light; nullopt: nothing
  /// steady is in the picture, so that a change could not be seen.
  std::optional<double> exposure_change;
  std::vector<std::string> flags;  ///< what lessens trust in the count, for people
};

/// The places that the walk lights are found by how far their light moves over its noise, and added up; the walk begins
/// where the first of them rises from black, or at `start_s`. Each frame of the walk takes the camera's frames that lie
/// wholly within it, where there are such. errors  out_of_range for paths as count_zones, and for a camera slower than
/// the walk; invalid_input, naming the
///         frame, for a clip that is not of a walk, too short, that ends early, lasts longer or shorter than the walk
///         by more than a fiftieth and 0.4 s, or misses more than a fiftieth of the frames
/// source  common practice, no source (period of the light along the walk); ours
[[nodiscard]] Result<ClipCount> count_zones(const WalkClip& clip, const WalkPath& path,
                                            std::optional<double> start_s = {});

}  // namespace provenit::evaluation
