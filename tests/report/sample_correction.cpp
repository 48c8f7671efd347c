#include "sample_correction.h"

#include <fmt/format.h>

#include <cmath>
#include <functional>

namespace provenit::report {
namespace {

using nlohmann::json;
using store::FindingRecord;

constexpr Timestamp kComputed{1795600000};

double rounded(double value) {
  return std::round(value * 1e4) / 1e4;
}

/// Every seventh colour counts as saturated: the table does nothing for it.
bool saturated(int i) {
  return i % 7 == 0;
}

FindingRecord mean_of(const char* quantity, const char* region, const std::vector<double>& values) {
  double mean = 0, square = 0;
  for (const double v : values) mean += v / double(values.size());
  for (const double v : values) square += (v - mean) * (v - mean) / double(values.size() - 1);
  FindingRecord f;
  f.loan = 1;
  f.quantity = quantity;
  f.conditions = {{"region", region}};
  f.value = rounded(mean);
  f.unit = "1";
  f.standard_uncertainty = rounded(std::sqrt(square / double(values.size())));
  f.lower95 = rounded(f.value - 2 * f.standard_uncertainty);
  f.upper95 = rounded(f.value + 2 * f.standard_uncertainty);
  f.interval_method = "invented";
  f.dominant = "the choice of colours";
  f.method = "correction_proof";
  f.sources = {"invented for the tests of the report"};
  f.parts = {{"correction", 1}, {"draws", 2000}};
  f.computed = kComputed;
  f.software = "provenit 0.1.0";
  return f;
}

const char* verdict_of(const FindingRecord& gain) {
  if (gain.lower95 > 0) return "better";
  return gain.upper95 < 0 ? "worse" : "no difference shown";
}

}  // namespace

store::CorrectionRecord sample_correction(store::Id run) {
  return {.id = 1,
          .loan = 1,
          .run = run,
          .name = "tern-32.cube",
          .goal = {{"shape", "3d"},
                   {"size", 33},
                   {"entry_bits", 12},
                   {"primaries", "p3_d65"},
                   {"limited", false},
                   {"mapping", "soft_shoulder"},
                   {"peak_cdm2", 1431},
                   {"window_percent", 4},
                   {"input", "pq bt2020 10 narrow signal"},
                   {"output", "pq bt2020 10 narrow signal"},
                   {"model_terms", "interaction, leakage"},
                   {"model_mean_delta_e_itp", 0.1312}},
          .added = kComputed + Seconds{-4000},
          .content_hash = std::string(64, 'e'),
          .bytes = 1112064};
}

std::vector<SampleColour> sample_colours() {
  std::vector<SampleColour> out;
  for (int i = 0; i < 42; ++i) {
    const double asked = 0.05 * std::pow(18000, i / 41.0);  // 0.05 to 900 cd/m2
    const double scatter = std::sin(i * 12.9898) * std::cos(i * 4.1414 + 1);
    const double before = 2.4 + 1.5 * scatter + 0.5 * std::sin(i / 5.0);
    const double kept = asked < 1      ? 1.5 + 0.2 * scatter
                        : saturated(i) ? (i % 2 == 0 ? 1.15 : 0.85)
                                       : 0.2 + 0.08 * scatter;
    out.push_back({rounded(asked), rounded(before), rounded(before * kept)});
  }
  return out;
}

std::vector<FindingRecord> sample_proof(store::Id first) {
  const auto colours = sample_colours();
  std::vector<FindingRecord> out;
  const auto add = [&](const char* region, const std::function<bool(int)>& belongs) {
    std::vector<double> before, after, gain;
    for (int i = 0; i < int(colours.size()); ++i) {
      if (!belongs(i)) continue;
      before.push_back(colours[i].before);
      after.push_back(colours[i].after);
      gain.push_back(colours[i].before - colours[i].after);
    }
    out.push_back(mean_of("correction_before", region, before));
    out.push_back(mean_of("correction_after", region, after));
    out.push_back(mean_of("correction_gain", region, gain));
    out.back().parts["colours"] = gain.size();
    out.back().parts["verdict"] = verdict_of(out.back());
  };
  add("all", [](int) { return true; });
  auto& series = out.back().series = json::array();
  for (int i = 0; i < int(colours.size()); ++i)
    series.push_back({{"name", fmt::format("colour {}", i + 1)},
                      {"asked_cdm2", colours[i].asked_cdm2},
                      {"before", colours[i].before},
                      {"after", colours[i].after}});
  add("near black", [&](int i) { return colours[i].asked_cdm2 < 1; });
  add("bright", [&](int i) { return colours[i].asked_cdm2 >= 10; });
  add("saturated", [&](int i) { return saturated(i) && colours[i].asked_cdm2 >= 1; });
  for (std::size_t i = 0; i < out.size(); ++i) out[i].id = first + store::Id(i);
  return out;
}

}  // namespace provenit::report
