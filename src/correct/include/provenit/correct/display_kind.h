#pragma once
// Which kind of display takes which table: data/corrections/display-kinds.toml, or a file of the user's own.
#include <string>
#include <string_view>
#include <vector>

#include "provenit/base/error.h"
#include "provenit/correct/lut.h"

namespace provenit::correct {

/// A kind of display, or of box before it, by what it can do.
struct DisplayKind {
  std::string id, title;
  std::vector<std::string> tables;  ///< shapes as shape_of names them
  std::vector<int> sizes_1d, sizes_3d;
  int entry_bits = 0;              ///< 0: floating point
  std::vector<std::string> files;  ///< "cube", "clf", "icc", best first
  Scale scale = Scale::signal;
};

/// "1d", "3x3_1d" (1D, matrix, 1D), "3d", "1d_3d"; empty for any other row of stages.
[[nodiscard]] std::string shape_of(const Lut& lut);

/// The kinds that come with the project.
[[nodiscard]] const std::vector<DisplayKind>& display_kinds();
/// Kinds from the text of a TOML file. Errors: invalid_input naming file, line and key; also for a kind that takes no
/// table at all, and for two of one id.
[[nodiscard]] Result<std::vector<DisplayKind>> display_kinds_from(std::string_view toml, const std::string& file);
/// Errors: not_found, naming the kinds there are.
[[nodiscard]] Result<DisplayKind> find_kind(const std::vector<DisplayKind>& kinds, std::string_view id);

/// The Lut as this kind holds it: entries rounded to its bits (not changed if it computes in floating point).
/// errors  those of validate; unsupported, saying what the kind does take, for a shape, size or scale it does not
[[nodiscard]] Result<Lut> fitted(const Lut& lut, const DisplayKind& kind);

}  // namespace provenit::correct
