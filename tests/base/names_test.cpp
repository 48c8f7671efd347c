#include "provenit/base/names.h"

#include <gtest/gtest.h>

namespace provenit {
namespace {

enum class Tide { low, high };
struct Row {
  Tide value;
  const char* name;
  int metres;  // rows may hold more than a name
};
constexpr Named<Tide> tides[] = {{Tide::low, "low"}, {Tide::high, "high"}};
constexpr Row rows[] = {{Tide::low, "low", 1}, {Tide::high, "high", 5}};

TEST(Names, GoBothWays) {
  EXPECT_STREQ(row_of(tides, Tide::high).name, "high");
  EXPECT_EQ(row_of(rows, Tide::high).metres, 5);
  EXPECT_EQ(value_of(tides, "low"), Tide::low);
  EXPECT_EQ(value_of(rows, "high"), Tide::high);
  for (const char* other : {"", "High", "low ", "lo"}) EXPECT_EQ(value_of(tides, other), std::nullopt) << other;
}

}  // namespace
}  // namespace provenit
