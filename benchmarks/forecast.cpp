// Forecasts against the simulator's own physics, over real HDR pictures and a moving clip; and how fast they are. The
// forecast sees readings only. PROVENIT_HDR_PICTURES names the folder of pictures (forecast_pictures.h says which).
#include <fmt/format.h>
#include <tbb/global_control.h>

#include <algorithm>
#include <chrono>
#include <cstdlib>
#include <ctime>
#include <map>
#include <numeric>
#include <optional>
#include <string>
#include <vector>

#include "figure.h"
#include "forecast_loan.h"
#include "forecast_pictures.h"
#include "provenit/forecast/frame.h"
#include "provenit/forecast/title.h"
#include "provenit/programme/frame_meter.h"
#include "trials.h"

namespace {

using namespace provenit;
using forecast::Quantity;

constexpr int kMoreUnits = 3;  ///< beside the first, each over every third picture: intervals are held to several units
constexpr double kClipRate = 30;

std::string folder() {
  const char* named = std::getenv("PROVENIT_HDR_PICTURES");
  return named == nullptr ? "" : named;
}

double median(std::vector<double> v) {
  if (v.empty()) return 0;
  std::ranges::sort(v);
  return v[v.size() / 2];
}
double share_below(const std::vector<double>& v, double share) {
  if (v.empty()) return 0;
  auto sorted = v;
  std::ranges::sort(sorted);
  return sorted[std::min(sorted.size() - 1, static_cast<std::size_t>(share * static_cast<double>(sorted.size())))];
}

std::vector<double> ranks(const std::vector<double>& v) {
  std::vector<std::size_t> order(v.size());
  std::iota(order.begin(), order.end(), 0U);
  std::ranges::sort(order, {}, [&](auto i) { return v[i]; });
  std::vector<double> out(v.size());
  for (std::size_t i = 0; i < order.size();) {
    std::size_t j = i;
    while (j < order.size() && v[order[j]] == v[order[i]]) ++j;
    for (std::size_t k = i; k < j; ++k) out[order[k]] = 0.5 * static_cast<double>(i + j - 1);
    i = j;
  }
  return out;
}
double spearman(const std::vector<double>& a, const std::vector<double>& b) {
  const auto x = ranks(a), y = ranks(b);
  const double n = static_cast<double>(x.size()), mean = (n - 1) / 2;
  double xy = 0, xx = 0, yy = 0;
  for (std::size_t i = 0; i < x.size(); ++i) {
    xy += (x[i] - mean) * (y[i] - mean);
    xx += (x[i] - mean) * (x[i] - mean);
    yy += (y[i] - mean) * (y[i] - mean);
  }
  return xx > 0 && yy > 0 ? xy / std::sqrt(xx * yy) : 0;
}

/// What was forecast and what is true of all pictures of one unit.
struct Outcome {
  std::vector<double> light_error;  ///< of each picture the median, above 1 cd/m2
  std::vector<double> halo_error;   ///< relative, where there is a halo to speak of
  std::array<std::vector<double>, forecast::kQuantities> value, truth;
  std::vector<double> still_truth, fast;  ///< the survey path's Delta E
  std::array<int, forecast::kQuantities> asked{}, held{};
};

class Judge {
 public:
  Judge(bench::ForecastLoan& loan, bool zoned)
      : display_(forecast::ForecastDisplay::fit(loan.evidence()).value()),
        title_(display_),
        state_(loan.state()),
        zoned_(zoned) {}

  [[nodiscard]] const forecast::ForecastDisplay& display() const { return display_; }
  Outcome outcome;

