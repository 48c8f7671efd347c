// Stability: one grey window that stays on for hours, read at equal intervals.
// signals  "reference": grey window, first and last; "visit_<n>": the same, readings_each times in a row
// cost     hours
// source   reading one patch over hours: common practice, no source
#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "procedures_internal.h"
#include "scripted_internal.h"

namespace provenit::procedure {
namespace {

class Stability final : public Scripted {
 public:
  std::string id() const override { return "stability"; }
  int version() const override { return 1; }
  std::string title() const override { return "Stability over hours"; }
  std::vector<std::string> sources() const override {
    return {"This project (docs/methods/stability.md); reading one patch over hours is common practice, no source"};
  }
  std::vector<std::string> quantities() const override {
    return {"stability_slope", "stability_wander", "stability_max_delta_uv"};
  }
  std::string caution() const override {
    return "One window stays on for hours, and can leave traces on a self-emissive panel. Ask the display's owner "
           "first.";
  }

  Result<std::optional<Step>> next(const Context& context,
                                   std::span<const store::ReadingRecord> readings) const override {
    auto now = setting(context, readings);
    if (!now) return tl::unexpected(now.error());
    const double interval = now->number("interval_s");
    const auto visits = static_cast<std::size_t>(std::floor(3600 * now->number("hours") / interval + 1e-9));
    if (visits < 4)
      return fail(ErrorCode::out_of_range, "stability: fewer than four visits",
                  "Give more hours or a shorter interval.", {.field = "hours"});
    auto step = reference_step(*now);
    if (!step) return tl::unexpected(step.error());
    const auto each = static_cast<std::size_t>(now->integer("readings_each")), between = visits * each;
    if (readings.size() >= between + 2) return std::optional<Step>{};
    step->why = "the patch, at first and at last";
    if (readings.empty() || readings.size() > between) return std::optional<Step>{std::move(*step)};
    const std::size_t visit = (readings.size() - 1) / each;
    step->key = fmt::format("visit_{}", visit + 1);
    step->why = fmt::format("visit {} of {}", visit + 1, visits);
    if ((readings.size() - 1) % each == 0 && visit > 0) step->interval = {interval};
    return std::optional<Step>{std::move(*step)};
  }

 protected:
  std::vector<Parameter> parameters() const override {
    return {
        {"settle_s", 2.0, 0, 600}, {"reference_cdm2", 100.0, 0.1, 10000}, {"reference_window_percent", 10.0, 0.1, 100},
        {"hours", 2.0, 0.05, 168}, {"interval_s", 300.0, 5, 36000},       {"readings_each", 2, 1, 20}};
  }
  Result<std::optional<Step>> script(const Setting&) const override { return std::optional<Step>{}; }
};

}  // namespace

std::unique_ptr<Procedure> make_stability() {
  return std::make_unique<Stability>();
}

}  // namespace provenit::procedure
