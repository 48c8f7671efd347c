// Several processes write to one bench at the same time: nothing is lost, nothing is stored twice.
#include <gtest/gtest.h>
#include <sys/wait.h>
#include <unistd.h>

#include <array>
#include <filesystem>
#include <functional>
#include <set>

#include "sample.h"
#include "scratch.h"

namespace provenit::store {
namespace {

/// Runs `work` in a child process; its result is the exit code.
pid_t in_child(const std::function<int()>& work) {
  const pid_t child = ::fork();
  if (child == 0) ::_exit(work());
  return child;
}

int exit_code(pid_t child) {
  int status = 0;
  ::waitpid(child, &status, 0);
  return WIFEXITED(status) ? WEXITSTATUS(status) : 1000;
}

TEST(TwoProcesses, WriteRunsOfTheirOwnAtTheSameTime) {
  const Scratch scratch;
  const auto path = scratch.file("a.bench");
  Id loan = 0;
  {
    auto s = make_bench(path);
    loan = s.loan;
    ASSERT_TRUE(s.bench.end_run(s.run, RunState::aborted, {2}));
  }
  constexpr int processes = 3, readings = 60;
  std::vector<pid_t> children;
  for (int p = 0; p < processes; ++p)
    children.push_back(in_child([&] {
      auto bench = Bench::open(path);
      if (!bench) return 1;
      const auto run = bench->begin_run(sample_run(loan));
      if (!run) return 2;
      for (int i = 0; i < readings; ++i) {
        if (!bench->add_reading(sample_reading(*run, i))) return 3;
        if (!bench->add_event({.run = *run, .at = {1.0 * i}, .kind = "remark", .text = "x"})) return 4;
      }
      return bench->end_run(*run, RunState::finished, {3}) ? 0 : 5;
    }));
  for (const pid_t child : children) EXPECT_EQ(exit_code(child), 0);
  const auto bench = Bench::open(path).value();
  EXPECT_EQ(bench.reading_count().value(), processes * readings);
  EXPECT_TRUE(bench.verify_readings());
  const auto runs = bench.runs(loan).value();
  ASSERT_EQ(runs.size(), std::size_t{processes} + 1);
  for (std::size_t r = 1; r < runs.size(); ++r) {
    EXPECT_EQ(bench.events(runs[r].id).value().size(), std::size_t{readings});
    const auto read = bench.readings(runs[r].id).value();
    ASSERT_EQ(read.size(), std::size_t{readings});
    for (int i = 0; i < readings; ++i) expect_same(read[static_cast<std::size_t>(i)], sample_reading(runs[r].id, i));
  }
}

TEST(TwoProcesses, OfOneRunOnlyOneGetsEachNumber) {
  const Scratch scratch;
  const auto path = scratch.file("a.bench");
  const Id run = make_bench(path).run;
  constexpr int each = 40;
  // Both add the next reading of the same run as they see it, and try again when the other was faster.
  const auto add = [&] {
    auto bench = Bench::open(path);
    if (!bench) return 1;
    for (int added = 0; added < each;) {
      const auto next = bench->reading_count();
      if (!next) return 2;
      const auto stored = bench->add_reading(sample_reading(run, *next));
      if (stored)
        ++added;
      else if (stored.error().code != ErrorCode::conflict)
        return 3;
    }
    return 0;
  };
  const pid_t first = in_child(add), second = in_child(add);
  EXPECT_EQ(exit_code(first), 0);
  EXPECT_EQ(exit_code(second), 0);
  const auto bench = Bench::open(path).value();
  EXPECT_TRUE(bench.verify_readings());
  const auto read = bench.readings(run).value();
  ASSERT_EQ(read.size(), 2u * each);
  for (int i = 0; i < 2 * each; ++i) expect_same(read[static_cast<std::size_t>(i)], sample_reading(run, i));
}

TEST(TwoProcesses, OneReadsWhileTheOtherWrites) {
  const Scratch scratch;
  const auto path = scratch.file("a.bench");
  auto s = make_bench(path);
  ASSERT_TRUE(s.bench.add_reading(sample_reading(s.run, 0)));
  const auto reader = Bench::open(path).value();
  ASSERT_TRUE(s.bench.add_reading(sample_reading(s.run, 1)));
  EXPECT_EQ(reader.readings(s.run).value().size(), 2u);
}

TEST(TwoProcesses, OneThatOpensTheBenchAgainIsNotTakenForGone) {
  const Scratch scratch;
  const auto path = scratch.file("a.bench");
  std::array<int, 2> ends{};
  ASSERT_EQ(::pipe(ends.data()), 0);
  // Another program, begun before this one has anything open, that opens and closes the bench when it is told to.
  const pid_t other = in_child([&] {
    char told = 0;
    if (::read(ends[0], &told, 1) != 1) return 1;
    return Bench::open(path).has_value() ? 0 : 2;
  });
  auto s = make_bench(path);
  ASSERT_TRUE(s.bench.add_reading(sample_reading(s.run, 0)));
  { const auto again = Bench::open(path).value(); }  // closing the file once more must not let go of its locks
  ASSERT_EQ(::write(ends[1], "g", 1), 1);
  EXPECT_EQ(exit_code(other), 0);
  EXPECT_TRUE(std::filesystem::exists(path + "-wal")) << "the log in use was put away";
  ASSERT_TRUE(s.bench.add_reading(sample_reading(s.run, 1)));
  EXPECT_EQ(Bench::open(path).value().reading_count().value(), 2);
  ::close(ends[0]);
  ::close(ends[1]);
}

}  // namespace
}  // namespace provenit::store
