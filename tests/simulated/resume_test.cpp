// A run that was cut off and taken up again gives the very readings it would have given.
#include <memory>
#include <vector>

#include "fixture.h"

namespace provenit::simulated::testing {
namespace {

struct Taken {
  Timestamp at;
  instrument::Measurement measurement;
};

/// Clock, display and meter of one loan, made from what a bench stores.
class Loan {
 public:
  Loan(const char* display_id, Timestamp now, bool spectral)
      : clock_(now), display_(physics_of(display_id), clock_, {.seed = 42, .powered_on = kStart}) {
    MeterModel model;
    model.capabilities.spectral = spectral;
    meter_ = std::make_unique<SimulatedMeter>(model, display_, clock_, 42);
  }
  Taken read(std::int64_t index) {
    const std::array signals{white(0.1), black(), grey(100, 0.1), white(), grey(0.5), white(0.02)};
    EXPECT_TRUE(display_.show(signals[static_cast<std::size_t>(index) % signals.size()]));
    clock_.wait({2});
    const Timestamp at = clock_.now();
    return {at, *meter_->measure(index)};
  }
  [[nodiscard]] Timestamp end_of(const Taken& t) const { return meter_->end_of(t.at, t.measurement.integration); }

 private:
  SimulatedClock clock_;
  SimulatedDisplay display_;
  std::unique_ptr<SimulatedMeter> meter_;
};

TEST(Resume, ReadingsAreTheSameToTheLastBit) {
  for (const auto* id : {"tern-32", "curlew-27"})
    for (const bool spectral : {false, true}) {
      std::vector<Taken> whole;
      Loan loan(id, kStart, spectral);
      for (int i = 0; i < 24; ++i) whole.push_back(loan.read(i));
      for (const int cut : {1, 7, 16}) {
        Loan again(id, loan.end_of(whole[cut - 1]), spectral);
        for (int i = cut; i < 24; ++i) {
          const Taken t = again.read(i);
          ASSERT_EQ(t.at, whole[i].at) << id << " reading " << i;
          ASSERT_EQ(t.measurement.xyz.X, whole[i].measurement.xyz.X) << id << " reading " << i;
          ASSERT_EQ(t.measurement.xyz.Y, whole[i].measurement.xyz.Y) << id << " reading " << i;
          ASSERT_EQ(t.measurement.xyz.Z, whole[i].measurement.xyz.Z) << id << " reading " << i;
          if (spectral) {
            ASSERT_EQ(t.measurement.spectrum->radiance, whole[i].measurement.spectrum->radiance);
          }
        }
      }
    }
}

TEST(Resume, AnotherSeedReadsDifferently) {
  SimulatedClock clock(kStart);
  SimulatedDisplay display(physics_of("tern-32"), clock, {});
  SimulatedMeter a({}, display, clock, 1), b({}, display, clock, 2);
  const auto first = a.measure(0), second = b.measure(0), third = a.measure(1);
  EXPECT_NE(first->xyz.Y, second->xyz.Y);
  EXPECT_NE(first->xyz.Y, third->xyz.Y);
}

TEST(Resume, TheUsualSettleTimeOutlastsTheLag) {
  SimulatedClock clock(kStart);
  for (const auto* id : {"tern-32", "curlew-27"}) {
    SimulatedDisplay display(physics_of(id), clock, {});
    EXPECT_LT(display.lag().s, 2) << id;
  }
}

}  // namespace
}  // namespace provenit::simulated::testing
