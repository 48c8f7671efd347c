#pragma once
// A Lut applied to whole frames, in single precision, by the widest vectors the machine has.
#include <memory>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "provenit/correct/lut.h"

namespace provenit::correct {

namespace frame {
struct Prepared;
}

/// A Lut made ready for frames. Immutable; any number of threads may use one.
class FrameLut {
 public:
  /// level: one of levels(), or empty for the best. Errors: those of validate; not_found for an unknown level.
  [[nodiscard]] static Result<FrameLut> make(const Lut& lut, std::string_view level = "");
  /// Instruction sets this machine can use, best first; the last is "plain", which every machine has.
  [[nodiscard]] static std::vector<std::string> levels();

  /// in      pixels as R, G, B; NaN counts as 0 at a table
  /// out     as many; may be the same memory as `in`
  /// threads at least 1
  /// errors  invalid_input if the two are not equally long or not whole pixels
  /// exact   every level and number of threads gives the same bits; within 1e-6 of evaluate() for tables in [0, 1] of
  ///         up to 65 nodes or 4096 entries
  [[nodiscard]] Result<void> apply(std::span<const float> in, std::span<float> out, int threads) const;

 private:
  FrameLut() = default;
  std::shared_ptr<const frame::Prepared> prepared_;
};

}  // namespace provenit::correct
