#pragma once
// What a piece of work costs, run in a process of its own.
#include <fmt/format.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <unistd.h>

#include <chrono>
#include <cstdlib>

namespace provenit::bench {

struct Cost {
  double wall_s = 1e9, cpu_s = 1e9, peak_mb = 0;
};

/// Runs `work` in a child, which says whether it went well; ends the program if not. The least of several runs is the
/// one that was disturbed least.
template <class F>
Cost cost_of(F work) {
  const auto begun = std::chrono::steady_clock::now();
  const pid_t child = fork();
  if (child == 0) _exit(work() ? 0 : 1);
  int status = 0;
  rusage used{};
  wait4(child, &status, 0, &used);
  if (!WIFEXITED(status) || WEXITSTATUS(status) != 0) {
    fmt::print(stderr, "a run failed\n");
    std::exit(2);
  }
  const auto seconds = [](const timeval& t) {
    return static_cast<double>(t.tv_sec) + 1e-6 * static_cast<double>(t.tv_usec);
  };
  return {.wall_s = std::chrono::duration<double>(std::chrono::steady_clock::now() - begun).count(),
          .cpu_s = seconds(used.ru_utime) + seconds(used.ru_stime),
          .peak_mb = static_cast<double>(used.ru_maxrss) / 1024};
}

}  // namespace provenit::bench
