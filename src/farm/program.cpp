#include "program.h"

#include <spawn.h>
#include <sys/wait.h>
#include <unistd.h>

#include <array>
#include <cerrno>
#include <cstdio>
#include <cstring>
#include <memory>

extern char** environ;

namespace provenit::farm {
namespace {

using File = std::unique_ptr<FILE, decltype([](FILE* f) { std::fclose(f); })>;

std::string content_of(FILE* file) {
  std::string text;
  std::array<char, 4096> buffer{};
  std::rewind(file);
  for (std::size_t n = 0; (n = std::fread(buffer.data(), 1, buffer.size(), file)) > 0;) text.append(buffer.data(), n);
  return text;
}

}  // namespace

Result<Ran> run_program(const std::vector<std::string>& words) {
  const auto refused = [&](int code) {
    return fail(code == ENOENT ? ErrorCode::unsupported : ErrorCode::io,
                words.front() + " cannot be run: " + std::strerror(code), "Install it, or see that PATH leads to it.");
  };
  const File out(std::tmpfile()), err(std::tmpfile());
  if (!out || !err) return refused(errno);
  posix_spawn_file_actions_t files;
  posix_spawn_file_actions_init(&files);
  posix_spawn_file_actions_addopen(&files, STDIN_FILENO, "/dev/null", 0, 0);
  posix_spawn_file_actions_adddup2(&files, ::fileno(out.get()), STDOUT_FILENO);
  posix_spawn_file_actions_adddup2(&files, ::fileno(err.get()), STDERR_FILENO);
  std::vector<std::string> own = words;
  std::vector<char*> argv;
  for (auto& word : own) argv.push_back(word.data());
  argv.push_back(nullptr);
  pid_t child = 0;
  const int code = ::posix_spawnp(&child, argv.front(), &files, nullptr, argv.data(), environ);
  posix_spawn_file_actions_destroy(&files);
  if (code != 0) return refused(code);
  int state = 0;
  while (::waitpid(child, &state, 0) < 0)
    if (errno != EINTR) return refused(errno);
  return Ran{
      .exit = WIFEXITED(state) ? WEXITSTATUS(state) : -1, .out = content_of(out.get()), .err = content_of(err.get())};
}

}  // namespace provenit::farm
