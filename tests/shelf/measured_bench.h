#pragma once
// Benches of simulated displays, measured and evaluated as a user would.
#include <cstdint>
#include <filesystem>
#include <string>
#include <vector>

#include "provenit/base/clock.h"
#include "provenit/store/bench.h"

namespace provenit::shelf {

/// What one test writes, removed with it.
class ScratchFolder {
 public:
  ScratchFolder();
  ScratchFolder(const ScratchFolder&) = delete;
  ScratchFolder& operator=(const ScratchFolder&) = delete;
  ~ScratchFolder();
  [[nodiscard]] std::string at(const std::string& name) const { return (path_ / name).string(); }

 private:
  std::filesystem::path path_;
};

inline constexpr const char* kSoftware = "provenit test";

struct MeasuredLoan {
  std::string display = "Tern 32", simulated = "tern-32", serial;
  std::uint64_t seed = 1;
  Timestamp starts{1.8e9};
  std::vector<std::string> procedures{"black_level", "window_peak"};
  std::vector<std::string> sets{};  ///< empty: the claims of the simulated display
};

/// A bench with the sets of the simulated display asked, these procedures run and evaluated.
void measure(const std::string& path, const std::string& evaluator, const MeasuredLoan& what);
/// Runs a procedure of its only loan, once more if it has run, and evaluates again.
void measure_more(const std::string& path, const std::string& procedure);

}  // namespace provenit::shelf
