#pragma once
// Recordings made by hand (procedure/recording.h): attached to a loan, and evaluated.
#include <string>
#include <vector>

#include "provenit/base/clock.h"
#include "provenit/base/error.h"
#include "provenit/procedure/recording.h"
#include "provenit/store/bench.h"

namespace provenit::loan {

/// How a file was recorded. What is not given takes the recording step's own; docs/methods/recordings.md lists the
/// keys.
struct AttachRequest {
  std::string path;
  std::string recording;  ///< "zone_walk"
  std::string step;       ///< "across"; empty if the recording has one step only
  /// Test picture parameters that differ from the step's, by name.
  nlohmann::json parameters = nlohmann::json::object();
  /// size [width, height] of the picture, rate_hz, rate_relative, bandwidth_hz, dark, channel, marker, frame_s,
  /// start_s.
  nlohmann::json conditions = nlohmann::json::object();
  store::Id run = 0;  ///< the run during which it was recorded; 0: none
};

struct Attached {
  store::Id id = 0;
  store::AttachmentRecord record;
  std::string read_as;  ///< for people: "1 channel, 320000 samples at 2000 Hz"
};

/// Reads the file, refuses what evaluation could not use, and keeps it with what it was taken of (the picture's
/// parameters complete). Errors: not_found for an unknown recording, step or file; those of parse_trace and of
/// signal::TestPicture::make; conflict if the loan has it already.
[[nodiscard]] Result<Attached> attach(store::Bench& bench, const store::LoanRecord& loan, const AttachRequest& request,
                                      Timestamp now);

/// The same of a file's content. `request.path` is only its name.
[[nodiscard]] Result<Attached> attach(store::Bench& bench, const store::LoanRecord& loan, const AttachRequest& request,
                                      const std::string& bytes, Timestamp now);

struct RecordedFindings {
  std::vector<store::FindingRecord> findings;
  std::vector<std::string> notes;  ///< attachments that gave no finding, each with why
};

/// Findings of the newest attachment of each step. `loan`, `computed` and `software` are left for the caller. Errors:
/// those of the bench; what cannot be evaluated becomes a note.
[[nodiscard]] Result<RecordedFindings> recorded_findings(const store::Bench& bench, const store::LoanRecord& loan);

}  // namespace provenit::loan
