// How closely the transfer functions undo each other.
#include <algorithm>
#include <cmath>
#include <initializer_list>
#include <vector>

#include "figure.h"
#include "provenit/colour/transfer.h"

namespace {

using namespace provenit::colour;
using provenit::bench::Figure;

constexpr int kPoints = 1'000'000;
constexpr double kBar = 1e-9;

Figure round_trip(const char* name, double worst) {
  return {.name = name, .value = worst, .unit = "relative", .bar = "<= 1e-9", .holds = worst <= kBar};
}

/// Largest relative error, both ways: light over 34 decades to 10 000 cd/m2, and signal from 1e-6 to 1.
double pq_round_trip() {
  double worst = 0;
  for (int i = 0; i <= kPoints; ++i) {
    const double t = double(i) / kPoints;
    const double light = pq::peak_cdm2 * std::pow(10.0, -34 * t), signal = 1e-6 + (1 - 1e-6) * t;
    const double light_again = pq_eotf(pq_inverse_eotf(Luminance<>{.cdm2 = light})).cdm2;
    const double signal_again = pq_inverse_eotf(pq_eotf(Signal<>{.value = signal})).value;
    worst = std::max({worst, std::fabs(light_again / light - 1), std::fabs(signal_again / signal - 1)});
  }
  return worst;
}

/// Largest relative error of OETF, its inverse, and the EOTF of colours on displays of many peaks and blacks, both
/// editions of the black level, from 1e-3 of the signal up.
double hlg_round_trip() {
  double worst = 0;
  for (int i = 1; i <= kPoints; ++i) {
    const double x = double(i) / kPoints;
    worst = std::max({worst, std::fabs(hlg_inverse_oetf(hlg_oetf(Relative<>{.value = x})).value / x - 1),
                      std::fabs(hlg_oetf(hlg_inverse_oetf(Signal<>{.value = x})).value / x - 1)});
  }
  for (const double peak : {100.0, 300.0, 400.0, 1000.0, 2000.0, 4000.0, 10000.0})
    for (const double black : {0.0, 0.0005, 0.005, 0.1})
      for (const Bt2100Edition edition : {Bt2100Edition::bt2100_1, Bt2100Edition::bt2100_2}) {
        HlgDisplay<> display = hlg_display(Luminance<>{.cdm2 = peak}, Luminance<>{.cdm2 = black});
        display.edition = edition;
        for (int i = 0; i < 10000; ++i) {
          const double t = i / 9999.0;  // three paths through the cube that cross each other's levels
          const SignalRgb<> in{.r = 1e-3 + 0.999 * t, .g = 1 - 0.999 * t, .b = 1e-3 + 0.999 * std::fabs(2 * t - 1)};
          const SignalRgb<> out = hlg_inverse_eotf(hlg_eotf(in, display), display);
          worst =
              std::max({worst, std::fabs(out.r / in.r - 1), std::fabs(out.g / in.g - 1), std::fabs(out.b / in.b - 1)});
        }
      }
  return worst;
}

}  // namespace

int main(int argc, char** argv) {
  return provenit::bench::run(argc, argv,
                              {{.names = {"pq_round_trip"},
                                .compute = [] { return std::vector{round_trip("pq_round_trip", pq_round_trip())}; }},
                               {.names = {"hlg_round_trip"}, .compute = [] {
                                  return std::vector{round_trip("hlg_round_trip", hlg_round_trip())};
                                }}});
}
