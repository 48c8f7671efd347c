#pragma once
// A folder that goes with the test, and the command in it.
#include <gtest/gtest.h>
#include <unistd.h>

#include <filesystem>
#include <string>

#include "run_command.h"

namespace provenit {

class BenchFolder : public testing::Test {
 protected:
  BenchFolder() : folder_(std::filesystem::temp_directory_path() / ("provenit_crossing_" + std::to_string(getpid()))) {
    std::filesystem::remove_all(folder_);
    std::filesystem::create_directories(folder_);
  }
  ~BenchFolder() override { std::filesystem::remove_all(folder_); }

  [[nodiscard]] std::string path(const std::string& name) const { return (folder_ / name).string(); }
  [[nodiscard]] std::string bench() const { return path("b.bench"); }

  /// What it says on both outputs.
  static Answer run(const std::string& arguments) { return run_command(arguments); }
  /// Standard output only, for --json.
  static Answer run_json(const std::string& arguments) { return run_command(arguments + " --json", "/dev/null"); }

  std::filesystem::path folder_;
};

}  // namespace provenit
