// Sustained luminance: a white field that stays on, what the limiter makes of it over minutes, and how the display
// recovers.
// signals  "reference": grey window, first and last
//          "before": white window of recovery_window_percent
//          "stay_<seconds>": white field of window_percent, after rest_before_s of black, read while it stays on
//          "after_<seconds>": the recovery window again, straight after the stay, read while it stays on
// cost     rest_before_s + the last of stay_minutes + the last of recovery_minutes
// source   luminance over time under a bright field: common practice, no source
#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "procedures_internal.h"
#include "provenit/signal/codes.h"
#include "scripted_internal.h"

namespace provenit::procedure {
namespace {

std::vector<double> seconds_of(const Setting& setting, const char* key) {
  auto list = setting.parameters[key].get<std::vector<double>>();
  for (double& minutes : list) minutes = std::round(600 * minutes) / 10;  // whole tenths, so that keys are short
  std::ranges::sort(list);
  list.erase(std::unique(list.begin(), list.end()), list.end());
  return list;
}

class Sustained final : public Scripted {
 public:
  std::string id() const override { return "sustained"; }
  int version() const override { return 1; }
  std::string title() const override { return "Sustained luminance"; }
  std::vector<std::string> sources() const override {
    return {"This project (docs/methods/sustained.md); luminance over time is common practice, no source"};
  }
  std::vector<std::string> quantities() const override {
    return {"sustained_luminance", "sustained_change", "sustained_settle_time", "recovery_luminance"};
  }
  std::string caution() const override {
    return "A bright field stays on for minutes: it dazzles in a dark room, heats the panel, and can leave traces on a "
           "self-emissive one. Ask the display's owner first, and keep to the maker's limits.";
  }

  Result<std::optional<Step>> next(const Context& context,
                                   std::span<const store::ReadingRecord> readings) const override {
    auto now = setting(context, readings);
    if (!now) return tl::unexpected(now.error());
    auto all = steps(*now);
    if (!all) return tl::unexpected(all.error());
    // The reference stands first and last; every other step is read readings_each times in a row.
    if (readings.size() >= all->size()) return std::optional<Step>{};
    return std::optional<Step>{std::move((*all)[readings.size()])};
  }

 protected:
  std::vector<Parameter> parameters() const override {
    return {{"settle_s", 3.0, 1, 30},
            {"reference_cdm2", 100.0, 0.1, 10000},
            {"reference_window_percent", 10.0, 0.1, 100},
            {"window_percent", 100.0, 0.1, 100},
            {"rest_before_s", 60.0, 0, 3600},
            {"stay_minutes", {0.25, 0.5, 1, 2, 3, 5, 7, 10}, 0.1, 120},
            {"recovery_window_percent", 10.0, 0.1, 100},
            {"recovery_minutes", {0.25, 0.5, 1, 2, 5}, 0.1, 60},
            {"tolerance_percent", 2.0, 0.1, 50},
            {"readings_each", 2, 1, 20}};
  }
  Result<std::optional<Step>> script(const Setting&) const override { return std::optional<Step>{}; }

 private:
  static Result<std::vector<Step>> steps(const Setting& setting) {
    auto reference = reference_step(setting);
    if (!reference) return tl::unexpected(reference.error());
    const auto& encoding = setting.context.encoding;
    const Seconds settle{setting.number("settle_s")};
    const auto stay = window(encoding, signal::peak_code(encoding), setting.number("window_percent"));
    const auto small = window(encoding, signal::peak_code(encoding), setting.number("recovery_window_percent"));
    std::vector<Step> out{*reference};
    const auto add = [&](const std::string& key, const signal::Signal& shown, double after_s, const std::string& why,
                         double rest_s = 0) {
      Step step = step_for(setting, {key, shown, why}, 0, false);
      step.settle = settle;
      step.stay = {after_s};
      for (int i = 0; i < setting.integer("readings_each"); ++i) {
        step.rest = {i == 0 ? rest_s : 0};
        out.push_back(step);
      }
    };
    // "before", "stay" and "after" are each shown once; what follows is read of what is shown already.
    add("before", small, 0, "recovery window, rested");
    add("stay_0", stay, 0, "bright field, at first", setting.number("rest_before_s"));
    for (const double s : seconds_of(setting, "stay_minutes"))
      add("stay_" + number_text(s), stay, s, fmt::format("bright field, after {} min", number_text(s / 60)));
    add("after_0", small, 0, "recovery window, straight after the bright field");
    for (const double s : seconds_of(setting, "recovery_minutes"))
      add("after_" + number_text(s), small, s, fmt::format("recovery window, {} min after", number_text(s / 60)));
    out.push_back(*reference);
    return out;
  }
};

}  // namespace

std::unique_ptr<Procedure> make_sustained() {
  return std::make_unique<Sustained>();
}

}  // namespace provenit::procedure
