#pragma once
// Corrections solved from a display's model: tables that make the display show what the signal asks for.
#include <optional>
#include <vector>

#include "provenit/base/error.h"
#include "provenit/colour/primaries.h"
#include "provenit/correct/display_model.h"
#include "provenit/correct/gamut_map.h"
#include "provenit/correct/lut.h"

namespace provenit::correct {

/// What the corrected display is to show.
struct CorrectionGoal {
  signal::Encoding input;  ///< how programmes come in: transfer function and container
  /// Colours of these primaries are what the correction is judged by and, with limit_to_primaries, all that is shown.
  colour::Primaries<> primaries = colour::p3_d65_primaries;
  bool limit_to_primaries = false;          ///< false: colours beyond them are shown as far as the display can
  std::optional<colour::Luminance<>> peak;  ///< of the primaries' white; empty: the brightest the display can show
  MappingChoice mapping{.mapping = Mapping::hard_clip};
  Scale scale = Scale::signal;  ///< of the numbers that go in and come out
};

struct Solved {
  Lut lut;
  colour::Luminance<> peak;  ///< of white, as solved
  /// Over 2,000 colours of the goal: Delta E ITP of the model behind the table against what is asked, ascending; and
  /// how many of the 2,000 the display cannot show, which are left out of it.
  std::vector<double> errors;
  int mapped = 0;
};

/// A 3D table, goal.input in, the display's own encoding out. Colours of the display's gamut (primaries and white peak
/// as the model has them) are exact to the model; all others are mapped onto it (gamut_map.h), black included.
/// in      size 2 to 129
/// errors  out_of_range for the size, the encoding, a peak the display cannot reach, mapping numbers out of range
[[nodiscard]] Result<Solved> solve_3d(const DisplayModel& model, const CorrectionGoal& goal, int size);

/// A curve per channel: greys right, colours as they come.
/// in      entries 2 to 65536
[[nodiscard]] Result<Solved> solve_1d(const DisplayModel& model, const CorrectionGoal& goal, int entries);

/// Curves to linear light, a matrix, curves back: greys right, and colours as right as a matrix can make them (least
/// squares of I, T, P over the goal's colours). The second curve has equal steps of light up to the peak, so its first
/// step is peak / (entries - 1): for PQ that is coarse near black with fewer than some 16,384 entries.
[[nodiscard]] Result<Solved> solve_matrix(const DisplayModel& model, const CorrectionGoal& goal, int entries);

/// Two tables as one: first one, then the other, sampled at the nodes of a 3D table. For a display that already holds
/// a table which the model was not measured through.
/// errors  out_of_range for the size; invalid_input where the output of the first is not the input of the second
[[nodiscard]] Result<Lut> chained(const Lut& first, const Lut& second, int size);

}  // namespace provenit::correct
