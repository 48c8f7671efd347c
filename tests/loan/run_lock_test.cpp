#include "provenit/loan/run_lock.h"

#include <gtest/gtest.h>
#include <sys/wait.h>
#include <unistd.h>

#include <array>
#include <csignal>
#include <filesystem>

namespace provenit::loan {
namespace {

class Lock : public testing::Test {
 protected:
  Lock() {
    auto name = (std::filesystem::temp_directory_path() / "provenit_lock_XXXXXX").string();
    if (::mkdtemp(name.data()) == nullptr) throw std::runtime_error("no folder");
    folder_ = name;
  }
  ~Lock() override { std::filesystem::remove_all(folder_); }
  [[nodiscard]] std::string bench() const { return folder_ / "a.bench"; }
  std::filesystem::path folder_;
};

TEST_F(Lock, IsHeldOnceForEachLoan) {
  EXPECT_FALSE(RunLock::is_held(bench(), 1));
  {
    const auto held = RunLock::take(bench(), 1);
    ASSERT_TRUE(held);
    EXPECT_TRUE(RunLock::is_held(bench(), 1));
    EXPECT_TRUE(RunLock::is_held(bench(), 1)) << "asking takes nothing";
    const auto second = RunLock::take(bench(), 1);
    ASSERT_FALSE(second);
    EXPECT_EQ(second.error().code, ErrorCode::conflict);
    EXPECT_FALSE(RunLock::is_held(bench(), 2));
    EXPECT_TRUE(RunLock::take(bench(), 2));
  }
  EXPECT_FALSE(RunLock::is_held(bench(), 1));
  EXPECT_TRUE(std::filesystem::is_empty(folder_)) << "nothing is left behind";
  EXPECT_TRUE(RunLock::take(bench(), 1));
}

TEST_F(Lock, GoesWithAProgramThatIsKilled) {
  std::array<int, 2> ends{};
  ASSERT_EQ(::pipe(ends.data()), 0);
  const pid_t child = ::fork();
  if (child == 0) {
    const auto held = RunLock::take(bench(), 1);
    (void)!::write(ends[1], "h", 1);
    for (;;) ::pause();
  }
  char told = 0;
  ASSERT_EQ(::read(ends[0], &told, 1), 1);
  EXPECT_TRUE(RunLock::is_held(bench(), 1));
  EXPECT_FALSE(RunLock::take(bench(), 1));
  ::kill(child, SIGKILL);
  ::waitpid(child, nullptr, 0);
  EXPECT_FALSE(RunLock::is_held(bench(), 1));
  EXPECT_TRUE(RunLock::take(bench(), 1)) << "the file it left does not count";
  ::close(ends[0]);
  ::close(ends[1]);
}

TEST_F(Lock, NeedsAFolderThatCanBeWritten) {
  EXPECT_EQ(RunLock::take(folder_ / "none" / "a.bench", 1).error().code, ErrorCode::io);
}

}  // namespace
}  // namespace provenit::loan
