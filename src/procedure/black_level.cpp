// Full-field black, repeated until the mean is known well enough.
// signals  "black": full field of code black
// cost     settle + n readings at the darkest integration, n from `repeats` to `max_repeats`
// source   ICDM IDMS, full-screen black (name from memory, section not opened); Rec. ITU-R BT.2100-3 for code black
#include <cmath>

#include "procedures_internal.h"
#include "provenit/signal/codes.h"
#include "scripted_internal.h"

namespace provenit::procedure {
namespace {

/// Standard error of the mean of the black readings; infinite for fewer than two.
double standard_error_cdm2(const Setting& setting) {
  const double n = setting.count("black");
  if (n < 2) return HUGE_VAL;
  const double mean = setting.mean_cdm2("black");
  double squares = 0;
  for (const auto* reading : setting.taken) squares += std::pow(reading->measurement.xyz.Y - mean, 2);
  return std::sqrt(squares / (n - 1) / n);
}

class BlackLevel final : public Scripted {
 public:
  std::string id() const override { return "black_level"; }
  int version() const override { return 1; }
  std::string title() const override { return "Black level, full field"; }
  std::vector<std::string> sources() const override {
    return {"ICDM IDMS, full-screen black (name from memory; section not opened)", "Rec. ITU-R BT.2100-3 (code black)"};
  }
  std::vector<std::string> quantities() const override { return {"black_luminance", "sequential_contrast"}; }

 protected:
  std::vector<Parameter> parameters() const override {
    return with_common({{"settle_s", 5.0, 0, 600},
                        {"repeats", 3, 1, 100},
                        {"max_repeats", 10, 1, 100},
                        {"target_standard_error_cdm2", 0.0, 0, 1}});
  }
  Result<std::optional<Step>> script(const Setting& setting) const override {
    auto step = next_in_passes(
        setting, {{"black", full_field(setting.context.encoding, signal::black_code(setting.context.encoding)),
                   "full-field black"}});
    if (step && step->optional_repeat && standard_error_cdm2(setting) <= setting.number("target_standard_error_cdm2"))
      step.reset();
    return step;
  }
};

}  // namespace

std::unique_ptr<Procedure> make_black_level() {
  return std::make_unique<BlackLevel>();
}

}  // namespace provenit::procedure
