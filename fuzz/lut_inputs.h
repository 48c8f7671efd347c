#pragma once
// Any bytes as each of the files that hold tables: for the fuzz target and for the replay of its corpus in the tests.
#include <cstdlib>
#include <string>
#include <string_view>

#include "provenit/correct/lut_files.h"

namespace provenit::correct {

/// Ends the program where a promise is broken: a reader gives a valid table or says what is wrong, and what was read
/// can be written and read again with the same stages.
inline void try_lut_files(std::string_view bytes) {
  const std::string file = "fuzz";
  const auto checked = [](const Result<Lut>& lut) {
    if (!lut && (lut.error().message.empty() || lut.error().where.file.empty())) std::abort();
    if (lut && !validate(*lut)) std::abort();
    return lut.has_value();
  };
  const auto same = [&](const Result<Lut>& again, const Lut& lut) {
    if (!checked(again) || again->stages.size() != lut.stages.size()) std::abort();
    for (std::size_t i = 0; i < lut.stages.size(); ++i)
      if (again->stages[i].index() != lut.stages[i].index()) std::abort();
  };
  if (const auto lut = lut_from_clf(bytes, file); checked(lut)) same(lut_from_clf(clf_text(*lut).value(), file), *lut);
  if (const auto lut = lut_from_cube(bytes, file); checked(lut))
    if (const auto text = cube_text(*lut)) same(lut_from_cube(*text, file), *lut);
  static_cast<void>(checked(lut_from_icc_link(bytes, file)));
}

}  // namespace provenit::correct
