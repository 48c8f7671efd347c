#pragma once
// A bench as large as years of work make it, for scale.cpp: synthetic, but in the shape of the real one. One simulated
// loan is carried through by the program itself and one film is surveyed; their rows are then written again and again.
#include <cstdint>
#include <string>

namespace provenit::bench {

struct ScaleSize {
  std::int64_t loans = 1000, readings = 10'000'000, surveys = 100, frames = 200'000;  ///< frames: of each survey
};

/// The demo display's loan of two days (simulated, invented) as a bench: planned, run, recorded, evaluated. Ends the
/// program on an error.
void carry_through(const std::string& path);

/// What was made, and what it takes on the disk with its indexes.
struct ScaleBench {
  std::string path;
  std::int64_t loans = 0, runs = 0, readings = 0, findings = 0, surveys = 0, frames = 0;
  double loan_bytes = 0;     ///< a loan with its questions
  double reading_bytes = 0;  ///< a reading, with its share of runs and events
  double finding_bytes = 0;  ///< a finding with its links and verdicts
  double frame_bytes = 0;    ///< a frame of a survey
  double fill_s = 0;
};

/// Makes it in `folder`; what is there already is removed first. Ends the program on an error: there is none to expect
/// but a full disk.
[[nodiscard]] ScaleBench make_scale_bench(const std::string& folder, const ScaleSize& size);

}  // namespace provenit::bench
