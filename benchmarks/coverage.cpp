// How often the 95 % intervals hold what is true, over simulated loans that differ in display unit, meter errors, noise
// and drift. A sound interval holds it in about 95 of 100.
#include <fmt/format.h>

#include <cstdlib>
#include <functional>

#include "figure.h"
#include "simulated_loans.h"
#include "trials.h"

namespace {

using namespace provenit;

constexpr int kDraws = 1000;  // per evaluation: enough for a share of loans, not for a report

int loans() {
  return bench::trials("COVERAGE_LOANS");
}

const store::FindingRecord* find(const std::vector<store::FindingRecord>& findings, std::string_view quantity,
                                 int window = 0) {
  for (const auto& f : findings)
    if (f.quantity == quantity && (window == 0 || f.conditions.value("window_percent", 0) == window)) return &f;
  return nullptr;
}

bool holds(const store::FindingRecord* f, double truth) {
  return f != nullptr && f->lower95 <= truth && truth <= f->upper95;
}

/// The truth lies in the 95 % region of u', v' that the white point's series draws.
bool region_holds(const store::FindingRecord* f, double u, double v) {
  if (f == nullptr || f->series.empty()) return false;
  const auto& r = f->series[0];
  const double uu = r["covariance"][0], uv = r["covariance"][1], vv = r["covariance"][2];
  const double du = u - r["u_prime"].get<double>(), dv = v - r["v_prime"].get<double>();
  const double squared = (vv * du * du - 2 * uv * du * dv + uu * dv * dv) / (uu * vv - uv * uv);
  return squared <= r["region95_squared_radius"].get<double>();
}

using Check = std::function<bool(const std::vector<store::FindingRecord>&, const bench::LoanTruth&)>;
struct Asked {
  const char* name;
  Check holds;
};

std::vector<bench::Figure> coverage(const std::vector<std::string>& procedures, const std::vector<Asked>& asked) {
  std::vector<int> held(asked.size());
  const int n = loans();
  for (int i = 0; i < n; ++i) {
    const auto loan = bench::simulated_loan(static_cast<std::uint64_t>(i) + 1, procedures, kDraws);
    const auto findings = evaluation::evaluate(loan.runs, loan.input);
    if (!findings) {
      fmt::print(stderr, "{}\n", findings.error().text());
      std::exit(3);
    }
    for (std::size_t k = 0; k < asked.size(); ++k) held[k] += asked[k].holds(*findings, loan.truth);
  }
  std::vector<bench::Figure> figures;
  for (std::size_t k = 0; k < asked.size(); ++k) {
    const double percent = 100.0 * held[k] / n;
    figures.push_back({asked[k].name, percent, "%", "93 to 97", percent >= 93 && percent <= 97});
  }
  return figures;
}

}  // namespace

int main(int argc, char** argv) {
  using Findings = std::vector<store::FindingRecord>;
  using Truth = bench::LoanTruth;
  return bench::run(
      argc, argv,
      {{{"coverage_peak"},
        [] {
          return coverage({"window_peak"}, {{"coverage_peak", [](const Findings& f, const Truth& t) {
                                               return holds(find(f, "peak_luminance", 10), t.peak_cdm2);
                                             }}});
        }},
       {{"coverage_black"},
        [] {
          return coverage({"black_level"}, {{"coverage_black", [](const Findings& f, const Truth& t) {
                                               return holds(find(f, "black_luminance"), t.black_cdm2);
                                             }}});
        }},
       {{"coverage_white_u", "coverage_white_v", "coverage_white_joint"},
        [] {
          return coverage(
              {"white_point"},
              {{"coverage_white_u",
                [](const Findings& f, const Truth& t) { return holds(find(f, "white_u_prime"), t.u_prime); }},
               {"coverage_white_v",
                [](const Findings& f, const Truth& t) { return holds(find(f, "white_v_prime"), t.v_prime); }},
               {"coverage_white_joint", [](const Findings& f, const Truth& t) {
                  return region_holds(find(f, "white_delta_uv"), t.u_prime, t.v_prime);
                }}});
        }},
       {{"coverage_mean_delta_e_itp"}, [] {
          return coverage({"greyscale"}, {{"coverage_mean_delta_e_itp", [](const Findings& f, const Truth& t) {
                                             return holds(find(f, "eotf_mean_delta_e_itp"), t.mean_delta_e_itp);
                                           }}});
        }}});
}
