#pragma once
// Agreement with a library that others wrote. The largest error is kept and printed with the library's version, so that
// the log says how far the two agree and not only that they do.
#include <gtest/gtest.h>

#include <cmath>
#include <string>

#include "provenit/base/text.h"

namespace provenit::colour {

class Agreement {
 public:
  Agreement(std::string what, std::string library, double tolerance)
      : what_(std::move(what)), library_(std::move(library)), tolerance_(tolerance) {}
  ~Agreement() {
    EXPECT_GT(count_, 0) << what_;
    EXPECT_LE(worst_, tolerance_) << what_ << " against " << library_;
    testing::Test::RecordProperty(what_, library_ + ": largest error " + exact_text(worst_));
  }
  Agreement(const Agreement&) = delete;
  Agreement& operator=(const Agreement&) = delete;

  void absolute(double ours, double theirs) { add(std::fabs(ours - theirs)); }
  void relative(double ours, double theirs) { add(std::fabs(ours - theirs) / std::fabs(ours)); }

 private:
  void add(double error) {
    ++count_;
    if (!(error <= worst_)) worst_ = error;
  }
  std::string what_, library_;
  double tolerance_ = 0, worst_ = 0;
  int count_ = 0;
};

}  // namespace provenit::colour
