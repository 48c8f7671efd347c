#pragma once
// A child process that tells what it has stored, killed at a chosen moment.
#include <fcntl.h>
#include <signal.h>
#include <sys/wait.h>
#include <unistd.h>

#include <chrono>
#include <cstdint>
#include <functional>
#include <stdexcept>
#include <thread>

namespace provenit {

/// Runs `work` in a child, which writes each stored sequence number (std::int64_t) to the descriptor it is given and
/// ends with the exit code that it returns. Kills the child `delay` after it told of `after` of them. The last sequence
/// number that came through, or -1.
inline std::int64_t run_and_kill(const std::function<int(int acknowledge)>& work, int after,
                                 std::chrono::microseconds delay) {
  int ends[2];
  if (::pipe2(ends, O_CLOEXEC) != 0) throw std::runtime_error("no pipe");
  const pid_t child = ::fork();
  if (child == 0) ::_exit(work(ends[1]));
  ::close(ends[1]);
  std::int64_t last = -1, sequence = 0;
  for (int n = 0; n < after && ::read(ends[0], &sequence, sizeof sequence) == sizeof sequence; ++n) last = sequence;
  std::this_thread::sleep_for(delay);
  ::kill(child, SIGKILL);
  ::waitpid(child, nullptr, 0);
  while (::read(ends[0], &sequence, sizeof sequence) == sizeof sequence) last = sequence;
  ::close(ends[0]);
  return last;
}

}  // namespace provenit
