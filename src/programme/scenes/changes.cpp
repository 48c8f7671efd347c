#include <algorithm>

#include "changes_internal.h"

namespace provenit::programme {

const char* name_of(ChangeKind value) {
  switch (value) {
    case ChangeKind::cut:
      return "cut";
    case ChangeKind::fade:
      return "fade";
    case ChangeKind::dissolve:
      return "dissolve";
  }
  return "?";
}

std::vector<SceneChange> scene_changes(std::span<const FrameRecord> frames, int width, int height) {
  const scenes::Grid grid = scenes::grid_of(frames, width, height);
  if (frames.size() < 2 || grid.count() == 0) return {};
  auto changes = scenes::find_cuts(frames, grid);
  std::vector<SceneChange> ends;
  for (const auto& fade : scenes::find_fades(frames, grid, changes)) {
    // The cuts in it, and at the edges of its blank, are part of it.
    std::erase_if(changes, [&](const SceneChange& c) {
      return c.start >= std::min(fade.change.first, fade.blank_first) &&
             c.start <= std::max(fade.change.last, fade.blank_last + 1);
    });
    (fade.at_end ? ends : changes).push_back(fade.change);
  }
  std::vector<SceneChange> known = changes;
  known.insert(known.end(), ends.begin(), ends.end());
  const auto dissolves = scenes::find_dissolves(frames, grid, known);
  changes.insert(changes.end(), dissolves.begin(), dissolves.end());
  std::ranges::sort(changes, {}, &SceneChange::start);
  const auto same = std::ranges::unique(changes, {}, &SceneChange::start);
  changes.erase(same.begin(), same.end());
  return changes;
}

}  // namespace provenit::programme
