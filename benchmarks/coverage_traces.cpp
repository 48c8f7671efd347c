// How often the 95 % intervals of trace findings hold the simulated sensor's truth.
#include <cstdlib>
#include <functional>

#include "figure.h"
#include "simulated_traces.h"
#include "trials.h"

namespace {

using namespace provenit;

using bench::trials;

bench::Figure figure(const std::string& name, int held, int of) {
  const double percent = 100.0 * held / std::max(1, of);
  return {name, percent, "%", "93 to 97", percent >= 93 && percent <= 97};
}
bench::Figure at_least(const std::string& name, int held, int of, int bar) {
  const double percent = 100.0 * held / std::max(1, of);
  return {name, percent, "%", fmt::format(">= {}", bar), percent >= bar};
}

/// A whole number is held or not, and mostly by an interval of one number: 95 % cannot be met from both sides. What
/// counts is how many walks get a number, and that it is right.
std::vector<bench::Figure> walk() {
  int seen = 0, held = 0, right = 0;
  for (int i = 1; i <= trials(); ++i) {
    const auto walked = bench::simulated_walk(static_cast<std::uint64_t>(i));
    const auto count = evaluation::count_zones(walked.samples(), walked.path, walked.start_s);
    if (!count || !count->steps_seen) continue;
    ++seen;
    held += count->count.interval.contains(walked.zones);
    right += count->zones == walked.zones;
  }
  return {at_least("coverage_zone_walk", held, seen, 97), at_least("zone_walk_number_right", right, seen, 95),
          at_least("zone_walk_steps_seen", seen, trials(), 80)};
}

std::vector<bench::Figure> light_steps() {
  int rise = 0, fall = 0, left = 0;
  for (int i = 1; i <= trials(); ++i) {
    const auto trace = bench::simulated_light_steps(static_cast<std::uint64_t>(i));
    const double after[] = {0.1};
    const auto found = evaluation::measure_light_steps(trace.samples(), after);
    if (!found || !found->rise_ms || !found->fall_ms || found->afterglow.empty()) continue;
    rise += found->rise_ms->interval.contains(trace.rise_ms);
    fall += found->fall_ms->interval.contains(trace.fall_ms);
    left += found->afterglow[0].percent.interval.contains(trace.left_percent);
  }
  return {figure("coverage_rise_time", rise, trials()), figure("coverage_fall_time", fall, trials()),
          figure("coverage_afterglow", left, trials())};
}

std::vector<bench::Figure> flicker(bool pulses) {
  int frequency = 0, percent = 0, index = 0;
  for (int i = 1; i <= trials(); ++i) {
    const auto trace = bench::simulated_flicker(static_cast<std::uint64_t>(i), pulses);
    const auto found = evaluation::measure_flicker(trace.samples(), trace.dark, static_cast<std::uint64_t>(i));
    if (!found) continue;
    frequency += found->frequency_hz.interval.contains(trace.frequency_hz);
    percent += found->percent.interval.contains(trace.percent);
    index += found->index.interval.contains(trace.index);
  }
  const std::string of = pulses ? "pulses" : "wave";
  return {figure("coverage_flicker_frequency_" + of, frequency, trials()),
          figure("coverage_flicker_percent_" + of, percent, trials()),
          figure("coverage_flicker_index_" + of, index, trials())};
}

std::vector<bench::Figure> delay() {
  int mean = 0, jitter = 0;
  for (int i = 1; i <= trials(); ++i) {
    const auto trace = bench::simulated_delay(static_cast<std::uint64_t>(i));
    const auto found = evaluation::measure_delay(trace.markers(), trace.samples());
    if (!found) continue;
    mean += found->mean_ms.interval.contains(trace.delay_ms);
    jitter += found->jitter_ms.interval.contains(trace.jitter_ms);
  }
  return {figure("coverage_input_delay", mean, trials()), figure("coverage_input_delay_jitter", jitter, trials())};
}

}  // namespace

int main(int argc, char** argv) {
  return bench::run(
      argc, argv,
      {{{"coverage_zone_walk", "zone_walk_number_right", "zone_walk_steps_seen"}, walk},
       {{"coverage_rise_time", "coverage_fall_time", "coverage_afterglow"}, light_steps},
       {{"coverage_flicker_frequency_wave", "coverage_flicker_percent_wave", "coverage_flicker_index_wave"},
        [] { return flicker(false); }},
       {{"coverage_flicker_frequency_pulses", "coverage_flicker_percent_pulses", "coverage_flicker_index_pulses"},
        [] { return flicker(true); }},
       {{"coverage_input_delay", "coverage_input_delay_jitter"}, delay}});
}
