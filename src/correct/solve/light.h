#pragma once
// Light of BT.2020 primaries that the reference display of an encoding shows for the numbers of a table, and back.
#include "provenit/colour/matrix3.h"
#include "provenit/correct/lut.h"
#include "provenit/signal/encoded_light.h"

namespace provenit::correct {

class TableLight {
 public:
  explicit TableLight(const Values& values);
  [[nodiscard]] colour::AbsoluteRgb<> of(const Triple& numbers) const;
  [[nodiscard]] Triple numbers(const colour::AbsoluteRgb<>& light) const;

 private:
  Values values_;
  signal::EncodedLight light_;
  colour::Matrix3<> to_2020_, from_2020_;
};

}  // namespace provenit::correct
