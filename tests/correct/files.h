#pragma once
// Files of the tests, each in a folder of the test's own.
#include <gtest/gtest.h>
#include <unistd.h>

#include <filesystem>
#include <string>

#include "provenit/base/text.h"

namespace provenit::correct {

class Files : public testing::Test {
 protected:
  Files()
      : folder_(std::filesystem::path(testing::TempDir()) /
                ("provenit_correct_" + std::to_string(getpid()) + "_" +
                 testing::UnitTest::GetInstance()->current_test_info()->name())) {
    std::filesystem::create_directories(folder_);
  }
  ~Files() override {
    std::error_code ignored;
    std::filesystem::remove_all(folder_, ignored);
  }
  [[nodiscard]] std::string path(const std::string& name) const { return (folder_ / name).string(); }
  [[nodiscard]] std::string written(const std::string& name, const std::string& text) const {
    EXPECT_TRUE(write_file(path(name), text));
    return path(name);
  }

 private:
  std::filesystem::path folder_;
};

}  // namespace provenit::correct
