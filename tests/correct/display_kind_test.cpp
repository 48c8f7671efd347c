#include "provenit/correct/display_kind.h"

#include <gmock/gmock.h>

#include <set>

#include "provenit/correct/lut_files.h"
#include "tables.h"

namespace provenit::correct {
namespace {

using testing::HasSubstr;

TEST(DisplayKind, WhatEachOfOursTakesCanBeWrittenInItsFiles) {
  ASSERT_GE(display_kinds().size(), 4U);
  for (const DisplayKind& kind : display_kinds()) {
    for (const std::string& shape : kind.tables) {
      std::vector<Stage> stages;
      if (shape != "3d") stages.emplace_back(bent_1d(kind.sizes_1d.back()));
      if (shape == "3x3_1d") stages.emplace_back(Affine{});
      if (shape == "3x3_1d") stages.emplace_back(bent_1d(kind.sizes_1d.front()));
      if (shape.ends_with("3d")) stages.emplace_back(rough_3d(kind.sizes_3d.front(), 1));
      const auto lut = fitted(lut_of(stages), kind);
      ASSERT_TRUE(lut) << kind.id << shape << lut.error().text();
      EXPECT_EQ(shape_of(*lut), shape);
      bool written = false;
      for (const std::string& file : kind.files)
        written = written || (file == "clf" && clf_text(*lut)) || (file == "cube" && cube_text(*lut)) ||
                  (file == "icc" && icc_link_bytes(*lut, {}));
      EXPECT_TRUE(written) << kind.id << shape;
    }
  }
}

TEST(DisplayKind, FittedEntriesAreThoseOfTheDisplay) {
  const auto kind = find_kind(display_kinds(), "table-3d-33");
  ASSERT_TRUE(kind);
  const Lut lut = lut_of({rough_3d(33, 2)});
  const auto held = fitted(lut, *kind);
  ASSERT_TRUE(held);
  EXPECT_EQ(std::get<Lut3d>(held->stages[0]).nodes, std::get<Lut3d>(rounded(lut, 12).stages[0]).nodes);
}

TEST(DisplayKind, WhatItDoesNotTake) {
  const auto kind = find_kind(display_kinds(), "table-3d-17").value();
  const auto fault = [&](const Lut& lut) {
    const auto held = fitted(lut, kind);
    return held ? std::string("none") : held.error().text();
  };
  EXPECT_THAT(fault(lut_of({rough_3d(33, 1)})), HasSubstr("3D tables of 33 nodes. Solve for one of these sizes: 17"));
  EXPECT_THAT(fault(lut_of({bent_1d(1024), rough_3d(17, 1)})), HasSubstr("a table of the shape 1d_3d"));
  EXPECT_THAT(fault(lut_of({rough_3d(17, 1), some_matrix()})), HasSubstr("does not take these stages"));
  Lut scaled = lut_of({rough_3d(17, 1)});
  scaled.input = Values{.encoding = {.range = signal::Range::narrow}, .scale = Scale::signal};
  EXPECT_THAT(fault(scaled), HasSubstr("Solve for the scale 'code'"));
  EXPECT_THAT(find_kind(display_kinds(), "abacus").error().text(), HasSubstr("table-3d-17, table-3d-33"));
}

TEST(DisplayKind, FaultsOfAFileSayWhere) {
  const auto fault = [](const std::string& text) {
    const auto kinds = display_kinds_from(text, "kinds.toml");
    return kinds ? std::string("none") : kinds.error().text();
  };
  const std::string good =
      "[[kind]]\nid = \"a\"\ntitle = \"b\"\ntables = [\"3d\"]\nsizes_1d = []\nsizes_3d = [17]\nentry_bits = 10\n"
      "files = [\"cube\"]\nscale = \"code\"\n";
  const auto with = [&](const std::string& from, const std::string& to) {
    std::string text = good;
    return text.replace(text.find(from), from.size(), to);
  };
  EXPECT_EQ(fault(good), "none");
  EXPECT_THAT(fault(good + good), HasSubstr("kinds.toml:11 (id): 'a' stands there twice"));
  EXPECT_THAT(fault(with("[17]", "[1]")), HasSubstr("kinds.toml:6 (sizes_3d)"));
  EXPECT_THAT(fault(with("\"3d\"", "\"4d\"")), HasSubstr("kinds.toml:4 (tables): tables has an unknown word"));
  EXPECT_THAT(fault(with("[\"3d\"]", "[]")), HasSubstr("tables names nothing"));
  EXPECT_THAT(fault(with("10", "7")), HasSubstr("kinds.toml:7 (entry_bits)"));
  EXPECT_THAT(fault(with("\"code\"", "\"volts\"")), HasSubstr("'volts' is no scale"));
  EXPECT_THAT(fault(with("title = \"b\"", "titel = \"b\"")), HasSubstr("'titel' is no key of a kind"));
  EXPECT_THAT(fault("kind = 3"), HasSubstr("has [[kind]] tables"));
  EXPECT_THAT(fault("[[kind]\n"), HasSubstr("kinds.toml:1"));
}

}  // namespace
}  // namespace provenit::correct
