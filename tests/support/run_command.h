#pragma once
// The provenit command as a user gives it.
#include <sys/wait.h>

#include <array>
#include <cstdio>
#include <nlohmann/json.hpp>
#include <string>

namespace provenit {

struct Answer {
  int exit = -1;
  std::string out;
  [[nodiscard]] nlohmann::json json() const { return nlohmann::json::parse(out); }
};

/// Runs it with these arguments and no input. What it says on stderr comes with its answer, or goes to `errors_to`.
inline Answer run_command(const std::string& arguments, const std::string& errors_to = "&1") {
  const std::string line = std::string(PROVENIT_COMMAND) + " " + arguments + " </dev/null 2>" + errors_to;
  FILE* pipe = popen(line.c_str(), "r");
  if (pipe == nullptr) return {};
  Answer answer;
  std::array<char, 4096> buffer{};
  for (std::size_t n = 0; (n = fread(buffer.data(), 1, buffer.size(), pipe)) > 0;) answer.out.append(buffer.data(), n);
  answer.exit = WEXITSTATUS(pclose(pipe));
  return answer;
}

}  // namespace provenit
