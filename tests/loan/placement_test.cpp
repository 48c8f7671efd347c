// The meter's place from sitting to sitting: simulated, and asked of a person.
#include <gmock/gmock.h>

#include <cstdlib>
#include <filesystem>
#include <sstream>

#include "provenit/loan/loan.h"

namespace provenit::loan {
namespace {

using instrument::LocalDimming;
using instrument::Placement;
using testing::HasSubstr;
using testing::Not;

class StillClock final : public Clock {
 public:
  Timestamp now() const override { return {1.8e9 + 5000}; }
  void wait(Seconds) override {}
};

class Places : public testing::Test {
 protected:
  Places() {
    auto name = (std::filesystem::temp_directory_path() / "provenit_places_XXXXXX").string();
    if (mkdtemp(name.data()) == nullptr) std::abort();
    folder_ = name;
  }
  ~Places() override { std::filesystem::remove_all(folder_); }

  /// A loan of a simulated pair, or of a display and a meter read off by a person.
  store::LoanRecord make(store::Bench& bench, bool simulated) {
    store::DisplayRecord display{.name = "Tern 32"};
    if (simulated) display.details["simulated"] = "tern-32";
    const store::InstrumentRecord meter{.name = "meter", .kind = simulated ? "simulated" : "manual"};
    store::LoanRecord loan{.display = bench.put(display).value(),
                           .instrument = bench.put(meter).value(),
                           .room = bench.put(store::RoomRecord{.name = "room"}).value(),
                           .starts = {1.8e9},
                           .ends = {1.8e9 + 86400}};
    loan.id = bench.put(loan).value();
    return loan;
  }
  store::Bench bench(const char* name) {
    return store::Bench::create(folder_ + "/" + name, "test", "nobody", {1.8e9}).value();
  }
  void keep(store::Bench& bench, const store::LoanRecord& loan, const nlohmann::json& context) {
    const auto run = bench.begin_run({.loan = loan.id, .procedure = "uniformity", .started = loan.starts}).value();
    store::ReadingRecord reading{.run = run, .step = "point_1_1", .taken = loan.starts + Seconds{100}};
    reading.measurement.xyz = {.X = 95, .Y = 100, .Z = 108};
    reading.measurement.integration = {0.5};
    reading.context = context;
    ASSERT_TRUE(bench.add_reading(reading));
  }
  std::string folder_;
};

TEST_F(Places, MovingTheSimulatedMeterTakesItsTimeAndALaterSittingFindsItWhereItWas) {
  auto b = bench("simulated.bench");
  const auto loan = make(b, true);
  auto first = open_devices(b, loan, {}).value();
  const auto begun = first->clock().now();
  ASSERT_TRUE(first->presenter().place({}));
  EXPECT_EQ(first->clock().now(), begun);
  const Placement corner{.x = 0.1, .y = 0.1};
  ASSERT_TRUE(first->presenter().place(corner));
  EXPECT_EQ((first->clock().now() - begun), instrument::kUsualMove);

  keep(b, loan, {{"placement", instrument::to_json(corner)}, {"local_dimming", "off"}});
  auto later = open_devices(b, loan, {}).value();
  const auto resumed = later->clock().now();
  ASSERT_TRUE(later->presenter().place(corner));
  ASSERT_TRUE(later->presenter().set_local_dimming(LocalDimming::off));
  EXPECT_EQ(later->clock().now(), resumed) << "it stands there already";
  ASSERT_TRUE(later->presenter().place({}));
  EXPECT_EQ((later->clock().now() - resumed), instrument::kUsualMove);
}

TEST_F(Places, APersonIsAskedToTakeBackWhatAnEarlierSittingLeft) {
  auto b = bench("manual.bench");
  const auto loan = make(b, false);
  StillClock clock;
  std::istringstream in("\n\n\n\n");
  std::ostringstream out;
  const DeviceOptions options{.machine_clock = &clock, .in = &in, .out = &out, .picture_folder = {}};
  ASSERT_TRUE(open_devices(b, loan, options).value()->presenter().place({}));
  EXPECT_THAT(out.str(), Not(HasSubstr("Move the meter")));
  keep(b, loan, {{"placement", instrument::to_json(Placement{.horizontal_deg = 45})}, {"local_dimming", "off"}});
  auto later = open_devices(b, loan, options).value();
  ASSERT_TRUE(later->presenter().place({}));
  EXPECT_THAT(out.str(), HasSubstr("Move the meter to the centre of the picture, head on"));
  ASSERT_TRUE(later->presenter().set_local_dimming(LocalDimming::as_found));
  EXPECT_THAT(out.str(), HasSubstr("back to what it was before"));
}

}  // namespace
}  // namespace provenit::loan
