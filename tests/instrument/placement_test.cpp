#include "provenit/instrument/placement.h"

#include <gmock/gmock.h>

#include <limits>
#include <nlohmann/json.hpp>
#include <sstream>

#include "provenit/instrument/manual.h"

namespace provenit::instrument {
namespace {

using testing::HasSubstr;

TEST(Placement, GoesToJsonAndBack) {
  const Placement p{.x = 0.1, .y = 0.9, .horizontal_deg = -30, .vertical_deg = 15.5};
  EXPECT_EQ(placement_from_json(to_json(p)).value(), p);
  EXPECT_EQ(to_json(Placement{}).dump(), R"({"horizontal_deg":0.0,"vertical_deg":0.0,"x":0.5,"y":0.5})");
}

TEST(Placement, OtherJsonIsRefused) {
  auto json = to_json(Placement{});
  for (const char* key : {"x", "vertical_deg"}) {
    auto bad = json;
    bad.erase(key);
    EXPECT_EQ(placement_from_json(bad).error().code, ErrorCode::invalid_input) << key;
    bad = json;
    bad[key] = "0.5";
    EXPECT_FALSE(placement_from_json(bad)) << key;
  }
  json["z"] = 1;
  EXPECT_FALSE(placement_from_json(json));
  EXPECT_FALSE(placement_from_json(nlohmann::json::array()));
}

TEST(Placement, MustLieOnThePictureAndInFrontOfIt) {
  EXPECT_TRUE(validate({.x = 0, .y = 1, .horizontal_deg = 89.9, .vertical_deg = -89.9}));
  EXPECT_EQ(validate({.x = -0.01}).error().where.field, "x");
  EXPECT_EQ(validate({.y = 1.01}).error().where.field, "y");
  EXPECT_EQ(validate({.horizontal_deg = 90}).error().where.field, "horizontal_deg");
  EXPECT_EQ(validate({.vertical_deg = -90}).error().where.field, "vertical_deg");
  EXPECT_FALSE(validate({.x = std::numeric_limits<double>::quiet_NaN()}));
}

TEST(Placement, IsToldInWords) {
  EXPECT_EQ(describe(Placement{}), "the centre of the picture, head on");
  EXPECT_EQ(describe({.x = 0.1, .y = 0.9}), "10 % across and 90 % down the picture, head on");
  EXPECT_EQ(describe(Placement{.horizontal_deg = -30}), "the centre of the picture, from 30 degrees to the left");
  EXPECT_THAT(describe({.horizontal_deg = 30, .vertical_deg = 10}),
              HasSubstr("30 degrees to the right and 10 degrees above"));
  EXPECT_THAT(describe(Placement{.vertical_deg = -10}), HasSubstr("10 degrees below"));
}

TEST(LocalDimming, HasNames) {
  for (const auto mode : {LocalDimming::as_found, LocalDimming::on, LocalDimming::off})
    EXPECT_EQ(local_dimming_from_name(name_of(mode)), mode);
  EXPECT_FALSE(local_dimming_from_name("ON"));
}

class Silent final : public Presenter {
 public:
  Result<void> show(const signal::Signal&) override { return {}; }
};

TEST(Presenter, WhereNobodyCanBeAskedTheMeterStaysAtTheCentre) {
  Silent presenter;
  EXPECT_TRUE(presenter.place({}));
  const auto moved = presenter.place({.x = 0.2});
  ASSERT_FALSE(moved);
  EXPECT_EQ(moved.error().code, ErrorCode::unsupported);
  EXPECT_THAT(moved.error().text(), HasSubstr("20 % across"));
  EXPECT_TRUE(presenter.set_local_dimming(LocalDimming::as_found));
  EXPECT_EQ(presenter.set_local_dimming(LocalDimming::off).error().code, ErrorCode::unsupported);
}

TEST(ManualPresenter, AsksForAMoveOnceAndOnlyWhenThePlaceChanges) {
  std::istringstream in("\n\nstop\n\n");
  std::ostringstream out;
  ManualPresenter presenter(in, out);
  EXPECT_TRUE(presenter.place({}));
  EXPECT_EQ(out.str(), "");
  EXPECT_TRUE(presenter.place({.x = 0.1, .y = 0.1}));
  EXPECT_THAT(out.str(),
              HasSubstr("Move the meter to 10 % across and 10 % down the picture, head on, then press Enter"));
  const auto length = out.str().size();
  EXPECT_TRUE(presenter.place({.x = 0.1, .y = 0.1}));
  EXPECT_EQ(out.str().size(), length);
  EXPECT_TRUE(presenter.place({}));
  EXPECT_EQ(presenter.place({.horizontal_deg = 20}).error().code, ErrorCode::cancelled);
  EXPECT_TRUE(presenter.place({})) << "asked again: nobody knows where it stands";
  EXPECT_FALSE(presenter.place({.x = 0.4})) << "the input has ended";
}

TEST(ManualPresenter, AsksForTheModeAndForTheWayBack) {
  std::istringstream in("\n\n\n");
  std::ostringstream out;
  ManualPresenter presenter(in, out);
  EXPECT_TRUE(presenter.set_local_dimming(LocalDimming::as_found));
  EXPECT_EQ(out.str(), "");
  EXPECT_TRUE(presenter.set_local_dimming(LocalDimming::off));
  EXPECT_THAT(out.str(), HasSubstr("Switch the display's local dimming off"));
  EXPECT_TRUE(presenter.set_local_dimming(LocalDimming::as_found));
  EXPECT_THAT(out.str(), HasSubstr("back to what it was before"));
  presenter.set_standing({.x = 0.3}, LocalDimming::on);
  const auto length = out.str().size();
  EXPECT_TRUE(presenter.place({.x = 0.3}));
  EXPECT_TRUE(presenter.set_local_dimming(LocalDimming::on));
  EXPECT_EQ(out.str().size(), length);
}

}  // namespace
}  // namespace provenit::instrument
