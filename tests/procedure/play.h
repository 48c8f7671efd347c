#pragma once
// A procedure played without bench or meter: light is a function, time adds up. The tests' own loop, so that it does
// not repeat a mistake of estimate.cpp.
#include <functional>
#include <string>
#include <vector>

#include "provenit/procedure/procedure.h"

namespace provenit::procedure {

struct Played {
  std::vector<Step> steps;
  std::vector<store::ReadingRecord> readings;
};

/// Light as a function of the step's signal and the time since the first reading, s.
inline Result<Played> play(const Procedure& procedure, const Context& context,
                           const std::function<double(const signal::Signal&, double)>& light, std::size_t most = 5000) {
  Played played;
  double now = 1000;
  while (played.readings.size() < most) {
    const auto step = procedure.next(context, played.readings);
    if (!step) return tl::unexpected(step.error());
    if (!*step) return played;
    now += (*step)->rest.s + (*step)->settle.s;
    if (!played.readings.empty()) now = std::max(now, played.readings.back().taken.unix_s + (*step)->interval.s);
    store::ReadingRecord reading{.sequence = static_cast<std::int64_t>(played.readings.size()),
                                 .step = (*step)->key,
                                 .taken = {now},
                                 .signal = (*step)->signal};
    const double luminance = light((*step)->signal, now - 1000);
    reading.measurement.xyz = {.X = luminance, .Y = luminance, .Z = luminance};
    reading.measurement.integration = {0.5};
    now += 1;
    played.steps.push_back(std::move(**step));
    played.readings.push_back(std::move(reading));
  }
  return fail(ErrorCode::out_of_range, procedure.id() + " does not end");
}

inline std::vector<std::string> keys_of(const Played& played) {
  std::vector<std::string> keys;
  for (const auto& step : played.steps) keys.push_back(step.key);
  return keys;
}

}  // namespace provenit::procedure
