// What Slurm is told, held against programs of its names that write down what they were given; the real one is started
// by slurm_test.sh.
#include "provenit/farm/queue.h"

#include <cstdlib>
#include <nlohmann/json.hpp>

#include "farm_clips.h"

namespace provenit::farm {
namespace {

using ::testing::Contains;
using ::testing::HasSubstr;
using ::testing::Not;
namespace fs = std::filesystem;

class FarmQueue : public FarmTest {
 protected:
  FarmQueue() : path_(std::getenv("PATH")) {
    fs::create_directory(folder_ / "engine");
    // Each submission is a file of one argument a line, numbered from 1; the number is the job's.
    put("sbatch",
        "n=$(($(ls \"$D\"/job.* 2>/dev/null | wc -l) + 1)); printf '%s\\n' \"$@\" > \"$D/job.$n\"; echo \"$n\"");
    put("squeue", "cat \"$D/queue\" 2>/dev/null || true");
    ::setenv("PATH", ((folder_ / "engine") + ":" + path_).c_str(), 1);
  }
  ~FarmQueue() override { ::setenv("PATH", path_.c_str(), 1); }
  void put(const std::string& name, const std::string& line) {
    const auto path = folder_ / ("engine/" + name);
    ASSERT_TRUE(write_file(path, "#!/bin/sh\nD=" + shell_word(folder_ / "engine") + "\n" + line + "\n"));
    fs::permissions(path, fs::perms::owner_all);
  }
  std::vector<std::string> given(int number) {
    std::vector<std::string> lines;
    const auto text = read_file(folder_ / ("engine/job." + std::to_string(number))).value_or("");
    for (const auto line : split(text, '\n')) lines.emplace_back(line);
    return lines;
  }
  std::string path_;
};

TEST_F(FarmQueue, ArraysComeBeforeWhatJoinsThem) {
  const auto a = clip("a.mp4"), b = clip("b.mp4", 30);
  const auto job = planned({a, b}, 3);
  ASSERT_TRUE(make_part(job, 0, 1, worker_));
  const auto said = submit(job, {.partition = "night", .minutes = 90, .memory_mb = 4000, .others = {"--account=film"}});
  ASSERT_TRUE(said) << said.error().text();
  ASSERT_EQ(said->size(), 2u);
  EXPECT_THAT(given(1), Contains("--array=1,3")) << "part 2 is there";
  for (const char* word : {"--requeue", "--partition=night", "--time=90", "--mem=4000M", "--account=film",
                           "--cpus-per-task=1", "--job-name=provenit-job-1"})
    EXPECT_THAT(given(1), Contains(word));
  EXPECT_THAT(given(2), Contains("--dependency=afterany:1"));
  EXPECT_THAT(given(3), Contains("--array=1,2,3"));
  EXPECT_THAT(given(4), Contains("--dependency=afterany:3"));
  EXPECT_THAT(read_file(folder_ / "job/queue/0001-parts.sh").value(), HasSubstr(" farm part "));
  // While they wait nothing is submitted twice.
  ASSERT_TRUE(
      write_file(folder_ / "engine/queue", "1|1|PENDING\n1|3|RUNNING\n2|N/A|PENDING\n3|1|PENDING\n4|N/A|PENDING\n"));
  EXPECT_TRUE(submit(job, {})->empty());
  EXPECT_TRUE(given(5).front().empty());
  const auto states = queue_states(*said).value();
  EXPECT_EQ(states.at("1_3"), "RUNNING");
  EXPECT_EQ(states.at("4"), "PENDING");
}

TEST_F(FarmQueue, LostPartsAreTriedAgainAndThenNamed) {
  const auto path = clip("clip.mp4");
  const auto job = planned({path}, 3);
  ASSERT_TRUE(submit(job, {.tries = 2}));
  ASSERT_TRUE(make_part(job, 0, 0, worker_));
  ASSERT_TRUE(make_part(job, 0, 2, worker_));
  // The array has ended without part 2.
  const auto again = follow(job, 0, worker_);
  ASSERT_TRUE(again) << again.error().text();
  ASSERT_TRUE(again->again);
  EXPECT_EQ(again->again->attempt, 2);
  EXPECT_THAT(given(3), Contains("--array=2"));
  EXPECT_EQ(status(job)->titles[0].attempt, 2);
  const auto lost = follow(job, 0, worker_);
  ASSERT_FALSE(lost);
  EXPECT_THAT(lost.error().text(),
              HasSubstr("1 of 3 parts did not come, after 2 tries: part 2 (frames 20 to 39) is lost"));
  EXPECT_EQ(status(job)->titles[0].survey.state, State::failed);
  EXPECT_TRUE(given(5).front().empty()) << "no third try";
  // Submitted anew, it may be tried again; and where all is there, it is joined.
  ASSERT_TRUE(submit(job, {.tries = 2}));
  EXPECT_THAT(given(5), Contains("--array=2"));
  ASSERT_TRUE(make_part(job, 0, 1, worker_));
  ASSERT_TRUE(follow(job, 0, worker_));
  EXPECT_EQ(survey(job), whole(path));
  EXPECT_TRUE(submit(job, {})->empty());
}

TEST_F(FarmQueue, WhatWasRefusedIsNotTriedAgain) {
  const auto path = clip("clip.mp4");
  const auto job = planned({path}, 2);
  ASSERT_TRUE(submit(job, {}));
  clip("clip.mp4", 40);
  ASSERT_FALSE(make_part(job, 0, 0, worker_));
  const auto followed = follow(job, 0, worker_);
  ASSERT_FALSE(followed);
  EXPECT_THAT(followed.error().text(), HasSubstr("part 1 (frames 0 to 29) failed: has changed"));
  EXPECT_TRUE(given(3).front().empty());
}

TEST_F(FarmQueue, StatusTellsWaitingFromLost) {
  const auto job = planned({clip("clip.mp4")}, 2);
  ASSERT_TRUE(submit(job, {}));
  int frames = 0;
  auto stopping = worker_;
  stopping.stop = [&] { return ++frames > 10; };
  ASSERT_EQ(make_part(job, 0, 0, stopping).value(), Done::stopped);
  EXPECT_EQ(status(job)->titles[0].parts[0].state, State::lost);
  ASSERT_TRUE(write_file(folder_ / "engine/queue", "2|N/A|PENDING\n"));
  EXPECT_EQ(status(job)->titles[0].parts[0].state, State::waiting) << "the job after the array tries it again";
}

TEST_F(FarmQueue, WhatTheEngineSaysIsTold) {
  const auto job = planned({clip("clip.mp4")}, 2);
  EXPECT_EQ(submit(job, {.tries = 0}).error().where.field, "--tries");
  EXPECT_EQ(submit(job, {.others = {"rm"}}).error().where.field, "--sbatch");
  put("sbatch", "echo 'sbatch: error: invalid partition specified: night' >&2; exit 1");
  EXPECT_THAT(submit(job, {.partition = "night"}).error().text(), HasSubstr("invalid partition specified: night"));
  // Nothing is submitted while nobody can say what is in the queue; a job that is only unknown may be.
  put("sbatch", "echo 7");
  ASSERT_EQ(submit(job, {})->size(), 1u);
  put("squeue", "echo 'slurm_load_jobs error: Unable to contact slurm controller' >&2; exit 1");
  EXPECT_THAT(submit(job, {}).error().text(), HasSubstr("Unable to contact"));
  EXPECT_TRUE(status(job)) << "the folder alone tells";
  put("squeue", "echo 'slurm_load_jobs error: Invalid job id specified' >&2; exit 1");
  EXPECT_EQ(submit(job, {})->size(), 1u);
  fs::remove(folder_ / "job/queue/0001.json");
  ::setenv("PATH", (folder_ / "nowhere").c_str(), 1);
  const auto none = submit(job, {});
  EXPECT_EQ(none.error().code, ErrorCode::unsupported);
  EXPECT_THAT(none.error().text(), HasSubstr("provenit farm run"));
}

TEST_F(FarmQueue, NamesStayWholeInScripts) {
  auto o = options({clip("clip.mp4")}, 2);
  o.program = "/opt/it's $(here)/provenit";
  const auto job = plan(folder_ / "a 'b' $(touch hurt)", o);
  ASSERT_TRUE(job);
  ASSERT_TRUE(submit(*job, {}));
  const auto script = read_file(job->folder + "/queue/0001-parts.sh").value();
  EXPECT_THAT(script, HasSubstr("'/opt/it'\\''s $(here)/provenit' farm part '"));
  EXPECT_EQ(std::system(("sh -n " + shell_word(job->folder + "/queue/0001-parts.sh")).c_str()), 0);
}

}  // namespace
}  // namespace provenit::farm
