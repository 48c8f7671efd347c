// Signals on a player and on a screen, through the command: a follow-along clip written, played by the simulated player
// and evaluated; what provenit show refuses, and that it says the cautions first.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <filesystem>
#include <nlohmann/json.hpp>

#include "bench_folder.h"
#include "provenit/base/text.h"

namespace provenit {
namespace {

using testing::HasSubstr;
using testing::Not;

class Showing : public BenchFolder {
 protected:
  void describe() {
    for (const auto& line : {"new " + bench() + " --title T --evaluator E",
                             "describe display " + bench() + " --name \"Tern 32\" --simulated tern-32",
                             "describe instrument " + bench() + " --name Meter --kind simulated",
                             "describe room " + bench() + " --name Room --surround 5",
                             "describe loan " + bench() + " --hours 4 --starts 2026-11-25T09:00:00Z --seed 7"})
      ASSERT_EQ(run(line).exit, 0) << line;
  }
};

TEST_F(Showing, AClipIsWrittenPlayedAndEvaluated) {
  describe();
  const auto clip = path("c.mkv"), schedule = clip + ".json";
  const auto written =
      run_json("follow " + bench() + " --write " + clip + " --procedure white_point --width 64 --height 64 --rate 5");
  ASSERT_EQ(written.exit, 0) << written.out;
  EXPECT_GT(written.json()["markers"], 1);
  EXPECT_GT(std::filesystem::file_size(clip), 1000u);

  // With the same journal there is nothing left to read; with another one the clip is measured anew.
  const std::string follow = "follow " + bench() + " --schedule " + schedule + " --rate-error 0.5 --start-delay 30";
  for (const auto& [journal, run] : {std::pair{"", 1}, {"", 1}, {"second.jsonl", 2}}) {
    const auto followed = run_json(follow + (*journal != 0 ? " --journal " + path(journal) : ""));
    ASSERT_EQ(followed.exit, 0) << followed.out;
    EXPECT_EQ(followed.json()["complete"], true);
    EXPECT_EQ(followed.json()["kept"], followed.json()["wanted"]);
    EXPECT_EQ(followed.json()["runs"], nlohmann::json({run})) << journal;
  }
  const auto evaluated = run_json("evaluate " + bench());
  ASSERT_EQ(evaluated.exit, 0) << evaluated.out;
  EXPECT_THAT(evaluated.out, HasSubstr("white_u_prime"));
}

TEST_F(Showing, AChangedScheduleOrAMissingOneIsNamed) {
  describe();
  const auto missing = run("follow " + bench() + " --schedule " + path("none.json"));
  EXPECT_NE(missing.exit, 0);
  EXPECT_THAT(missing.out, HasSubstr("none.json"));
  ASSERT_TRUE(write_file(path("broken.json"), "{\"schedule\": ["));
  const auto broken = run("follow " + bench() + " --schedule " + path("broken.json"));
  EXPECT_NE(broken.exit, 0);
  EXPECT_THAT(broken.out, HasSubstr("broken.json"));
  const auto nothing = run("follow " + bench());
  EXPECT_NE(nothing.exit, 0);
  EXPECT_THAT(nothing.out, HasSubstr("--write"));
}

TEST_F(Showing, FlashingIsRefusedAfterItsCautions) {
  const auto refused = run("show volume_set --page --every 0.05 --set area_percent=80");
  EXPECT_NE(refused.exit, 0);
  EXPECT_LT(refused.out.find("Caution: "), refused.out.find("--confirm-flashing")) << refused.out;
  EXPECT_THAT(refused.out, Not(HasSubstr("http://")));
}

TEST_F(Showing, WhatCannotBeShownSaysWhatCan) {
  EXPECT_THAT(run("show window").out, HasSubstr("--page"));
  EXPECT_THAT(run("show no_such_picture --page").out, HasSubstr("no_such_picture"));
  EXPECT_THAT(run("show window --page --frame 9").out, HasSubstr("Give 0 to 0"));
  EXPECT_THAT(run("show window --output NONE-1 --mode wide").out, HasSubstr("3840x2160@23.976"));
  EXPECT_THAT(run("show window --page --transfer pq").out, HasSubstr("BT.1886"));
}

}  // namespace
}  // namespace provenit
