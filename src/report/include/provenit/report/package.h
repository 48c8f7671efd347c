#pragma once
// The data package: a folder of CSV and JSON from which every finding can be traced and recomputed. Every column and
// unit is written in its README.md and in docs/data-package.md.
#include <string>
#include <vector>

#include "provenit/base/error.h"
#include "provenit/report/document.h"

namespace provenit::report {

struct PackageFile {
  std::string name;   ///< "readings.csv"
  std::string bytes;  ///< UTF-8, lines end in LF
};

/// The files of the package: README.md, questions.csv, findings.csv, readings.csv; spectra.csv, attachments.csv and
/// corrections.csv where there are any; report.json and, last, SHA256SUMS over the others (the form `sha256sum --check`
/// reads). Attached files and corrections themselves stay in the bench.
/// CSV is RFC 4180 with a header line; a text that a spreadsheet might run as a formula is kept as it is.
/// Errors: those of Document::build.
[[nodiscard]] Result<std::vector<PackageFile>> package(const Contents& contents);

/// Writes them into `folder`, which is made if it is missing. A file of an earlier package is replaced; SHA256SUMS is
/// removed first and written last, so that a half-written package fails its own check.
/// Errors: those of package(); conflict if the folder holds a file that no package has; io.
/// Returns the names written.
[[nodiscard]] Result<std::vector<std::string>> write_package(const std::string& folder, const Contents& contents);

}  // namespace provenit::report
