#pragma once
// Light of BT.2020 primaries that the reference display of an encoding shows for the numbers of a table, and back.
#include "provenit/colour/matrix3.h"
#include "provenit/colour/transfer.h"
#include "provenit/correct/lut.h"

namespace provenit::correct {

class TableLight {
 public:
  explicit TableLight(const Values& values);
  [[nodiscard]] colour::AbsoluteRgb<> of(const Triple& numbers) const;
  [[nodiscard]] Triple numbers(const colour::AbsoluteRgb<>& light) const;

 private:
  [[nodiscard]] colour::AbsoluteRgb<> shown(const colour::SignalRgb<>& e) const;
  [[nodiscard]] colour::SignalRgb<> signals(const colour::AbsoluteRgb<>& light) const;

  Values values_;
  colour::Luminance<> peak_;
  colour::HlgDisplay<> hlg_;
  colour::Bt1886Display<> bt1886_;
  colour::Matrix3<> to_2020_, from_2020_;
};

}  // namespace provenit::correct
