#pragma once
// Many patches of one code each: all on one card, or one after the other in a window, as the reader chooses.
#include <optional>
#include <string>
#include <vector>

#include "pictures/painter.h"

namespace provenit::signal::pictures {

struct Patch {
  std::string name;
  std::optional<CodeRgb> code;  ///< nullopt: its cell on the card stays empty, and it has no frame
};

/// The parameters that patch_painter reads, put behind the picture's own.
[[nodiscard]] std::vector<PictureParameter> with_patch_parameters(std::vector<PictureParameter> own,
                                                                  bool one_per_frame = false);

/// Card: cells in rows from top left, each filled but for a border of an eighth of its shorter side. Frames: the window
/// of area_percent.
[[nodiscard]] Painter patch_painter(Setting& setting, std::vector<Patch> patches, int columns);

}  // namespace provenit::signal::pictures
