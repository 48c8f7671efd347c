#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <nlohmann/json.hpp>

#include "provenit/selfcheck/selfcheck.h"

namespace provenit::selfcheck {
namespace {

using testing::HasSubstr;
using testing::Not;

Report mixed() {
  return check_table(
             "id,quantity,inputs,expected,tolerance,source\n"
             "good,pq_eotf,E=1,10000,abs:1e-9,a standard\n"
             "bad,pq_eotf,E=0.5,0,rel:1e-9,another\n"
             "odd,pq_eotf,E=high,0,rel:1e-9,another\n",
             "t.csv")
      .value();
}

TEST(Format, TextHasEveryColumnAndTheCounts) {
  const auto text = text_of(mixed());
  for (const auto* part : {"id", "quantity", "expected", "got", "error", "tolerance", "verdict", "source"})
    EXPECT_THAT(text, HasSubstr(part));
  EXPECT_THAT(text, HasSubstr("a standard"));
  EXPECT_THAT(text, HasSubstr("t.csv:4 (E)"));
  EXPECT_THAT(text, HasSubstr("1 of 3 rows pass, 1 fail, 1 could not be computed."));
  EXPECT_THAT(text_of(mixed(), true), Not(HasSubstr("a standard")));
  EXPECT_THAT(text_of(mixed(), true), HasSubstr("bad "));
}

TEST(Format, JsonHoldsRowsErrorsAndCounts) {
  const auto json = json_of(mixed());
  EXPECT_EQ(json.at("passed"), 1);
  EXPECT_EQ(json.at("failed"), 1);
  EXPECT_EQ(json.at("not_computed"), 1);
  const auto& good = json.at("rows").at(0);
  EXPECT_EQ(good.at("id"), "good");
  EXPECT_EQ(good.at("verdict"), "pass");
  EXPECT_EQ(good.at("expected").at(0), 10000.0);
  EXPECT_EQ(good.at("line"), 2);
  EXPECT_TRUE(json.at("rows").at(1).at("error").is_null()) << "an infinite error has no number";
  EXPECT_EQ(json.at("errors").at(0).at("field"), "E");
  EXPECT_EQ(json.at("errors").at(0).at("code"), "invalid_input");
  EXPECT_NO_THROW(static_cast<void>(json.dump()));
}

}  // namespace
}  // namespace provenit::selfcheck
