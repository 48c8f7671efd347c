#pragma once
// The tables of the data package as CSV (RFC 4180, LF line ends, numbers in the shortest form that reads back).
#include <string>
#include <vector>

#include "outcomes.h"
#include "provenit/report/document.h"

namespace provenit::report {

[[nodiscard]] std::string readings_csv(const Contents& contents);
/// Empty if no reading has a spectrum.
[[nodiscard]] std::string spectra_csv(const Contents& contents);
/// Empty if the loan keeps no file.
[[nodiscard]] std::string attachments_csv(const Contents& contents);
/// Empty if no correction was solved.
[[nodiscard]] std::string corrections_csv(const Contents& contents);
[[nodiscard]] std::string findings_csv(const Contents& contents);
[[nodiscard]] std::string questions_csv(const std::vector<Outcome>& outcomes);

}  // namespace provenit::report
