#include "provenit/evaluation/requirement.h"

#include <gmock/gmock.h>

#include <filesystem>
#include <set>

#include "provenit/base/text.h"
#include "provenit/procedure/catalogue.h"

namespace provenit::evaluation {
namespace {

using testing::Contains;
using testing::HasSubstr;
using testing::IsSupersetOf;

constexpr const char* kHead =
    "id = \"mine\"\ntitle = \"Mine\"\nsource = \"data sheet\"\nmark = \"claim\"\n\n[[question]]\n";

/// A set of one question; the question's first key stands on line 7.
Result<RequirementSet> parse(const std::string& question, const std::string& head = kHead) {
  return parse_requirement_set(head + question, "mine.toml");
}

TEST(RequirementSet, TenLinesMakeOne) {
  const auto set =
      parse("quantity = \"peak_luminance\"\nconditions = { window_percent = 10 }\nat_least = 1000\nunit = \"cd/m2\"\n");
  ASSERT_TRUE(set) << set.error().text();
  EXPECT_EQ(set->id, "mine");
  EXPECT_FALSE(set->invented);
  ASSERT_EQ(set->questions.size(), 1u);
  const auto& question = set->questions[0];
  EXPECT_EQ(question.key, "peak-luminance-10");
  EXPECT_EQ(question.set, "mine");
  EXPECT_EQ(question.text, "Peak luminance?");
  EXPECT_EQ(question.conditions, nlohmann::json({{"window_percent", 10}}));
  EXPECT_EQ(question.comparison, store::Comparison::at_least);
  EXPECT_EQ(question.lower, 1000.0);
  EXPECT_FALSE(question.upper);
  EXPECT_EQ(question.source, "data sheet");
  EXPECT_EQ(question.mark, store::SourceMark::claim);
  EXPECT_EQ(question.weight, 1);
}

TEST(RequirementSet, KnowsEveryComparisonAndItsOwnMark) {
  const auto set = parse(
      "quantity = \"white_cct\"\nwithin = [6300, 6700]\nunit = \"K\"\nmark = \"common_practice\"\nweight = 2.5\n"
      "source = \"elsewhere\"\n[[question]]\nquantity = \"black_luminance\"\nat_most = 0.005\nunit = \"cd/m2\"\n"
      "[[question]]\nquantity = \"drift\"\nunit = \"%/h\"\nclause = \"open clause\"\n");
  ASSERT_TRUE(set) << set.error().text();
  const auto& q = set->questions;
  EXPECT_EQ(q[0].comparison, store::Comparison::within);
  EXPECT_EQ(q[0].lower, 6300.0);
  EXPECT_EQ(q[0].upper, 6700.0);
  EXPECT_EQ(q[0].mark, store::SourceMark::common_practice);
  EXPECT_EQ(q[0].weight, 2.5);
  EXPECT_EQ(q[0].source, "elsewhere");
  EXPECT_EQ(q[1].comparison, store::Comparison::at_most);
  EXPECT_EQ(q[1].upper, 0.005);
  EXPECT_FALSE(q[2].lower || q[2].upper);
  EXPECT_EQ(q[2].mark, store::SourceMark::unset) << "without a limit there is nothing to claim";
}

struct Bad {
  const char* name;
  std::string question;
  int line;
  const char* field;
  const char* says;
};

class BadSet : public testing::TestWithParam<Bad> {};

TEST_P(BadSet, IsRefusedWithFileLineAndKey) {
  const auto set = parse(GetParam().question);
  ASSERT_FALSE(set);
  const auto& error = set.error();
  EXPECT_EQ(error.code, ErrorCode::invalid_input);
  EXPECT_EQ(error.where.file, "mine.toml");
  EXPECT_EQ(error.where.line, GetParam().line) << error.text();
  EXPECT_THAT(error.where.field, HasSubstr(GetParam().field));
  EXPECT_THAT(error.text(), HasSubstr(GetParam().says));
  EXPECT_FALSE(error.advice.empty());
}

const std::string kBlack = "quantity = \"black_luminance\"\nunit = \"cd/m2\"\n";
const std::string kPeak = "quantity = \"peak_luminance\"\nunit = \"cd/m2\"\n";

INSTANTIATE_TEST_SUITE_P(
    Files, BadSet,
    testing::Values(
        Bad{"syntax", "quantity = \n", 7, "", "Mend"},
        Bad{"unknown_key", kBlack + "limit = 3\n", 9, "limit", "'limit' is no key"},
        Bad{"unknown_quantity", "key = \"a\"\nquantity = \"sparkle\"\n", 8, "a: quantity", "'sparkle'"},
        Bad{"wrong_unit", "quantity = \"black_luminance\"\nunit = \"nit\"\n", 8, "unit", "cd/m2"},
        Bad{"no_unit", "quantity = \"black_luminance\"\n", 6, "unit", "cd/m2"},
        Bad{"condition_missing", kPeak + "at_least = 3\n", 6, "conditions", "window_percent"},
        Bad{"condition_unknown", kBlack + "conditions = { window_percent = 3 }\n", 9, "conditions", "no condition"},
        Bad{"condition_no_number", kPeak + "conditions = { window_percent = \"ten\" }\n", 9, "conditions", "number"},
        Bad{"condition_zero", kPeak + "conditions = { window_percent = 0 }\n", 9, "conditions", "above 0"},
        Bad{"condition_word",
            "quantity = \"gamut_coverage\"\nunit = \"%\"\nconditions = { reference = \"p3\", plane = \"uv\" }\n", 9,
            "conditions", "p3_d65"},
        Bad{"conditions_no_table", kPeak + "conditions = 10\n", 9, "conditions", "no table"},
        Bad{"two_comparisons", kBlack + "at_least = 1\nat_most = 2\n", 10, "at_most", "more than one"},
        Bad{"limit_as_text", kBlack + "at_most = \"0.005\"\n", 9, "at_most", "without quotes"},
        Bad{"limit_not_finite", kBlack + "at_most = inf\n", 9, "at_most", "finite"},
        Bad{"range_reversed", kBlack + "within = [2, 1]\n", 9, "within", "lower first"},
        Bad{"range_of_three", kBlack + "within = [1, 2, 3]\n", 9, "within", "lower first"},
        Bad{"range_of_text", kBlack + "within = [\"a\", \"b\"]\n", 9, "within", "lower first"},
        Bad{"range_no_list", kBlack + "within = 2\n", 9, "within", "lower first"},
        Bad{"from_memory", kBlack + "at_most = 1\nmark = \"from_memory\"\n", 10, "mark", "memory"},
        Bad{"unset_with_limit", kBlack + "at_most = 1\nmark = \"unset\"\n", 10, "mark", "without a mark"},
        Bad{"unknown_mark", kBlack + "at_most = 1\nmark = \"rumour\"\n", 10, "mark", "second_hand"},
        Bad{"negative_weight", kBlack + "weight = -1\n", 9, "weight", "below 0"},
        Bad{"text_as_number", kBlack + "text = 3\n", 9, "text", "no text"},
        Bad{"key_twice", kBlack + "key = \"a\"\n[[question]]\n" + kBlack + "key = \"a\"\n", 13, "key", "twice"}),
    [](const testing::TestParamInfo<Bad>& bad) { return std::string(bad.param.name); });

TEST(RequirementSet, ALimitWithoutAnyMarkIsRefused) {
  const auto set = parse(kBlack + "at_most = 1\n", "id = \"a\"\ntitle = \"b\"\nsource = \"c\"\n[[question]]\n");
  ASSERT_FALSE(set);
  EXPECT_THAT(set.error().text(), HasSubstr("a limit without a mark"));
}

TEST(RequirementSet, ASetMarkedFromMemoryMayAskButNotLimit) {
  const std::string head = "id = \"a\"\ntitle = \"b\"\nsource = \"c\"\nmark = \"from_memory\"\n[[question]]\n";
  EXPECT_TRUE(parse(kBlack, head));
  EXPECT_FALSE(parse(kBlack + "at_most = 1\n", head));
}

TEST(RequirementSet, ASetNeedsAHeadAndQuestions) {
  for (const char* text :
       {"", "id = \"a\"\n", "id = \"a\"\ntitle = \"b\"\n", "id = \"a\"\ntitle = \"b\"\nsource = \"c\"\n",
        "id = \"a\"\ntitle = \"b\"\nsource = \"c\"\nquestion = []\n",
        "id = \"a\"\ntitle = \"b\"\nsource = \"c\"\nquestion = [1]\n", "id = 3\ntitle = \"b\"\nsource = \"c\"\n",
        "id = \"a\"\ntitle = \"b\"\nsource = \"c\"\ninvented = 1\n[[question]]\n"}) {
    const auto set = parse_requirement_set(text, "mine.toml");
    ASSERT_FALSE(set) << text;
    EXPECT_EQ(set.error().where.file, "mine.toml");
  }
}

// ---- the sets that come with the build

TEST(BuiltInSets, AllOfThemLoad) {
  const auto names = built_in_requirement_sets();
  EXPECT_THAT(names,
              IsSupersetOf({"ebu-tech-3320-v4.1", "ebu-tech-3320-v4.1-grade-1a", "ebu-tech-3320-v4.1-grade-1b",
                            "ebu-tech-3320-v4.1-grade-2", "ebu-tech-3320-v4.1-grade-3", "smpte-rp-431-2-p3-mastering",
                            "hdr-mastering-basics", "itu-r-bt.2100-3-reference-display", "claims-tern-32",
                            "claims-curlew-27", "template-claims"}));
  for (const auto& name : names) {
    const auto text = built_in_requirement_text(name);
    ASSERT_TRUE(text) << name;
    const auto set = parse_requirement_set(*text, name);
    ASSERT_TRUE(set) << set.error().text();
    EXPECT_FALSE(set->questions.empty());
    if (!name.starts_with("template")) {
      EXPECT_EQ(set->id, name);
    }
  }
  EXPECT_FALSE(built_in_requirement_text("nothing"));
}

TEST(BuiltInSets, AreTheFilesOfTheDataFolder) {
  std::set<std::string> files;
  for (const auto& entry : std::filesystem::directory_iterator(PROVENIT_SOURCE_DIR "/data/requirements"))
    if (entry.path().extension() == ".toml") {
      files.insert(entry.path().stem().string());
      EXPECT_EQ(read_file(entry.path().string()).value(), built_in_requirement_text(entry.path().stem().string()));
    }
  const auto names = built_in_requirement_sets();
  EXPECT_EQ(files, std::set<std::string>(names.begin(), names.end()));
}

TEST(BuiltInSets, NoPublishedLimitIsInvented) {
  // EBU Tech 3320 was not opened: nothing may be limited. BT.2100-3: two limits, quoted second hand.
  const auto ebu = find_requirement_set("ebu-tech-3320-v4.1", read_file);
  ASSERT_TRUE(ebu);
  for (const auto& question : ebu->questions) {
    EXPECT_FALSE(question.lower || question.upper) << question.key;
    EXPECT_THAT(question.clause, HasSubstr("open clause")) << question.key;
  }
  // RP 431-2 neither.
  const auto cinema = find_requirement_set("smpte-rp-431-2-p3-mastering", read_file);
  ASSERT_TRUE(cinema);
  for (const auto& question : cinema->questions) EXPECT_FALSE(question.lower || question.upper) << question.key;
  // What the basics ask for says that nothing stands behind it.
  const auto basics = find_requirement_set("hdr-mastering-basics", read_file);
  ASSERT_TRUE(basics);
  for (const auto& question : basics->questions) {
    if (question.lower || question.upper) {
      EXPECT_EQ(question.mark, store::SourceMark::common_practice) << question.key;
    }
  }
  const auto itu = find_requirement_set("itu-r-bt.2100-3-reference-display", read_file);
  ASSERT_TRUE(itu);
  int limits = 0;
  for (const auto& question : itu->questions) {
    if (!question.lower && !question.upper) continue;
    ++limits;
    EXPECT_EQ(question.mark, store::SourceMark::second_hand);
  }
  EXPECT_EQ(limits, 2);
}

// Corrigendum of EBU Tech 3320: 1.3 du*v* for Grade 1; CIE 15:2018 8.2.2: u* = 13 L* (u' - u'_n), L* = 100 at white.
TEST(BuiltInSets, GradesExtendTheDocumentsQuestions) {
  const auto all = find_requirement_set("ebu-tech-3320-v4.1", read_file);
  ASSERT_TRUE(all);
  for (const std::string grade : {"1a", "1b", "2", "3"}) {
    const auto set = find_requirement_set("ebu-tech-3320-v4.1-grade-" + grade, read_file);
    ASSERT_TRUE(set);
    ASSERT_EQ(set->questions.size(), all->questions.size());
    for (std::size_t i = 0; i < set->questions.size(); ++i) {
      const auto& question = set->questions[i];
      EXPECT_EQ(question.key, all->questions[i].key);
      EXPECT_EQ(question.set, set->id);
      const bool limited = grade.starts_with("1") && question.key == "uniformity-colour";
      EXPECT_EQ(question.upper.has_value(), limited) << question.key;
      if (!limited) continue;
      EXPECT_NEAR(*question.upper, 1.3 / (13 * 100), 1e-12);
      EXPECT_EQ(question.mark, store::SourceMark::calculated);
    }
  }
}

TEST(RequirementSet, MayExtendABuiltInOneAndReplaceAQuestion) {
  const auto set = parse_requirement_set(R"(id = "mine"
title = "Mine"
source = "ours"
mark = "claim"
extends = "hdr-mastering-basics"
[[question]]
key = "peak"
quantity = "peak_luminance"
conditions = { window_percent = 10 }
at_least = 1400
unit = "cd/m2"
)",
                                         "mine.toml");
  ASSERT_TRUE(set) << set.error().text();
  const auto basics = find_requirement_set("hdr-mastering-basics", read_file);
  ASSERT_EQ(set->questions.size(), basics->questions.size());
  EXPECT_EQ(set->questions[0].lower, 1400);
  EXPECT_EQ(set->questions[0].mark, store::SourceMark::claim);
  EXPECT_EQ(set->questions[1].source, basics->questions[1].source);
  const auto unknown =
      parse_requirement_set("id = \"m\"\ntitle = \"t\"\nsource = \"s\"\nextends = \"nothing\"\n", "m.toml");
  ASSERT_FALSE(unknown);
  EXPECT_EQ(unknown.error().where.line, 4);
}

TEST(BuiltInSets, ClaimsOfTheDemoSayThatTheyAreInvented) {
  for (const char* name : {"claims-tern-32", "claims-curlew-27"}) {
    const auto set = find_requirement_set(name, read_file);
    ASSERT_TRUE(set);
    EXPECT_TRUE(set->invented);
    for (const auto& question : set->questions)
      EXPECT_EQ(question.mark, question.lower || question.upper ? store::SourceMark::claim : store::SourceMark::unset);
  }
}

TEST(FindRequirementSet, TakesAPathOrANameAndNamesWhatThereIs) {
  const auto missing = find_requirement_set("ebu-tech-3320-v9", read_file);
  ASSERT_FALSE(missing);
  EXPECT_EQ(missing.error().code, ErrorCode::not_found);
  EXPECT_THAT(missing.error().text(), HasSubstr("ebu-tech-3320-v4.1"));
  std::string asked;
  const auto set = find_requirement_set("folder/mine.toml", [&](const std::string& path) -> Result<std::string> {
    asked = path;
    return kHead + kBlack;
  });
  ASSERT_TRUE(set);
  EXPECT_EQ(asked, "folder/mine.toml");
  EXPECT_EQ(find_requirement_set("./nowhere.toml", read_file).error().code, ErrorCode::io);
}

TEST(Readme, ItsExampleLoads) {
  const auto readme = read_file(PROVENIT_SOURCE_DIR "/data/requirements/README.md").value();
  const auto begin = readme.find("```toml\n") + 8;
  const auto set = parse_requirement_set(readme.substr(begin, readme.find("```", begin) - begin), "README.md");
  EXPECT_TRUE(set) << set.error().text();
}

}  // namespace
}  // namespace provenit::evaluation
