// Questions about spectra, with and without an instrument that reads them.
#include <gmock/gmock.h>

#include "provenit/procedure/planner.h"

namespace provenit::procedure {
namespace {

using testing::HasSubstr;

Plan plan_with(bool spectral) {
  PlanRequest request;
  store::QuestionRecord question;
  question.key = "width";
  question.quantity = "peak_width";
  question.conditions = {{"primary", "red"}};
  request.questions = {question};
  request.available = Seconds{7200};
  request.warmed_up = true;
  request.context.capabilities.spectral = spectral;
  const auto plan = make_plan(request);
  EXPECT_TRUE(plan) << (plan ? "" : plan.error().text());
  return plan.value_or(Plan{});
}

TEST(SpectraPlan, IsMadeForASpectralInstrumentOnly) {
  const auto with = plan_with(true);
  ASSERT_EQ(with.runs.size(), 1u);
  EXPECT_EQ(with.runs[0].procedure, "spectra");
  const auto without = plan_with(false);
  EXPECT_TRUE(without.runs.empty());
  ASSERT_EQ(without.left_out.size(), 1u);
  EXPECT_EQ(without.left_out[0].reason, LeftOut::Reason::other_instrument);
  EXPECT_STREQ(name_of(without.left_out[0].reason), "other_instrument");
  EXPECT_THAT(without.left_out[0].text, HasSubstr("spectra"));
}

}  // namespace
}  // namespace provenit::procedure
