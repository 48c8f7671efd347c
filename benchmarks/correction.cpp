// What a correction is worth on the simulated displays, whose physics the model does not share, with a meter's noise;
// and how long a table takes to solve and write.
#include <fmt/format.h>
#include <tbb/global_control.h>

#include <algorithm>
#include <chrono>
#include <filesystem>

#include "figure.h"
#include "measured_display.h"
#include "provenit/colour/difference.h"
#include "provenit/colour/primaries.h"
#include "provenit/colour/spaces.h"
#include "provenit/correct/lut_files.h"
#include "provenit/correct/solve.h"
#include "trials.h"

namespace {

using namespace provenit;
using bench::MeasuredDisplay;

constexpr int kUnseen = 500, kUnseenFirst = 500000;
constexpr double kMinutes = 44;

/// Light that PQ of BT.2020 asks for.
colour::AbsoluteXyz<> asked(const colour::SignalRgb<>& e) {
  return xyz_from_rgb(colour::pq_eotf(e), rgb_to_xyz_matrix(colour::bt2020_primaries));
}
colour::SignalRgb<> through(const correct::Lut& lut, const colour::SignalRgb<>& e) {
  const auto v = correct::evaluate(lut, {e.r, e.g, e.b});
  return {.r = v[0], .g = v[1], .b = v[2]};
}

struct Errors {
  std::vector<double> before, after;
  [[nodiscard]] static double mean(const std::vector<double>& v) {
    double sum = 0;
    for (const double x : v) sum += x / static_cast<double>(v.size());
    return sum;
  }
  [[nodiscard]] static double p95(std::vector<double> v) {
    std::ranges::sort(v);
    return v[v.size() * 95 / 100];
  }
};

/// Over colours of P3 that the display can show, by its model.
Errors errors_of(const MeasuredDisplay& display, const correct::DisplayModel& model, const correct::Solved& solved) {
  Errors out;
  const auto colours = correct::target_signals(MeasuredDisplay::encoding(), colour::p3_d65_primaries,
                                               {.cdm2 = 0.999 * solved.peak.cdm2}, 5 * kUnseen, kUnseenFirst);
  for (const auto& e : colours) {
    const auto want = asked(e);
    if (model.signal_for(want).delta_e_itp > 0.3) continue;
    out.before.push_back(colour::itp_difference(want, display.truth(e)).total);
    out.after.push_back(colour::itp_difference(want, display.truth(through(solved.lut, e))).total);
    if (out.after.size() == kUnseen) break;
  }
  return out;
}

/// Largest Delta u'v' from D65 over greys from 0.05 to 1 cd/m2.
double near_black(const MeasuredDisplay& display, const correct::Lut& lut) {
  double worst = 0;
  for (double cdm2 = 0.05; cdm2 <= 1; cdm2 *= 1.05) {
    const double e = colour::pq_inverse_eotf(colour::Luminance<>{.cdm2 = cdm2}).value;
    const auto got = colour::uv_prime_from_xyz(display.truth(through(lut, {.r = e, .g = e, .b = e})));
    worst = std::max(worst, colour::delta_uv_prime(got, colour::uv_prime_from_xy(colour::d65_video)));
  }
  return worst;
}

struct Corrected {
  Errors errors;
  double near_black = 0, minutes = 0;
};

/// One display, measured, corrected with 33 nodes, and judged.
Corrected corrected(const std::string& id, std::uint64_t seed) {
  MeasuredDisplay display(id, seed);
  display.read_chosen(kMinutes, colour::p3_d65_primaries);
  const auto model = correct::DisplayModel::fit(MeasuredDisplay::encoding(), display.readings(), {.diagnose = false});
  const auto solved = correct::solve_3d(model.value(), {.input = MeasuredDisplay::encoding()}, 33);
  return {.errors = errors_of(display, *model, solved.value()),
          .near_black = near_black(display, solved->lut),
          .minutes = display.minutes()};
}

std::vector<bench::Figure> gain_of(const std::string& id) {
  // Five units of each: the worst of them counts.
  double mean = 0, p95 = 0, dark = 0, before = 1e9, minutes = 0;
  for (std::uint64_t unit = 0; unit < 5; ++unit) {
    const Corrected c = corrected(id, bench::first_seed() + unit);
    mean = std::max(mean, Errors::mean(c.errors.after));
    p95 = std::max(p95, Errors::p95(c.errors.after));
    dark = std::max(dark, c.near_black);
    before = std::min(before, Errors::mean(c.errors.before));
    minutes = std::max(minutes, c.minutes);
  }
  const auto name = [&](const char* what) { return "correction_" + id + "_" + what; };
  return {{.name = name("before"), .value = before, .unit = "mean Delta E ITP", .bar = "none", .holds = true},
          {.name = name("mean"), .value = mean, .unit = "mean Delta E ITP", .bar = "< 0.7", .holds = mean < 0.7},
          {.name = name("p95"), .value = p95, .unit = "Delta E ITP", .bar = "< 1.5", .holds = p95 < 1.5},
          {.name = name("near_black"), .value = dark, .unit = "Delta u'v'", .bar = "<= 0.003", .holds = dark <= 0.003},
          {.name = name("minutes"), .value = minutes, .unit = "min", .bar = "<= 45", .holds = minutes <= 45}};
}

/// True error of the model's own inverse, which is what patches are chosen for.
double model_error(const MeasuredDisplay& display) {
  const auto model = correct::DisplayModel::fit(MeasuredDisplay::encoding(), display.readings(),
                                                {.diagnose = false, .refuse_outliers = false});
  if (!model) return 1e9;
  double sum = 0;
  int count = 0;
  for (const auto& e :
       correct::target_signals(MeasuredDisplay::encoding(), colour::p3_d65_primaries,
                               {.cdm2 = 0.9 * display.claimed_peak_cdm2()}, 3 * kUnseen, kUnseenFirst)) {
    const auto want = asked(e);
    const auto signal = model->signal_for(want);
    if (signal.delta_e_itp > 0.3) continue;
    sum += colour::itp_difference(want, display.truth(signal.signal)).total;
    if (++count == kUnseen) break;
  }
  return sum / count;
}

/// A cube of n x n x n signals of P3 and 21 greys, as it is usually read (common practice, no source).
double read_grid(MeasuredDisplay& display, int n) {
  const double top = colour::pq_inverse_eotf(colour::Luminance<>{.cdm2 = 1.05 * display.claimed_peak_cdm2()}).value;
  const double over = colour::pq_inverse_eotf(colour::Luminance<>{.cdm2 = 1.2 * display.claimed_peak_cdm2()}).value;
  for (int i = 0; i <= 20; ++i) {
    const double x = over * i / 20;
    display.read({.r = x, .g = x, .b = x});
  }
  for (int c = 0; c < 3; ++c) display.read({.r = c == 0 ? top : 0, .g = c == 1 ? top : 0, .b = c == 2 ? top : 0});
  const auto to_2020 = rgb_to_rgb_matrix(colour::p3_d65_primaries, colour::bt2020_primaries);
  const auto light = [&](int i) { return colour::pq_eotf(colour::Signal<>{.value = top * i / (n - 1)}).cdm2; };
  for (int r = 0; r < n; ++r)
    for (int g = 0; g < n; ++g)
      for (int b = 0; b < n; ++b) {
        if (r == g && g == b) continue;
        auto rgb = rgb_from_rgb(colour::AbsoluteRgb<>{.r = light(r), .g = light(g), .b = light(b)}, to_2020);
        for (double* x : {&rgb.r, &rgb.g, &rgb.b}) *x = std::max(*x, 0.0);
        display.read(colour::pq_inverse_eotf(rgb));
      }
  display.read_reference();
  return display.minutes();
}

/// Time in which chosen patches reach what a grid of n^3 reaches, as a share of the grid's; the mean over units.
std::vector<bench::Figure> choice_of(const std::string& id) {
  constexpr int kNodes = 7, kUnits = 3;
  double sum = 0;
  for (std::uint64_t unit = 0; unit < kUnits; ++unit) {
    MeasuredDisplay grid(id, bench::first_seed() + unit);
    const double minutes = read_grid(grid, kNodes), reached = model_error(grid);
    double share = 1;
    for (double s = 0.2; s <= 1.001; s += 0.1) {
      MeasuredDisplay chosen(id, bench::first_seed() + unit);
      chosen.read_chosen(s * minutes, colour::p3_d65_primaries);
      if (model_error(chosen) > reached) continue;
      share = chosen.minutes() / minutes;
      break;
    }
    sum += share / kUnits;
  }
  return {{.name = "correction_" + id + "_choice",
           .value = sum,
           .unit = "of a 7 x 7 x 7 grid's time",
           .bar = "<= 0.6",
           .holds = sum <= 0.6}};
}

double seconds_of(int size) {
  const tbb::global_control two(tbb::global_control::max_allowed_parallelism, 2);
  MeasuredDisplay display("tern-32", 1);
  display.read_chosen(kMinutes, colour::p3_d65_primaries);
  const auto model = correct::DisplayModel::fit(MeasuredDisplay::encoding(), display.readings(), {.diagnose = false});
  const auto path = (std::filesystem::temp_directory_path() / "provenit_correction.clf").string();
  double least = 1e9;
  for (int round = 0; round < 3; ++round) {
    const auto begun = std::chrono::steady_clock::now();
    const auto solved = correct::solve_3d(model.value(), {.input = MeasuredDisplay::encoding()}, size);
    if (!correct::write_lut(solved.value().lut, path, {})) return 1e9;
    least = std::min(least, std::chrono::duration<double>(std::chrono::steady_clock::now() - begun).count());
  }
  std::filesystem::remove(path);
  return least;
}

std::vector<bench::Figure> time_of(int size, double bar) {
  const double s = seconds_of(size);
  return {{.name = fmt::format("lut_solved_{}_s", size),
           .value = s,
           .unit = "s",
           .bar = fmt::format("< {}", bar),
           .holds = s < bar}};
}

bench::Entry gain_entry(const std::string& id) {
  std::vector<std::string> names;
  for (const char* what : {"before", "mean", "p95", "near_black", "minutes"})
    names.push_back("correction_" + id + "_" + what);
  return {.names = names, .compute = [id] { return gain_of(id); }};
}

}  // namespace

int main(int argc, char** argv) {
  std::vector<bench::Entry> entries{{.names = {"lut_solved_33_s"}, .compute = [] { return time_of(33, 1); }},
                                    {.names = {"lut_solved_65_s"}, .compute = [] { return time_of(65, 5); }}};
  for (const char* id : {"tern-32", "curlew-27"}) {
    entries.push_back(gain_entry(id));
    entries.push_back({.names = {std::string("correction_") + id + "_choice"},
                       .compute = [name = std::string(id)] { return choice_of(name); }});
  }
  return bench::run(argc, argv, entries);
}
