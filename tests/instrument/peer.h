#pragma once
// Starts tests/peers/line_meter_peer as a process and ends it again.
#include <fcntl.h>
#include <signal.h>
#include <spawn.h>
#include <sys/wait.h>
#include <unistd.h>

#include <cstdio>
#include <string>
#include <vector>

extern char** environ;

namespace provenit::instrument::test {

class Peer {
 public:
  /// `arguments` as the peer's head describes them.
  explicit Peer(std::vector<std::string> arguments) {
    int to_peer[2], from_peer[2];
    if (::pipe2(to_peer, O_CLOEXEC) != 0 || ::pipe2(from_peer, O_CLOEXEC) != 0) return;
    posix_spawn_file_actions_t actions;
    ::posix_spawn_file_actions_init(&actions);
    ::posix_spawn_file_actions_adddup2(&actions, to_peer[0], STDIN_FILENO);
    ::posix_spawn_file_actions_adddup2(&actions, from_peer[1], STDOUT_FILENO);
    arguments.insert(arguments.begin(), PROVENIT_LINE_METER_PEER);
    std::vector<char*> argv;
    for (auto& a : arguments) argv.push_back(a.data());
    argv.push_back(nullptr);
    if (::posix_spawn(&pid_, argv[0], &actions, nullptr, argv.data(), environ) != 0) pid_ = -1;
    ::posix_spawn_file_actions_destroy(&actions);
    ::close(to_peer[0]);
    ::close(from_peer[1]);
    input_ = to_peer[1];
    if (std::FILE* output = ::fdopen(from_peer[0], "r")) {
      char line[256] = {};
      if (std::fgets(line, sizeof line, output)) ready_ = line;
      std::fclose(output);
    }
  }
  Peer(const Peer&) = delete;
  Peer& operator=(const Peer&) = delete;
  ~Peer() {
    // Its input ends, and so does it; a peer that hangs is killed, or the test would.
    if (input_ >= 0) ::close(input_);
    for (int i = 0; pid_ > 0 && i < 40; ++i) {
      if (::waitpid(pid_, nullptr, WNOHANG) == pid_) pid_ = -1;
      if (pid_ > 0) ::usleep(5000);
    }
    if (pid_ > 0) {
      ::kill(pid_, SIGKILL);
      ::waitpid(pid_, nullptr, 0);
    }
    if (place().starts_with('/')) ::unlink(place().c_str());
  }
  /// Port or link; empty if it did not start.
  [[nodiscard]] std::string place() const {
    if (ready_.size() < 8 || ready_.compare(0, 6, "ready ") != 0) return {};
    return ready_.substr(6, ready_.size() - 7);
  }

 private:
  pid_t pid_ = -1;
  int input_ = -1;
  std::string ready_;
};

}  // namespace provenit::instrument::test
