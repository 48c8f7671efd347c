#pragma once
// A goal made ready for solving: numbers of the table in, the light that is to be shown, the numbers that show it out.
#include "light.h"
#include "provenit/correct/solve.h"

namespace provenit::correct::solving {

class Goal {
 public:
  [[nodiscard]] static Result<Goal> make(const DisplayModel& model, const CorrectionGoal& goal);

  struct Node {
    Triple numbers{};
    double delta_e_itp = 0;  ///< of the model's light against what was to be shown
    bool mapped = false;     ///< the colour asked for was not that to be shown
  };
  [[nodiscard]] Node solved(const Triple& input) const;
  /// Numbers of the table for a signal of the input.
  [[nodiscard]] Triple numbers(const colour::SignalRgb<>& signal) const;
  /// Light that is to be shown for these numbers.
  [[nodiscard]] colour::AbsoluteXyz<> asked(const Triple& input, bool* mapped = nullptr) const;

  /// Fills errors and mapped, through the table itself.
  void judge(Solved& solved) const;

  [[nodiscard]] const DisplayModel& model() const { return model_; }
  [[nodiscard]] const CorrectionGoal& goal() const { return goal_; }
  [[nodiscard]] const Values& input() const { return input_; }
  [[nodiscard]] const Values& output() const { return output_; }
  [[nodiscard]] colour::Luminance<> peak() const { return peak_; }

 private:
  Goal(const DisplayModel& model, const CorrectionGoal& goal, GamutMap map, colour::Luminance<> peak);

  DisplayModel model_;
  CorrectionGoal goal_;
  GamutMap map_;
  colour::Luminance<> peak_;
  Values input_, output_;
  TableLight light_;
};

}  // namespace provenit::correct::solving
