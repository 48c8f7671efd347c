#pragma once
// What writers and readers of tables share.
#include <cmath>
#include <string>

#include "provenit/correct/lut.h"

namespace provenit::correct::files {

/// Highest code of an integer bit depth.
inline double top_code(int bits) {
  return (1 << bits) - 1;
}

/// Entries per channel of a table on its way into a file, entry by entry.
template <class F>
void for_entries(const Lut1d& table, F f) {
  for (int i = 0; i < table.size(); ++i) f(Triple{table.channel[0][i], table.channel[1][i], table.channel[2][i]});
}

/// Gives entries that came out of a text in single precision the exact codes they stand for; false, and nothing
/// changed, if one is not such a code.
[[nodiscard]] bool snap_to_codes(Lut1d& table, int bits);
[[nodiscard]] bool snap_to_codes(Lut3d& table, int bits);

}  // namespace provenit::correct::files
