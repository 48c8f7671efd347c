#include "provenit/instrument/manual.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <nlohmann/json.hpp>
#include <sstream>

#include "provenit/colour/spaces.h"

namespace provenit::instrument {
namespace {

using ::testing::HasSubstr;
using ::testing::Not;

const signal::Signal kWhite{.patch = {{940, 940, 940}},
                            .geometry = {.shape = signal::Shape::window, .area_fraction = 0.1}};

TEST(ParseTyped, TakesBothFormsAsPeopleWriteThem) {
  for (const char* line :
       {"203.5 0.3127 0.3290", " 203,5\t0,3127  0,3290 ", "203.5;0.3127;0.3290", "203.5, 0.3127, 0.3290"}) {
    const auto xyz = parse_typed(line, TypedForm::Yxy, 10000);
    ASSERT_TRUE(xyz) << line << ": " << xyz.error().text();
    EXPECT_DOUBLE_EQ(xyz->Y, 203.5);
    EXPECT_NEAR(colour::xy_from_xyz(*xyz).x, 0.3127, 1e-12);
  }
  const auto xyz = parse_typed("95.05 100 108.9", TypedForm::XYZ, 10000);
  ASSERT_TRUE(xyz);
  EXPECT_DOUBLE_EQ(xyz->Z, 108.9);
}

TEST(ParseTyped, SaysWhatIsWrong) {
  const auto why = [](const char* line, TypedForm form) {
    const auto xyz = parse_typed(line, form, 10000);
    return xyz ? std::string("accepted") : xyz.error().text();
  };
  EXPECT_THAT(why("203.5 0.3127", TypedForm::Yxy), HasSubstr("2 values were typed"));
  EXPECT_THAT(why("", TypedForm::Yxy), HasSubstr("0 values"));
  EXPECT_THAT(why("203.5 0.3127 abc", TypedForm::Yxy), HasSubstr("'abc' is not a number"));
  EXPECT_THAT(why("203.5 0.9 0.3", TypedForm::Yxy), HasSubstr("no light has the chromaticity"));
  EXPECT_THAT(why("95.05 100 108.9", TypedForm::Yxy), HasSubstr("look like X Y Z"));
  EXPECT_THAT(why("203.5 0.3127 0.3290", TypedForm::XYZ), HasSubstr("look like Y (cd/m2) x y"));
  EXPECT_THAT(why("20350 0.3127 0.3290", TypedForm::Yxy), HasSubstr("above what this instrument reads"));
  EXPECT_THAT(why("-5 0.3127 0.3290", TypedForm::Yxy), HasSubstr("more negative"));
  EXPECT_THAT(why("nan 0.3 0.3", TypedForm::Yxy), HasSubstr("not a number"));
}

TEST(ManualPresenter, AsksForControlsThatStandElsewhereAndTakesWhatWasReallySet) {
  std::istringstream in("\nHue = 3\nRed gain = 53\n\nstop\n");
  std::ostringstream out;
  ManualPresenter presenter(in, out);
  const ControlSettings both{{.name = "Red gain", .value = 54}, {.name = "Blue gain", .value = 50}};
  presenter.set_standing({}, LocalDimming::as_found, {{.name = "Red gain", .value = 50}, both[1]});
  ASSERT_EQ(presenter.set_controls(both).value(), both);
  EXPECT_THAT(out.str(), HasSubstr("Red gain: 54"));
  EXPECT_THAT(out.str(), Not(HasSubstr("Blue gain: 50"))) << "it stands there";
  ASSERT_EQ(presenter.set_controls(both).value(), both) << "nothing is asked";
  auto other = both;
  other[0].value = 52;
  const auto set = presenter.set_controls(other).value();
  EXPECT_THAT(out.str(), HasSubstr("there is no control 'Hue'"));
  EXPECT_EQ(set[0].value, 53);
  const auto stopped = presenter.set_controls(both);
  ASSERT_FALSE(stopped);
  EXPECT_EQ(stopped.error().code, ErrorCode::cancelled);
}

TEST(ControlSettings, GoIntoJsonAndBackInTheirOrder) {
  const ControlSettings settings{{.name = "b", .value = 0.5}, {.name = "a", .value = -3}};
  EXPECT_EQ(control_settings_from_json(to_json(settings)).value(), settings);
  for (const char* bad : {"{}", "[1]", "[[\"a\"]]", "[[\"a\", \"b\"]]", "[[\"a\", 1], [\"a\", 2]]"})
    EXPECT_FALSE(control_settings_from_json(nlohmann::json::parse(bad))) << bad;
  EXPECT_EQ(describe(settings), "b 0.5, a -3");
}

TEST(ManualPresenter, AsksOnceForEachSignalAndNamesThePicture) {
  std::istringstream in("\n\n");
  std::ostringstream out;
  ManualPresenter presenter(in, out);
  presenter.set_picture("white.png");
  ASSERT_TRUE(presenter.show(kWhite));
  ASSERT_TRUE(presenter.show(kWhite));
  EXPECT_THAT(out.str(), HasSubstr("Signal 1: " + signal::describe(kWhite)));
  EXPECT_THAT(out.str(), HasSubstr("white.png"));
  auto other = kWhite;
  other.patch = {{64, 64, 64}};
  ASSERT_TRUE(presenter.show(other));
  EXPECT_THAT(out.str(), HasSubstr("Signal 2: "));
  EXPECT_EQ(presenter.shown(), other);
  const auto end = presenter.show(kWhite);
  ASSERT_FALSE(end);
  EXPECT_EQ(end.error().code, ErrorCode::cancelled);
  EXPECT_FALSE(presenter.shown()) << "nobody said that it is shown";
}

struct Typed {
  explicit Typed(const std::string& input, TypedForm form = TypedForm::Yxy) : in("\n" + input), presenter(in, out) {
    static_cast<void>(presenter.show(kWhite));
    instrument.emplace(in, out, ManualInstrument::Options{.form = form, .identity = {.name = "meter"}}, &presenter);
  }
  std::istringstream in;
  std::ostringstream out;
  ManualPresenter presenter;
  std::optional<ManualInstrument> instrument;
};

TEST(ManualInstrument, AsksAgainUntilTheInputIsRightAndKeepsItOnlyAfterEnter) {
  Typed t("203\n203 0.3127 abc\n203 0.3127 0.3290\nrepeat\n204 0.3127 0.3290\n\n");
  const auto m = t.instrument->measure(4);
  ASSERT_TRUE(m) << m.error().text();
  EXPECT_DOUBLE_EQ(m->xyz.Y, 204);
  EXPECT_EQ(m->raw_reply, "204 0.3127 0.3290");
  EXPECT_THAT(t.out.str(), HasSubstr("Reading 5 of " + signal::describe(kWhite)));
  EXPECT_THAT(t.out.str(), HasSubstr("1 values were typed"));
  EXPECT_THAT(t.out.str(), HasSubstr("'abc' is not a number"));
  const auto events = t.instrument->take_events();
  ASSERT_EQ(events.size(), 2U);
  EXPECT_EQ(events[0].kind, "refused_input");
  EXPECT_EQ(events[1].raw, "203 0.3127 abc");
}

TEST(ManualInstrument, SkipStopAndTheEndOfTheInputAreToldApart) {
  Typed t("skip\nstop\n203 0.3127 0.3290\nstop\n");
  const auto skipped = t.instrument->measure(0);
  ASSERT_FALSE(skipped);
  EXPECT_TRUE(is_skip(skipped.error()));
  for (int i = 0; i < 3; ++i) {  // stop, stop before keeping, end of the input
    const auto stopped = t.instrument->measure(1);
    ASSERT_FALSE(stopped);
    EXPECT_EQ(stopped.error().code, ErrorCode::cancelled);
    EXPECT_FALSE(is_skip(stopped.error()));
  }
}

TEST(ManualInstrument, TristimulusValuesAndIdentity) {
  Typed t("95.05 100 108.9\n\n", TypedForm::XYZ);
  const auto m = t.instrument->measure(0);
  ASSERT_TRUE(m);
  EXPECT_DOUBLE_EQ(m->xyz.X, 95.05);
  EXPECT_EQ(t.instrument->identify()->name, "meter");
  EXPECT_EQ(typed_form_of("XYZ"), TypedForm::XYZ);
  EXPECT_FALSE(typed_form_of("xyY"));
}

}  // namespace
}  // namespace provenit::instrument