  /// shown: by the display; free: the same without its limiter.
  void judge(const std::string& name, const simulated::CodeFrame& frame, const forecast::FrameForecast& made,
             const forecast::ShownLight& light, const simulated::FrameLight& shown, const simulated::FrameLight& free,
             bool still, bool counted) {
    const auto all = bench::intended_xyz(frame);
    std::vector<double> errors;
    for (std::size_t k = 0; k < all.size(); ++k)
      if (all[k][1] > 1) errors.push_back(std::abs(static_cast<double>(light.y[k] / shown.xyz[k][1]) - 1));
    double unlimited = 0;
    for (const auto& xyz : free.xyz) unlimited += static_cast<double>(xyz[1]);
    const auto sums = forecast::sums_of(shown.width, all, shown.xyz);
    const auto truth = forecast::numbers_of(sums, unlimited);
    if (!errors.empty()) outcome.light_error.push_back(median(errors));
    const auto halo = static_cast<std::size_t>(Quantity::halo_cdm2);
    if (zoned_ && sums.dark > 0.001 * sums.pixels && truth[halo] > 0.002)
      outcome.halo_error.push_back(std::abs(made.figures[halo].value / truth[halo] - 1));
    for (std::size_t q = 0; q < forecast::kQuantities; ++q) {
      const auto& figure = made.figures[q];
      outcome.value[q].push_back(figure.value);
      outcome.truth[q].push_back(truth[q]);
      // Where nothing of the kind is in the picture, nothing can be missed, and nothing held.
      constexpr double nothing = 1e-5;
      if (!counted || (std::abs(truth[q]) < nothing && std::abs(figure.value) < nothing)) continue;
      outcome.asked[q] += 1;
      outcome.held[q] += figure.holds(truth[q]) ? 1 : 0;
      if (std::getenv("FORECAST_SHOW") != nullptr)
        fmt::print(stderr, "{}\t{}\ttruth {:.5g}\tforecast {:.5g} [{:.5g}, {:.5g}]\t{}\n", name,
                   forecast::name_of(static_cast<Quantity>(q)), truth[q], figure.value, figure.lower, figure.upper,
                   figure.holds(truth[q]) ? "" : "missed");
    }
    const auto record =
        programme::FrameMeter::make(bench::picture_of(frame).format).value().measure(bench::picture_of(frame)).value();
    const auto fast = title_.forecast(std::span(&record, 1)).front();
    // Frames of a clip a moment apart are one moment: only pictures are ranked by the survey.
    if (still) {
      outcome.still_truth.push_back(truth[0]);
      outcome.fast.push_back(fast.delta_e.value);
    }
    if (std::getenv("FORECAST_SHOW") != nullptr)
      fmt::print(stderr,
                 "{}\tlight error {:.4f}\tcap {:.4f} true {:.4f}\tload {:.4f} true {:.4f}\tdelta {:.4g} true {:.4g} "
                 "fast {:.4g} by {:.3g}\n",
                 name, median(errors), made.cap, shown.cap, made.load, shown.load, made.figures[0].value, truth[0],
                 fast.delta_e.value, fmt::join(fast.by_cause, " "));
  }

  void still(const bench::TestPicture& picture, const simulated::FrameScreen& screen,
             const simulated::FrameScreen& unlimited) {
    const auto seen = bench::picture_of(picture.frame);
    forecast::ShownLight light;
    const auto made = forecast::FrameForecaster::make(display_, seen.format).value().still(seen, &light).value();
    const auto shown = screen.settled(picture.frame).value();
    judge(picture.name, picture.frame, made, light, shown,
          shown.cap < 1 ? unlimited.settled(picture.frame).value() : shown, true, true);
  }

