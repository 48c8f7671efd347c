// The demo's displays are what their story says: plausible mastering displays with faults worth finding.
#include "fixture.h"
#include "provenit/colour/difference.h"
#include "provenit/colour/gamut.h"

namespace provenit::simulated::testing {
namespace {

class Demo {
 public:
  explicit Demo(const char* id) : display_(physics_of(id), clock_, {}) {}

  [[nodiscard]] double peak(double area) const { return display_.truth(white(area), warm()).Y; }
  [[nodiscard]] double black_level() const { return display_.truth(black(), warm()).Y; }
  [[nodiscard]] double white_error() const {
    const auto uv = [](const colour::Xy<>& c) {
      const double d = -2 * c.x + 12 * c.y + 3;
      return colour::UvPrime<>{.u = 4 * c.x / d, .v = 9 * c.y / d};
    };
    return colour::delta_uv_prime(uv(colour::d65_video), uv(xy_of(display_.truth(white(0.1), warm()))));
  }
  /// Mean Delta E ITP of 21 equal steps of PQ signal from black to 90 % of the claim, window 10 %.
  [[nodiscard]] double mean_difference() const {
    const double top =
        colour::pq_inverse_eotf(colour::Luminance<>{.cdm2 = 0.9 * display_.physics().claimed_peak_cdm2}).value;
    double sum = 0;
    for (int i = 0; i <= 20; ++i) {
      const auto s = patch(signal::grey_code({}, colour::Signal<>{.value = top * i / 20}), 0.1);
      const double y = colour::pq_eotf(colour::Signal<>{.value = signal_of(s)}).cdm2;
      const colour::AbsoluteXyz<> target{.X = y * 0.3127 / 0.3290, .Y = y, .Z = y * (1 - 0.3127 - 0.3290) / 0.3290};
      sum += colour::itp_difference(target, display_.truth(s, warm())).total / 21;
    }
    return sum;
  }
  [[nodiscard]] double coverage(const colour::Primaries<>& reference) const {
    const auto primary = [this](signal::CodeRgb code) { return xy_of(display_.truth(patch(code, 0.1), warm())); };
    const colour::Primaries<> own{.red = primary({.code = {500, 64, 64}}),
                                  .green = primary({.code = {64, 500, 64}}),
                                  .blue = primary({.code = {64, 64, 500}}),
                                  .white = colour::d65_video};
    return colour::gamut_coverage(colour::ChromaticityPlane::uv_prime, own, reference);
  }
  [[nodiscard]] double checkerboard_contrast(int columns, int rows) const {
    auto s = white();
    s.geometry = {.shape = signal::Shape::checkerboard, .columns = columns, .rows = rows};
    const double bright = display_.truth(s, warm()).Y;
    std::swap(s.patch, s.surround);
    return bright / display_.truth(s, warm()).Y;
  }

 private:
  SimulatedClock clock_{kStart};
  SimulatedDisplay display_;
};

TEST(DemoDisplays, Tern32) {
  const Demo tern("tern-32");
  EXPECT_NEAR(tern.peak(0.1), 1400, 30);
  EXPECT_GT(tern.peak(0.01), 1250);
  EXPECT_LT(tern.peak(0.01), 1370);
  EXPECT_NEAR(tern.peak(1), 1100, 60);
  EXPECT_GT(tern.black_level(), 0.002);
  EXPECT_LT(tern.black_level(), 0.02);
  EXPECT_GT(tern.white_error(), 0.002);
  EXPECT_LT(tern.white_error(), 0.004);
  EXPECT_GT(tern.mean_difference(), 1.5);
  EXPECT_LT(tern.mean_difference(), 4);
  EXPECT_GT(tern.coverage(colour::p3_d65_primaries), 0.97);
  EXPECT_NEAR(tern.coverage(colour::bt2020_primaries), 0.86, 0.04);
  EXPECT_NEAR(tern.checkerboard_contrast(5, 5), 6000, 3000);
}

TEST(DemoDisplays, Curlew27) {
  const Demo curlew("curlew-27");
  EXPECT_NEAR(curlew.peak(0.01), 900, 15);
  EXPECT_NEAR(curlew.peak(0.05), 900, 15);
  EXPECT_NEAR(curlew.peak(1), 250, 10);
  EXPECT_LT(curlew.black_level(), 0.0005);
  EXPECT_GT(curlew.black_level(), 0);
  EXPECT_LT(curlew.white_error(), 0.002);
  EXPECT_GT(curlew.mean_difference(), 1);
  EXPECT_LT(curlew.mean_difference(), 3);
  EXPECT_GT(curlew.coverage(colour::p3_d65_primaries), 0.98);
  EXPECT_NEAR(curlew.coverage(colour::bt2020_primaries), 0.87, 0.04);
  EXPECT_GT(curlew.checkerboard_contrast(5, 5), 1e6);
}

}  // namespace
}  // namespace provenit::simulated::testing
