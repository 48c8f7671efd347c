// The 95 % intervals hold what is true of simulated displays: the small, seeded form of benchmarks/coverage.cpp.
#include <fmt/format.h>
#include <gtest/gtest.h>

#include "light_source.h"
#include "simulated_loans.h"

namespace provenit::evaluation {
namespace {

constexpr int kLoans = 40;
/// Of 40 intervals that hold the truth with 95 %, fewer than 34 do so once in 400 cases.
constexpr int kFewest = 34;

struct Held {
  int peak = 0, black = 0, u = 0, v = 0, delta_e = 0;
};

Held count(const std::vector<std::string>& procedures) {
  Held held;
  for (int i = 0; i < kLoans; ++i) {
    const auto loan = bench::simulated_loan(static_cast<std::uint64_t>(i) + 5001, procedures, 300);
    auto input = loan.input;
    input.series = false;
    const auto findings = evaluate(loan.runs, input);
    EXPECT_TRUE(findings) << (findings ? "" : findings.error().text());
    if (!findings) break;
    const auto holds = [&](const char* quantity, double truth,
                           const nlohmann::json& conditions = nlohmann::json::object()) {
      const auto* f = find(*findings, quantity, conditions);
      return f != nullptr && f->lower95 <= truth && truth <= f->upper95;
    };
    held.peak += holds("peak_luminance", loan.truth.peak_cdm2, {{"window_percent", 10}});
    held.black += holds("black_luminance", loan.truth.black_cdm2);
    held.u += holds("white_u_prime", loan.truth.u_prime);
    held.v += holds("white_v_prime", loan.truth.v_prime);
    held.delta_e += holds("eotf_mean_delta_e_itp", loan.truth.mean_delta_e_itp);
  }
  return held;
}

TEST(Coverage, PeakBlackAndWhite) {
  const Held held = count({"black_level", "window_peak", "white_point"});
  EXPECT_GE(held.peak, kFewest);
  EXPECT_GE(held.black, kFewest);
  EXPECT_GE(held.u, kFewest);
  EXPECT_GE(held.v, kFewest);
}

TEST(Coverage, MeanDeltaE) {
  EXPECT_GE(count({"greyscale"}).delta_e, kFewest);
}

}  // namespace
}  // namespace provenit::evaluation