 private:
  forecast::ForecastDisplay display_;
  forecast::TitleForecaster title_;
  simulated::ThermalState state_;
  bool zoned_;
};

const std::vector<bench::TestPicture>& pictures() {
  static const auto all = bench::pictures_in(folder());
  return all;
}

/// The frames of a moving clip.
const std::vector<simulated::CodeFrame>& clip() {
  static const auto frames = [] {
    std::vector<simulated::CodeFrame> out;
    auto reader =
        programme::open_reader((std::filesystem::path(folder()) / "hdr10-video-with-sdr-container.mp4").string());
    if (!reader) return out;
    for (;;) {
      const auto picture = (*reader)->next();
      if (!picture || !*picture) break;
      out.push_back(bench::coded(programme::light_image(**picture).value(), 1));
    }
    return out;
  }();
  return frames;
}

void print_display(const forecast::ForecastDisplay& d) {
  const auto& o = d.optics();
  const auto& u = d.unsure();
  fmt::print(stderr,
             "peak {:.1f} misfit {:.2f} leak {:.4f} min {:.5f} p {:.3f} a {:.3f} s {:.3f} sigma {:.3f} shares {:.3f} "
             "{:.3f} headroom {:.3f} dim {:.3f} weights {:.3f} {:.3f} {:.3f}\n",
             d.peak_cdm2(), d.channels().misfit_delta_e_itp, o.leak_cdm2, o.minimum_drive, o.exponent, o.largest_share,
             o.neighbour_share, o.spread_zones[0], o.spread_share[1], o.spread_share[2], o.headroom, o.dim, o.weight[0],
             o.weight[1], o.weight[2]);
  for (std::size_t i = 0; i < o.load.size(); ++i) fmt::print(stderr, "cap at {:.2f}: {:.3f}\n", o.load[i], o.cap[i]);
  fmt::print(stderr,
             "unsure light {:.4f} scale {:.4f} halo {:.3f} black {:.3f} cap {:.4f} headroom {:.4f} colour {:.3f}\n",
             u.light, u.scale, u.halo, u.black, u.cap, u.headroom, u.colour_delta_e_itp);
}

struct Judged {
  Outcome first;                ///< unit 1: all pictures and the clip
  std::vector<Outcome> others;  ///< further units over some of the pictures
  forecast::EyeCheck eye;
};

const Judged& judged(const std::string& kind) {
  static std::map<std::string, Judged> made;
  if (const auto found = made.find(kind); found != made.end()) return found->second;
  Judged out;
  const int more = std::getenv("FORECAST_QUICK") != nullptr ? 0 : kMoreUnits;
  for (int unit = 0; unit <= more; ++unit) {
    bench::ForecastLoan loan(kind, bench::first_seed() + static_cast<std::uint64_t>(unit));
    Judge judge(loan, loan.physics().zones.has_value());
    if (std::getenv("FORECAST_SHOW") != nullptr) print_display(judge.display());
    const auto check = judge.display().eye_check(loan.read(forecast::check_signals({}, true)));
    if (unit == 0) out.eye = check;
    if (std::getenv("FORECAST_SHOW") != nullptr)
      for (const auto& s : check.spots)
        fmt::print(stderr, "eye {}: read {:.5g} forecast {:.5g} [{:.5g}, {:.5g}] {}\n", s.name, s.read_cdm2,
                   s.forecast_cdm2, s.lower_cdm2, s.upper_cdm2, s.holds() ? "" : "missed");
    const auto state = loan.state();
    const simulated::FrameScreen screen(loan.physics(), {.state = state}),
        unlimited(loan.physics(), {.state = state, .limited = false});
    for (std::size_t i = 0; i < pictures().size(); ++i)
      if (unit == 0 || i % 3 == static_cast<std::size_t>(unit - 1)) judge.still(pictures()[i], screen, unlimited);
    if (unit == 0 && more > 0 && !clip().empty()) {
      simulated::FrameScreen moving(loan.physics(), {.state = state}),
          free(loan.physics(), {.state = state, .limited = false});
      auto forecaster =
          forecast::FrameForecaster::make(judge.display(), bench::picture_of(clip().front()).format).value();
      for (std::size_t k = 0; k < clip().size(); ++k) {
        const auto seen = bench::picture_of(clip()[k]);
        forecast::ShownLight light;
        const auto made_of = forecaster.next(seen, {1 / kClipRate}, &light).value();
        const auto shown = moving.step(clip()[k], {1 / kClipRate}).value(),
                   not_limited = free.step(clip()[k], {1 / kClipRate}).value();
        // Frames near each other hold or miss together: intervals are counted on few of them.
        judge.judge(fmt::format("clip {}", k), clip()[k], made_of, light, shown, not_limited, false, k % 7 == 0);
      }
    }
    (unit == 0 ? out.first : out.others.emplace_back()) = judge.outcome;
  }
  return made.emplace(kind, std::move(out)).first->second;
}

std::vector<bench::Figure> figures_of(const std::string& kind) {
  const auto& all = judged(kind);
  const auto& f = all.first;
  std::vector<bench::Figure> out;
  const auto add = [&](const std::string& what, double value, const char* unit, const char* bar, bool holds) {
    out.push_back({"forecast_" + kind + "_" + what, value, unit, bar, holds});
  };
  const double pictures_used = static_cast<double>(pictures().size());
  add("pictures", pictures_used, "pictures", ">= 30", pictures_used >= 30);
  const double light = 100 * median(f.light_error);
  add("light", light, "% median error", "<= 5", light <= 5);
  add("light_worst", 100 * share_below(f.light_error, 1), "% median error of the worst picture", "none", true);
  if (kind == "tern-32") {
    const double halo = 100 * median(f.halo_error);
    add("halo", halo, "% median error", "<= 30", halo <= 30);
    const double p90 = 100 * share_below(f.halo_error, 0.9);
    add("halo_p90", p90, "% error", "none", true);
  }
  const auto& truth = f.truth[static_cast<std::size_t>(Quantity::mean_delta_e)];
  const double full_rank = spearman(truth, f.value[static_cast<std::size_t>(Quantity::mean_delta_e)]),
               fast_rank = spearman(f.still_truth, f.fast);
  add("rank", full_rank, "Spearman", ">= 0.9", full_rank >= 0.9);
  add("rank_survey", fast_rank, "Spearman", ">= 0.9", fast_rank >= 0.9);
  int asked = 0, held = 0;
  for (std::size_t q = 0; q < forecast::kQuantities; ++q) {
    int a = f.asked[q], h = f.held[q];
    for (const auto& o : all.others) a += o.asked[q], h += o.held[q];
    asked += a;
    held += h;
    if (a > 0)
      add(fmt::format("coverage_{}", forecast::name_of(static_cast<Quantity>(q))), 100.0 * h / a,
          "% held by 90 % intervals", "none", true);
  }
  const double coverage = asked > 0 ? 100.0 * held / asked : 0;
  add("coverage", coverage, "% held by 90 % intervals", "85 to 95", coverage >= 85 && coverage <= 95);
  add("eye_check", 100.0 * all.eye.held / static_cast<double>(all.eye.spots.size()), "% of readings held", "holds",
      all.eye.verdict == "holds");
  return out;
}

bench::Entry entry_of(const std::string& kind) {
  std::vector<std::string> names;
  for (const char* what :
       {"pictures", "light", "light_worst", "halo", "halo_p90", "rank", "rank_survey", "coverage", "eye_check"})
    if (kind == "tern-32" || !std::string(what).starts_with("halo")) names.push_back("forecast_" + kind + "_" + what);
  for (std::size_t q = 0; q < forecast::kQuantities; ++q)
    names.push_back("forecast_" + kind + "_coverage_" + forecast::name_of(static_cast<Quantity>(q)));
  return {.names = names, .compute = [kind] { return figures_of(kind); }};
}

template <class F>
double seconds_of(F&& work) {
  const auto begun = std::chrono::steady_clock::now();
  work();
  return std::chrono::duration<double>(std::chrono::steady_clock::now() - begun).count();
}

/// 200 000 frames: those of the pictures, again and again, with their light moved a little.
std::vector<bench::Figure> survey_speed() {
  const tbb::global_control two(tbb::global_control::max_allowed_parallelism, 2);
  bench::ForecastLoan loan("tern-32", 1);
  const forecast::TitleForecaster title(forecast::ForecastDisplay::fit(loan.evidence()).value());
  std::vector<programme::FrameRecord> kinds;
  for (const auto& p : pictures()) {
    const auto seen = bench::picture_of(p.frame);
    kinds.push_back(programme::FrameMeter::make(seen.format).value().measure(seen).value());
  }
  if (kinds.empty()) return {};
  std::vector<programme::FrameRecord> frames;
  for (std::size_t i = 0; i < 200000; ++i) {
    frames.push_back(kinds[i % kinds.size()]);
    auto& f = frames.back();
    f.figures.index = static_cast<std::int64_t>(i);
    f.figures.time_s = static_cast<double>(i) / 24;
    for (auto& b : f.blocks) b = static_cast<std::uint16_t>(b * (1 - 1e-6 * static_cast<double>(i % 1000)));
  }
  double least = 1e9;
  for (int round = 0; round < 3; ++round)
    least = std::min(least, seconds_of([&] {
                       const auto outlook = title.forecast(frames);
                       const auto worst = forecast::worst_moments(outlook, 20, 5);
                       if (worst.empty()) std::abort();
                     }));
  return {{"forecast_survey_s", least, "s for 200 000 frames on 2 cores", "< 2", least < 2}};
}

std::vector<bench::Figure> frame_speed() {
  const tbb::global_control two(tbb::global_control::max_allowed_parallelism, 2);
  auto reader = programme::open_reader((std::filesystem::path(folder()) / "pan4k_hdr10_hevc_2s.mp4").string());
  if (!reader) return {};
  std::vector<programme::Picture> frames;
  for (int i = 0; i < 8; ++i) frames.push_back((*reader)->next().value().value());
  std::vector<bench::Figure> out;
  for (const char* kind : {"tern-32", "curlew-27"}) {
    bench::ForecastLoan loan(kind, 1);
    const auto display = forecast::ForecastDisplay::fit(loan.evidence()).value();
    auto forecaster = forecast::FrameForecaster::make(display, frames.front().format).value();
    double least = 1e9;
    for (int round = 0; round < 3; ++round)
      least = std::min(least, seconds_of([&] {
                         for (const auto& f : frames) (void)forecaster.next(f, {1.0 / 24}).value();
                       }));
    const auto begun = std::clock();
    for (const auto& f : frames) (void)forecaster.next(f, {1.0 / 24}).value();
    const double cpu_s =
        static_cast<double>(std::clock() - begun) / CLOCKS_PER_SEC / static_cast<double>(frames.size());
    out.push_back({fmt::format("forecast_{}_cpu_s", kind), cpu_s, "s of one core a frame of 3840 x 2160", "<= 0.2",
                   cpu_s <= 0.2});
    const double rate = static_cast<double>(frames.size()) / least;
    out.push_back({fmt::format("forecast_{}_frames_per_s", kind), rate, "frames/s of 3840 x 2160 on 2 cores", ">= 10",
                   rate >= 10});
  }
  return out;
}

}  // namespace

int main(int argc, char** argv) {
  if (folder().empty() && !(argc > 1 && std::string(argv[1]) == "--list")) {
    fmt::print(stderr, "PROVENIT_HDR_PICTURES names no folder of pictures: nothing to forecast.\n");
    return 0;
  }
  return bench::run(argc, argv,
                    {entry_of("tern-32"),
                     entry_of("curlew-27"),
                     {.names = {"forecast_survey_s"}, .compute = survey_speed},
                     {.names = {"forecast_tern-32_cpu_s", "forecast_tern-32_frames_per_s", "forecast_curlew-27_cpu_s",
                                "forecast_curlew-27_frames_per_s"},
                      .compute = frame_speed}});
}
