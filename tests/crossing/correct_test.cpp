// A correction from first to last through the command: read, killed and gone on with, solved, proved, evaluated.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cstdlib>
#include <nlohmann/json.hpp>

#include "bench_folder.h"
#include "provenit/base/text.h"
#include "provenit/store/bench.h"

namespace provenit {
namespace {

using testing::HasSubstr;

class Correct : public BenchFolder {
 protected:
  Correct() {
    for (const auto& line : {"new " + bench() + " --title T --evaluator E",
                             "describe display " + bench() + " --name Curlew --simulated curlew-27 --bits 12",
                             "describe instrument " + bench() + " --name Meter --kind simulated",
                             "describe room " + bench() + " --name Room --surround 5",
                             "describe loan " + bench() + " --hours 4 --starts 2026-11-25T09:00:00Z --seed 7"})
      EXPECT_EQ(run_command(line, "&1").exit, 0) << line;
  }
  [[nodiscard]] std::size_t readings() const {
    return static_cast<std::size_t>(store::Bench::open(bench()).value().reading_count().value());
  }
};

TEST_F(Correct, ReadSolvedProvedAndEvaluated) {
  EXPECT_THAT(run("correct solve " + bench() + " --out " + path("t.cube")).out,
              HasSubstr("no readings for a display model"));
  EXPECT_THAT(run("correct prove " + bench()).out, HasSubstr("no correction"));

  // Killed half-way: what was read is kept, and the same command goes on.
  // However far it came by then: nothing below depends on it.
  const std::string killed =
      "timeout -s KILL 0.6 " PROVENIT_COMMAND " correct read " + bench() + " --minutes 2 >/dev/null 2>&1";
  EXPECT_NE(std::system(killed.c_str()), -1);
  const auto kept = readings();
  const auto read = run_json("correct read " + bench() + " --minutes 2");
  ASSERT_EQ(read.exit, 0) << read.out;
  EXPECT_GE(read.json()["readings"].get<std::size_t>(), kept);
  EXPECT_EQ(read.json()["taken"].get<std::size_t>() + kept, read.json()["readings"].get<std::size_t>());
  EXPECT_EQ(run_json("correct read " + bench() + " --minutes 2").json()["taken"], 0) << "finished before";

  const auto model = run_json("correct model " + bench());
  ASSERT_EQ(model.exit, 0) << model.out;
  EXPECT_LT(model.json()["held_out_mean_delta_e_itp"].get<double>(), 2);

  const auto table = path("curlew.cube");
  const auto solved = run_json("correct solve " + bench() + " --size 17 --out " + table);
  ASSERT_EQ(solved.exit, 0) << solved.out;
  const auto bytes = read_file(table).value();
  const auto again = run("correct solve " + bench() + " --size 17 --out " + table);
  EXPECT_EQ(again.exit, 2);
  EXPECT_THAT(again.out, HasSubstr("nothing is written over"));
  EXPECT_EQ(read_file(table).value(), bytes);
  EXPECT_EQ(store::Bench::open(bench()).value().correction_content(1).value(), bytes);

  const auto proof = run_json("correct prove " + bench() + " --colours 24");
  ASSERT_EQ(proof.exit, 0) << proof.out;
  EXPECT_EQ(proof.json()["regions"][0]["region"], "all");
  EXPECT_EQ(proof.json()["regions"][0]["verdict"], "better");
  EXPECT_THAT(run("correct prove " + bench() + " --correction 9").out, HasSubstr("no correction 9"));

  const auto evaluated = run_json("evaluate " + bench());
  ASSERT_EQ(evaluated.exit, 0) << evaluated.out;
  const auto document = evaluated.json();
  int gains = 0;
  for (const auto& f : document["findings"]) gains += f["quantity"] == "correction_gain";
  EXPECT_EQ(gains, static_cast<int>(proof.json()["regions"].size()));
}

}  // namespace
}  // namespace provenit
