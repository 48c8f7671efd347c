// Tasks on this machine: whatever happens to them, the result is that of the whole.
#include <nlohmann/json.hpp>

#include "farm_clips.h"
#include "kill_child.h"
#include "provenit/store/bench.h"
#include "run_command.h"

namespace provenit::farm {
namespace {

using ::testing::HasSubstr;
namespace fs = std::filesystem;

TEST_F(FarmTest, PartsGiveTheBytesOfTheWhole) {
  const auto a = clip("a.mp4"), b = clip("b.mp4", 45);
  const auto job = planned({a, b});
  const auto outcome = run(job, 3, worker_);
  EXPECT_TRUE(outcome.errors.empty());
  EXPECT_EQ(survey(job, 0), whole(a));
  EXPECT_EQ(survey(job, 1), whole(b));
  const auto far = status(job).value();
  EXPECT_TRUE(far.finished());
  EXPECT_EQ(far.done, 105);
  EXPECT_EQ(far.titles[0].survey.hash, programme::SurveyFile::open(survey_path(job, 0))->hash());
  EXPECT_FALSE(far.left_s);
  // Again: nothing is touched.
  const auto when = fs::last_write_time(survey_path(job, 0));
  EXPECT_TRUE(run(job, 3, worker_).errors.empty());
  EXPECT_EQ(fs::last_write_time(survey_path(job, 0)), when);
  EXPECT_EQ(make_part(job, 0, 0, worker_).value(), Done::already);
}

TEST_F(FarmTest, StoppedItGoesOn) {
  const auto path = clip("clip.mp4");
  const auto job = planned({path}, 2);
  int frames = 0;
  auto stopping = worker_;
  stopping.stop = [&] { return ++frames > 14; };
  EXPECT_TRUE(run(job, 1, stopping).stopped);
  const auto far = status(job).value();
  EXPECT_EQ(far.titles[0].parts[0].state, State::lost) << "begun, and nobody is at it";
  EXPECT_GT(far.titles[0].parts[0].done, 5);
  EXPECT_EQ(far.titles[0].parts[1].state, State::waiting);
  EXPECT_FALSE(far.finished());
  EXPECT_FALSE(run(job, 2, worker_).stopped);
  EXPECT_EQ(survey(job), whole(path));
}

TEST_F(FarmTest, KilledItGoesOnFromWhatWasKept) {
  constexpr int kFrames = 800;
  const auto path = clip("clip.mp4", kFrames);
  const auto job = planned({path}, 2);
  for (int kill = 0; kill < 3; ++kill) {
    run_and_kill(
        [&](int acknowledge) {
          std::int64_t frame = 0;
          Worker telling{.software = kSoftware, .threads = 1, .stop = [&] {
                           ++frame;
                           return ::write(acknowledge, &frame, sizeof frame) != sizeof frame;
                         }};
          return run(job, 1, telling).errors.empty() ? 0 : 1;
        },
        320, std::chrono::microseconds(300));
  }
  EXPECT_FALSE(fs::exists(survey_path(job, 0)));
  std::int64_t measured = 0;
  auto counting = worker_;
  counting.stop = [&] { return ++measured < 0; };
  EXPECT_TRUE(run(job, 1, counting).errors.empty());
  EXPECT_LT(measured, kFrames - 200) << "what was kept is not measured again";
  EXPECT_EQ(survey(job), whole(path));
}

TEST_F(FarmTest, ATitleThatChangedIsRefusedAndTheOthersGoOn) {
  const auto a = clip("a.mp4"), b = clip("b.mp4");
  const auto job = planned({a, b}, 2);
  clip("a.mp4", 40);
  const auto outcome = run(job, 1, worker_);
  ASSERT_EQ(outcome.errors.size(), 2u);
  EXPECT_EQ(outcome.errors[0].code, ErrorCode::conflict);
  EXPECT_EQ(outcome.errors[0].where.file, a);
  EXPECT_THAT(outcome.errors[0].text(), HasSubstr("60 frames"));
  EXPECT_EQ(survey(job, 1), whole(b));
  const auto far = status(job).value();
  EXPECT_EQ(far.titles[0].parts[0].state, State::failed);
  EXPECT_THAT(far.titles[0].parts[0].error->text(), HasSubstr("has changed since it was planned"));
  EXPECT_EQ(far.titles[0].survey.state, State::waiting);
  EXPECT_EQ(far.titles[1].survey.state, State::done);
  const auto kept = nlohmann::json::parse(read_file(folder_ / "job/errors/0001-0002.json").value());
  EXPECT_EQ(kept.at("title"), "a.mp4");
  EXPECT_EQ(kept.at("part"), 2);
  EXPECT_EQ(kept.at("first"), 30);
  // The planned file is back under another time: its packets say so, and the errors go.
  clip("a.mp4", 60);
  EXPECT_TRUE(run(job, 2, worker_).errors.empty());
  EXPECT_TRUE(status(job)->finished());
  EXPECT_FALSE(fs::exists(folder_ / "job/errors/0001-0002.json"));
}

TEST_F(FarmTest, AnotherProgramIsRefused) {
  const auto job = planned({clip("clip.mp4")});
  const auto other = make_part(job, 0, 0, {.software = "provenit later"});
  ASSERT_FALSE(other);
  EXPECT_THAT(other.error().text(), HasSubstr("provenit later"));
}

TEST_F(FarmTest, AMergeNamesThePartsThatAreMissing) {
  const auto job = planned({clip("clip.mp4")});
  ASSERT_TRUE(make_part(job, 0, 1, worker_));
  const auto merged = make_title(job, 0, worker_);
  ASSERT_FALSE(merged);
  EXPECT_EQ(merged.error().code, ErrorCode::not_found);
  EXPECT_THAT(merged.error().text(), HasSubstr("parts 1, 3 and 4 of 4"));
  EXPECT_EQ(status(job)->titles[0].survey.state, State::failed);
}

TEST_F(FarmTest, PartsOfAnotherPlanDoNotPass) {
  const auto job = planned({clip("clip.mp4")}, 2);
  const auto longer = clip("longer.mp4", 80);
  auto other = plan(folder_ / "other", options({longer}, 2));
  ASSERT_TRUE(other);
  ASSERT_TRUE(run(*other, 1, worker_).errors.empty());
  for (std::size_t p = 0; p < 2; ++p) fs::copy_file(part_path(*other, 0, p), part_path(job, 0, p));
  EXPECT_EQ(make_title(job, 0, worker_).error().code, ErrorCode::conflict);
  EXPECT_FALSE(fs::exists(survey_path(job, 0)));
}

TEST_F(FarmTest, TwoWorkersAtOnePartDoNotHurt) {
  const auto path = clip("clip.mp4", 200);
  const auto job = planned({path}, 2);
  std::vector<std::jthread> workers;
  for (int i = 0; i < 4; ++i) workers.emplace_back([&] { EXPECT_TRUE(run(job, 2, worker_).errors.empty()); });
  workers.clear();
  EXPECT_EQ(survey(job), whole(path));
}

TEST_F(FarmTest, SurveysAreCollectedOnce) {
  const auto a = clip("a.mp4"), b = clip("b.mp4", 30);
  const auto job = planned({a, b}, 2);
  ASSERT_TRUE(make_part(job, 0, 0, worker_));
  ASSERT_TRUE(make_part(job, 0, 1, worker_));
  ASSERT_TRUE(make_title(job, 0, worker_));
  const auto bench = folder_ / "tern.bench";
  ASSERT_TRUE(store::Bench::create(bench, "Tern 32", "Saltmarsh Display Lab", {1.8e9}));
  const auto first = collect(job, bench, {1.8e9});
  ASSERT_TRUE(first) << first.error().text();
  ASSERT_EQ(first->size(), 1u);
  EXPECT_EQ((*first)[0].survey, 1);
  ASSERT_TRUE(run(job, 2, worker_).errors.empty());
  const auto second = collect(job, bench, {1.8e9});
  ASSERT_TRUE(second) << second.error().text();
  ASSERT_EQ(second->size(), 2u);
  EXPECT_EQ((*second)[0].survey, 0) << "is there already";
  EXPECT_EQ((*second)[1].survey, 2);
  EXPECT_EQ(store::Bench::open(bench)->surveys()->size(), 2u);
}

// The command -------------------------------------------------------------------------------------------------------

/// Names that a shell would take apart.
TEST_F(FarmTest, ThePlainListsDoTheSame) {
  const std::string odd = "it's a $(touch hurt) \"title\"; `x` & b.mp4";
  const auto path = clip(odd, 40);
  const auto job = folder_ / "job of 'today' $HOME";
  const auto made = run_command("farm plan " + shell_word(job) + " " + shell_word(path) + " --parts 3 --siting left");
  ASSERT_EQ(made.exit, 0) << made.out;
  // Any queue that runs lines of a shell will do: here two at a time.
  const auto lists = "xargs -d '\\n' -P 2 -n 1 sh -c < ";
  ASSERT_EQ(std::system((lists + shell_word(job + "/parts.txt")).c_str()), 0);
  ASSERT_EQ(std::system((lists + shell_word(job + "/merges.txt")).c_str()), 0);
  const auto whole =
      run_command("survey " + shell_word(path) + " --siting left --out " + shell_word(folder_ / "whole"));
  ASSERT_EQ(whole.exit, 0) << whole.out;
  EXPECT_EQ(read_file(job + "/surveys/0001.survey").value(), read_file(folder_ / "whole").value());
  const auto far = run_command("farm status " + shell_word(job) + " --json").json();
  EXPECT_TRUE(far.at("finished"));
  EXPECT_EQ(far.at("titles").at(0).at("title"), odd);
  EXPECT_EQ(far.at("titles").at(0).at("parts").size(), 3u);
  EXPECT_THAT(run_command("farm part " + shell_word(job) + " 1 9").out, HasSubstr("has no part 9"));
  EXPECT_THAT(run_command("farm part " + shell_word(job) + " 2 1").out, HasSubstr("no title 2"));
}

TEST_F(FarmTest, ForecastsAreTheBytesOfOneMachine) {
  const auto path = clip("shore.mp4");
  const auto bench = folder_ / "tern.bench";
  const auto give = [&](const std::string& words) {
    const auto said = run_command(words);
    EXPECT_EQ(said.exit, 0) << words << "\n" << said.out;
  };
  give("new " + bench + " --title Tern --evaluator Lab");
  EXPECT_EQ(run_command("farm plan " + (folder_ / "early") + " " + path + " --siting left --bench " + bench).exit, 2)
      << "a bench without a loan is refused before any work";
  give("describe display " + bench + " --name Tern --simulated tern-32");
  give("describe instrument " + bench + " --name Meter --kind simulated");
  give("describe room " + bench + " --name Suite --surround 5");
  give("describe loan " + bench + " --hours 4");
  give("questions " + bench + " --set claims-tern-32");
  give("run " + bench + " --procedure black_level --procedure window_peak");
  give("correct read " + bench + " --minutes 2");
  give("forecast read " + bench + " --part probes");
  give("farm plan " + (folder_ / "job") + " " + path + " --parts 3 --siting left --bench " + bench);
  give("farm run " + (folder_ / "job") + " --jobs 2");
  give("farm collect " + (folder_ / "job") + " --bench " + bench);
  const auto one = run_command("forecast title " + bench + " --json", "/dev/null");
  ASSERT_EQ(one.exit, 0);
  EXPECT_THAT(one.out, HasSubstr("delta_e_itp"));
  EXPECT_EQ(read_file(folder_ / "job/forecasts/0001.json").value(), one.out);
  // A bench that was changed since is not the one that was planned.
  fs::remove(folder_ / "job/forecasts/0001.json");
  ASSERT_TRUE(write_file(folder_ / "job/loan.bench", read_file(bench).value()));
  EXPECT_THAT(run_command("farm merge " + (folder_ / "job") + " 1").out, HasSubstr("not the bench that was planned"));
}

}  // namespace
}  // namespace provenit::farm
