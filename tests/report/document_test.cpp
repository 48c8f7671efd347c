#include "provenit/report/document.h"

#include <gmock/gmock.h>

#include <limits>

#include "provenit/base/text.h"
#include "sample.h"

namespace provenit::report {
namespace {

using nlohmann::ordered_json;

ordered_json document_of(const Contents& contents) {
  auto document = Document::build(contents);
  EXPECT_TRUE(document.has_value()) << document.error().text();
  return document->json();
}

std::string error_of(const Contents& contents) {
  auto document = Document::build(contents);
  return document ? "no error" : document.error().text();
}

const ordered_json& by_key(const ordered_json& questions, const std::string& key) {
  for (const auto& q : questions)
    if (q.at("key") == key) return q;
  throw std::runtime_error("no question " + key);
}

TEST(Document, IsTheSampleThatThePageIsTestedWith) {
  const auto path = std::string(PROVENIT_SOURCE_DIR) + "/tests/report/data/sample_document.json";
  const auto document = Document::build(sample_contents());
  ASSERT_TRUE(document) << document.error().text();
  if (std::getenv("PROVENIT_RENEW_SAMPLE")) {
    ASSERT_TRUE(write_file(path, document->text()));
  }
  EXPECT_EQ(ordered_json::parse(read_file(path).value()), document->json())
      << "the document model has changed: look at the difference, then run again with PROVENIT_RENEW_SAMPLE=1";
}

TEST(Document, SaysWhatWasReadFromEachAttachment) {
  auto contents = sample_contents();
  const auto json = document_of(contents);
  const auto& files = json.at("attachments");
  ASSERT_EQ(files.size(), 3u);
  EXPECT_EQ(files[0].at("findings"), ordered_json::array());  // a newer file of the same step counts
  EXPECT_EQ(files[1].at("sha256"), std::string(64, 'c'));
  EXPECT_EQ(files[1].at("title"), "Dimming zones by a walking box");
  ASSERT_EQ(files[2].at("findings").size(), 2u);
  for (const auto& id : files[2].at("findings"))
    for (const auto& f : json.at("findings")) {
      if (f.at("id") != id) continue;
      EXPECT_TRUE(f.at("quantity") == "zone_rows" || f.at("quantity") == "zone_count");
    }
  contents.attachments.pop_back();
  EXPECT_THAT(error_of(contents), testing::HasSubstr("attachment 3"));
}

TEST(Document, SaysWhichFindingsProveACorrection) {
  auto contents = sample_contents();
  const auto json = document_of(contents);
  ASSERT_EQ(json.at("corrections").size(), 1u);
  const auto& correction = json.at("corrections")[0];
  EXPECT_EQ(correction.at("name"), "tern-32.cube");
  EXPECT_EQ(correction.at("sha256"), std::string(64, 'e'));
  EXPECT_EQ(correction.at("goal").at("size"), 33);
  std::vector<store::Id> proof;
  for (const auto& f : json.at("findings"))
    if (f.at("quantity").get<std::string>().starts_with("correction_")) proof.push_back(f.at("id"));
  EXPECT_EQ(correction.at("findings").get<std::vector<store::Id>>(), proof);
  EXPECT_EQ(proof.size(), 12u);

  contents.corrections.push_back(contents.corrections[0]);
  EXPECT_THAT(error_of(contents), testing::HasSubstr("two corrections"));
  contents.corrections.pop_back();
  contents.corrections[0].id = 2;
  EXPECT_THAT(error_of(contents), testing::HasSubstr("correction 1, which is not given"));
}

TEST(Document, GivesEveryQuestionItsOutcome) {
  const auto json = document_of(sample_contents());
  const auto& questions = json.at("questions");
  EXPECT_EQ(by_key(questions, "peak-100").at("outcome"), "fails");
  EXPECT_EQ(by_key(questions, "black").at("outcome"), "meets");
  EXPECT_EQ(by_key(questions, "white").at("outcome"), "undecided");
  EXPECT_EQ(by_key(questions, "contrast").at("outcome"), "answered");
  EXPECT_FALSE(by_key(questions, "contrast").at("finding").is_null());
  EXPECT_TRUE(by_key(questions, "contrast").at("margin").is_null());
  EXPECT_EQ(by_key(questions, "checkerboard").at("outcome"), "unanswered");
  EXPECT_EQ(by_key(questions, "checkerboard").at("missing"), "not_run");
  int counted = 0;
  for (const auto& [name, count] : json.at("summary").items()) counted += count.get<int>();
  EXPECT_EQ(counted, int(questions.size()));
}

TEST(Document, SaysWhyAQuestionHasNoAnswer) {
  auto contents = sample_contents();
  contents.runs.back().run.procedure = "checkerboard";
  EXPECT_EQ(by_key(document_of(contents).at("questions"), "checkerboard").at("missing"), "no_finding");
  contents.runs.back().run.state = store::RunState::aborted;
  EXPECT_EQ(by_key(document_of(contents).at("questions"), "checkerboard").at("missing"), "not_finished");
}

TEST(Document, LeavesAQuestionWithALimitUndecidedUntilEvaluationHasDecided) {
  auto contents = sample_contents();
  contents.verdicts.clear();
  const auto json = document_of(contents);
  EXPECT_EQ(by_key(json.at("questions"), "peak-10").at("outcome"), "undecided");
  EXPECT_FALSE(by_key(json.at("questions"), "peak-10").at("finding").is_null());
}

TEST(Document, TakesTheFindingWhoseConditionsTheQuestionNames) {
  auto contents = sample_contents();
  contents.verdicts.clear();
  const auto json = document_of(contents);
  const auto id = by_key(json.at("questions"), "peak-100").at("finding").get<int>();
  EXPECT_EQ(json.at("findings").at(std::size_t(id - 1)).at("conditions").at("window_percent"), 100);
}

TEST(Document, WritesReadingsOfAFindingAsRanges) {
  auto contents = sample_contents();
  contents.findings[0].readings = {7, 3, 2, 1, 9};
  EXPECT_EQ(document_of(contents).at("findings").at(0).at("readings"), ordered_json::parse("[[1,3],[7,7],[9,9]]"));
  EXPECT_EQ(document_of(contents).at("findings").at(0).at("reading_count"), 5);
}

TEST(Document, KeepsAnOpenSideOfAnIntervalOpen) {
  auto contents = sample_contents();
  contents.findings[0].upper95 = std::numeric_limits<double>::infinity();
  EXPECT_TRUE(document_of(contents).at("findings").at(0).at("upper95").is_null());
}

TEST(Document, RefusesRecordsThatDoNotFitTogether) {
  auto contents = sample_contents();
  contents.verdicts[0].finding = 999;
  EXPECT_THAT(error_of(contents), testing::HasSubstr("finding 999"));

  contents = sample_contents();
  contents.verdicts[0].question = 998;
  EXPECT_THAT(error_of(contents), testing::HasSubstr("question 998"));

  contents = sample_contents();
  contents.findings[2].value = std::numeric_limits<double>::quiet_NaN();
  EXPECT_THAT(error_of(contents), testing::HasSubstr("finding 3 (black_luminance)"));

  contents = sample_contents();
  std::swap(contents.findings[0].lower95, contents.findings[0].upper95);
  EXPECT_THAT(error_of(contents), testing::HasSubstr("interval"));

  contents = sample_contents();
  contents.findings[0].quantity = "sharpness";
  EXPECT_THAT(error_of(contents), testing::HasSubstr("sharpness"));

  contents = sample_contents();
  contents.questions[1].quantity = "sharpness";
  EXPECT_THAT(error_of(contents), testing::HasSubstr("question peak-100"));

  contents = sample_contents();
  contents.findings[1].id = contents.findings[0].id;
  EXPECT_THAT(error_of(contents), testing::HasSubstr("two findings"));

  contents = sample_contents();
  contents.runs[1].readings[0].id = contents.runs[0].readings[0].id;
  EXPECT_THAT(error_of(contents), testing::HasSubstr("given twice"));

  contents = sample_contents();
  contents.display.name = "Tern \xff";
  EXPECT_THAT(error_of(contents), testing::HasSubstr("UTF-8"));
}

TEST(Document, HasNoRoomIfTheLoanHasNone) {
  auto contents = sample_contents();
  contents.room = {};
  EXPECT_TRUE(document_of(contents).at("room").is_null());
}

}  // namespace
}  // namespace provenit::report
