// How titles are cut, and what a job folder says of them.
#include <fstream>
#include <nlohmann/json.hpp>

#include "farm_clips.h"

namespace provenit::farm {
namespace {

using nlohmann::json;
using ::testing::HasSubstr;
namespace fs = std::filesystem;

void expect_every_frame_once(const std::vector<programme::FrameSpan>& spans, const programme::FrameIndex& index) {
  ASSERT_FALSE(spans.empty());
  std::int64_t next = 0;
  for (const auto& [first, last] : spans) {
    EXPECT_EQ(first, next);
    EXPECT_LT(first, last);
    EXPECT_THAT(index.key_frames, ::testing::Contains(first));
    next = last;
  }
  EXPECT_EQ(next, static_cast<std::int64_t>(index.time_s.size()));
}

TEST(FarmCut, HoldsEveryFrameOnceWhateverTheKeyFrames) {
  for (const auto& keys : std::vector<std::vector<std::int64_t>>{
           {0}, {0, 1}, {0, 99}, {0, 50}, {0, 1, 2, 3}, {0, 24, 48, 72, 96}, {0, 10, 90, 95}}) {
    programme::FrameIndex index;
    index.time_s.resize(100);
    index.key_frames = keys;
    for (const int parts : {1, 2, 3, 4, 7, 99, 100, 5000}) {
      const auto spans = programme::cut_on_key_frames(index, parts);
      expect_every_frame_once(spans, index);
      EXPECT_LE(spans.size(), static_cast<std::size_t>(parts));
      EXPECT_LE(spans.size(), keys.size());
    }
  }
}

TEST(FarmCut, IsThatOfPartsByNumber) {
  programme::FrameIndex index;
  index.time_s.resize(60);
  for (std::int64_t k = 0; k < 60; k += 10) index.key_frames.push_back(k);
  const auto spans = programme::cut_on_key_frames(index, 4);
  ASSERT_EQ(spans.size(), 4u);
  EXPECT_EQ(spans[1].first, 20);
  EXPECT_EQ(spans[2].first, 30);
  EXPECT_EQ(spans[3].first, 50);
}

TEST_F(FarmTest, AShortTitleHasFewerParts) {
  const auto one = clip("one key.mp4", 30, "keyint=-1");
  const auto six = clip("six keys.mp4");
  const auto job = planned({one, six}, 9);
  ASSERT_EQ(job.titles[0].parts.size(), 1u);
  EXPECT_EQ(job.titles[0].parts[0].last, 30);
  EXPECT_EQ(job.titles[1].parts.size(), 6u);
}

TEST_F(FarmTest, AFolderOfStillsIsCutBetweenAnyTwo) {
  fs::create_directory(folder_ / "shots");
  for (int i = 1; i <= 5; ++i)
    fs::copy_file(programme::testing::media("colors_hdr_rec2020.avif"),
                  folder_ / ("shots/" + std::to_string(i) + ".avif"));
  auto o = options({folder_ / "shots"}, 9);
  o.meant = {};
  const auto job = plan(folder_ / "job", o);
  ASSERT_TRUE(job) << job.error().text();
  EXPECT_EQ(job->titles[0].parts.size(), 5u);
  EXPECT_TRUE(run(*job, 2, worker_).errors.empty());
  programme::SurveyOptions whole{.software = kSoftware};
  ASSERT_TRUE(programme::survey_title(folder_ / "shots", folder_ / "whole", whole));
  EXPECT_EQ(survey(*job), read_file(folder_ / "whole").value());
  // Another still in the folder is another title.
  fs::remove(survey_path(*job, 0));
  fs::copy_file(programme::testing::media("colors_hdr_p3.avif"), folder_ / "shots/6.avif");
  EXPECT_EQ(make_title(*job, 0, worker_).error().code, ErrorCode::conflict);
}

TEST_F(FarmTest, LengthDecidesWhereNothingElseIsSaid) {
  auto o = options({clip("clip.mp4")}, 0);
  o.minutes_per_part = 1.0 / 60;  // of 2.5 s
  EXPECT_EQ(plan(folder_ / "seconds", o)->titles[0].parts.size(), 3u);
  o.minutes_per_part = 5;
  EXPECT_EQ(plan(folder_ / "minutes", o)->titles[0].parts.size(), 1u);
}

TEST_F(FarmTest, WhatThePlanSaysIsWhatTasksRead) {
  const auto job = planned({clip("clip.mp4")});
  const auto read = open(folder_ / "job");
  ASSERT_TRUE(read) << read.error().text();
  EXPECT_EQ(read->titles[0].fingerprint, job.titles[0].fingerprint);
  EXPECT_EQ(read->simd_level, job.simd_level);
  EXPECT_EQ(read->meant.siting, "top_left");
  EXPECT_EQ(read->titles[0].parts.size(), 4u);
  const auto index = index_of(*read, 0);
  ASSERT_TRUE(index);
  const auto again = programme::index_frames(job.titles[0].path).value();
  EXPECT_EQ(index->time_s, again.time_s);
  EXPECT_EQ(index->key_frames, again.key_frames);
  EXPECT_EQ(index->first_pts, again.first_pts);
}

TEST_F(FarmTest, WhatCannotBePlannedLeavesNothing) {
  const auto good = clip("clip.mp4");
  const auto refused = [&](const std::vector<std::string>& titles) {
    const auto job = plan(folder_ / "job", options(titles));
    EXPECT_FALSE(job);
    EXPECT_FALSE(fs::exists(folder_ / "job"));
    return job ? Error{} : job.error();
  };
  EXPECT_EQ(refused({good, folder_ / "nothing.mp4"}).code, ErrorCode::not_found);
  EXPECT_THAT(refused({good, good}).text(), HasSubstr("twice"));
  fs::copy_file(good, folder_ / "line\nfeed.mp4");
  EXPECT_THAT(refused({folder_ / "line\nfeed.mp4"}).text(), HasSubstr("line feed"));
  fs::copy_file(good, folder_ / "caf\xe9.mp4");
  EXPECT_THAT(refused({folder_ / "caf\xe9.mp4"}).text(), HasSubstr("UTF-8"));
  auto unclear = options({good});
  unclear.meant.siting = "";
  unclear.meant.transfer = "film";
  EXPECT_EQ(plan(folder_ / "job", unclear).error().where.field, "--transfer");
  auto simd = options({good});
  simd.simd_level = "abacus";
  EXPECT_EQ(plan(folder_ / "job", simd).error().code, ErrorCode::unsupported);
  fs::create_directory(folder_ / "job");
  std::ofstream(folder_ / "job/mine") << "mine";
  EXPECT_EQ(plan(folder_ / "job", options({good})).error().code, ErrorCode::conflict);
  EXPECT_TRUE(fs::exists(folder_ / "job/mine"));
}

TEST_F(FarmTest, AChangedPlanIsRefusedWithItsField) {
  planned({clip("clip.mp4")});
  const auto path = folder_ / "job/farm.json";
  const auto text = read_file(path).value();
  const auto field_of = [&](const std::function<void(json&)>& change) {
    auto j = json::parse(text);
    change(j);
    EXPECT_TRUE(write_file(path, j.dump()));
    const auto job = open(folder_ / "job");
    EXPECT_FALSE(job);
    return job ? "" : job.error().where.field;
  };
  const auto part = [](json& j, int p) -> json& { return j["titles"][0]["parts"][p]; };
  EXPECT_EQ(field_of([](json& j) { j["schema"] = "provenit-farm/9"; }), "schema");
  EXPECT_EQ(field_of([](json& j) { j.erase("simd_level"); }), "simd_level");
  EXPECT_EQ(field_of([](json& j) { j["interpretation"]["transfer"] = "film"; }), "transfer");
  EXPECT_EQ(field_of([](json& j) { j["titles"] = json::array(); }), "titles");
  EXPECT_EQ(field_of([](json& j) { j["titles"][0]["path"] = "clip.mp4"; }), "titles[0].path");
  EXPECT_EQ(field_of([](json& j) { j["titles"][0]["fingerprint"] = "none"; }), "titles[0].fingerprint");
  EXPECT_EQ(field_of([](json& j) { j["titles"][0]["frames"] = 61; }), "titles[0].frames");
  EXPECT_EQ(field_of([](json& j) { j["titles"][0]["frames"] = 1e300; }), "titles[0].frames");
  EXPECT_EQ(field_of([&](json& j) { part(j, 1)["first"] = 19; }), "titles[0].parts[1].first");
  EXPECT_EQ(field_of([&](json& j) { part(j, 1)["last"] = 20; }), "titles[0].parts[1].last");
  EXPECT_EQ(field_of([&](json& j) { part(j, 3)["last"] = "60"; }), "titles[0].parts[3].last");
  EXPECT_EQ(field_of([&](json& j) { j["titles"][0]["parts"].erase(2); }), "titles[0].parts[2].first");
  ASSERT_TRUE(write_file(path, text.substr(0, text.size() / 2)));
  EXPECT_THAT(open(folder_ / "job").error().text(), HasSubstr("farm.json"));
  // A cut that is no key frame holds together, but not with the index.
  auto moved = json::parse(text);
  part(moved, 0)["last"] = 21;
  part(moved, 1)["first"] = 21;
  ASSERT_TRUE(write_file(path, moved.dump()));
  const auto job = open(folder_ / "job");
  ASSERT_TRUE(job);
  EXPECT_EQ(make_part(*job, 0, 1, worker_).error().code, ErrorCode::out_of_range);
  ASSERT_TRUE(write_file(folder_ / "job/titles/0001.json", "{}"));
  EXPECT_THAT(make_part(*job, 0, 2, worker_).error().text(), HasSubstr("index"));
}

TEST(FarmWords, AreOneWordForAShell) {
  for (const std::string word : {"plain", "two words", "it's", "$(rm -rf x)", "`x`", "a\"b\\c", "*?", "é;&|<>"}) {
    FILE* pipe = ::popen(("printf %s " + shell_word(word)).c_str(), "r");
    std::string out;
    for (int c = 0; (c = std::fgetc(pipe)) != EOF;) out += static_cast<char>(c);
    ::pclose(pipe);
    EXPECT_EQ(out, word);
  }
}

}  // namespace
}  // namespace provenit::farm
