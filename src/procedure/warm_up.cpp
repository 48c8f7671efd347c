// Warm-up and settle detection: one grey patch, read at equal intervals until its luminance has come to rest.
// signals  "reference": 10 % window of the grey next to reference_cdm2, on black; shown all the time
// cost     settling time of the display + window_s, at most max_time_s
// source   ours. Warm-up of EBU Tech 3325 was not seen; waiting until a reading is stable is common practice, no source
#include <fmt/format.h>

#include <algorithm>

#include "procedures_internal.h"
#include "scripted_internal.h"

namespace provenit::procedure {
namespace {

constexpr std::size_t kSmooth = 5;  // readings averaged before the spread is taken, so that noise does not hide rest

/// Spread (largest - smallest) / mean of the running means over the readings from `from` on.
double spread(std::span<const store::ReadingRecord> readings, Timestamp from) {
  std::vector<double> luminance;
  for (const auto& reading : readings)
    if (reading.taken >= from) luminance.push_back(reading.measurement.xyz.Y);
  if (luminance.size() < kSmooth + 1) return 1;
  double least = 0, most = 0;
  for (std::size_t i = 0; i + kSmooth <= luminance.size(); ++i) {
    double mean = 0;
    for (std::size_t j = 0; j < kSmooth; ++j) mean += luminance[i + j] / kSmooth;
    least = i == 0 ? mean : std::min(least, mean);
    most = i == 0 ? mean : std::max(most, mean);
  }
  return most > 0 ? (most - least) / most : 1;
}

class WarmUp final : public Scripted {
 public:
  std::string id() const override { return "warm_up"; }
  int version() const override { return 2; }
  std::string title() const override { return "Warm-up and settling"; }
  std::vector<std::string> sources() const override { return {"This project (docs/methods/warm_up.md)"}; }
  std::vector<std::string> quantities() const override { return {"settle_time", "drift"}; }

  Result<std::optional<Step>> next(const Context& context,
                                   std::span<const store::ReadingRecord> readings) const override {
    auto now = setting(context, readings);
    if (!now) return tl::unexpected(now.error());
    const Seconds interval{now->number("interval_s")}, window{now->number("window_s")};
    if (window.s < static_cast<double>(kSmooth + 1) * interval.s)
      return fail(ErrorCode::out_of_range,
                  fmt::format("warm_up: window_s = {} holds too few readings at interval_s = {}", window.s, interval.s),
                  fmt::format("Make the window at least {} intervals long.", kSmooth + 1), {.field = "window_s"});
    if (!readings.empty()) {
      const double tolerance = std::ranges::min(now->parameters["tolerances_percent"].get<std::vector<double>>());
      const Timestamp first = readings.front().taken, last = readings.back().taken;
      const bool settled = (last - first) >= window && spread(readings, {last.unix_s - window.s}) * 100 <= tolerance;
      if (settled || (last - first).s >= now->number("max_time_s")) return std::optional<Step>{};
    }
    auto step = reference_step(*now);
    if (!step) return tl::unexpected(step.error());
    step->interval = readings.empty() ? Seconds{0} : interval;
    step->why = fmt::format("warm-up, reading {}", readings.size() + 1);
    return std::optional<Step>{std::move(*step)};
  }

 protected:
  std::vector<Parameter> parameters() const override {
    return {{"settle_s", 2.0, 0, 600},
            {"reference_cdm2", 100.0, 0.1, 10000},
            {"reference_window_percent", 10.0, 0.1, 100},
            {"interval_s", 20.0, 1, 600},
            {"window_s", 600.0, 10, 36000},
            {"tolerances_percent", {0.5}, 0.01, 50},
            {"max_time_s", 3600.0, 10, 172800}};
  }
  Result<std::optional<Step>> script(const Setting&) const override { return std::optional<Step>{}; }
};

}  // namespace

std::unique_ptr<Procedure> make_warm_up() {
  return std::make_unique<WarmUp>();
}

}  // namespace provenit::procedure
