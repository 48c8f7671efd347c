#pragma once
// What is recorded by hand instead of being read by the meter: a light sensor's trace, a camera's clip or a captured
// frame of a test picture. The loan keeps the file as an attachment; evaluation makes findings of it. For the planner a
// recording costs its stated time, once: repeats lie within it.
#include <string>
#include <vector>

#include "provenit/base/clock.h"
#include "provenit/base/error.h"
#include "provenit/store/records.h"

namespace provenit::procedure {

/// One file to record.
struct RecordStep {
  std::string key;  ///< "across"; what `--step` names
  store::AttachmentKind kind = store::AttachmentKind::trace;
  std::string picture;              ///< test picture key; empty: not of the display
  nlohmann::json parameters;        ///< of the picture
  Seconds preparation{0}, play{0};  ///< setting up; what is recorded
  std::string why;                  ///< for people
  bool clip_too = false;            ///< of a trace: a camera's clip of the same picture is taken as well
};

struct Recording {
  std::string id;  ///< "zone_walk"
  int version = 1;
  std::string title;
  std::vector<std::string> sources;
  std::vector<std::string> quantities;  ///< catalogue keys
  std::vector<RecordStep> steps;
  /// Preparation and play of all steps.
  [[nodiscard]] Seconds total() const;
  /// nullptr if there is none of that key.
  [[nodiscard]] const RecordStep* step(const std::string& key) const;
};

/// All of them, in the order they are best done.
[[nodiscard]] const std::vector<Recording>& all_recordings();
/// nullptr if there is none of that id.
[[nodiscard]] const Recording* find_recording(const std::string& id);

}  // namespace provenit::procedure
