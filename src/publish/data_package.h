#pragma once
// A display's data for the public: one archive with a permanent hash, and what a DOI asks to be told about it.
#include <string>

#include "provenit/publish/about.h"
#include "provenit/report/document.h"
#include "provenit/shelf/item.h"

namespace provenit::publish {

struct DataPackage {
  std::string file;   ///< "tern-32-0123456789abcdef.zip"
  std::string bytes;  ///< the archive: the data package of docs/data-package.md
  std::string hash;   ///< SHA-256 of its SHA256SUMS, which has the hash of every other file: the permanent hash

  [[nodiscard]] std::string short_hash() const { return hash.substr(0, 16); }
  /// "tern-32-0123456789abcdef.datacite.json"
  [[nodiscard]] std::string metadata_file() const { return file.substr(0, file.rfind('.')) + ".datacite.json"; }
};
/// The same loan and program give the same bytes, whenever it is published. `contents` with the time of the newest
/// finding as its `written`. Errors: those of report::package; io.
[[nodiscard]] Result<DataPackage> data_package(const report::Contents& contents, const std::string& slug);

/// JSON in the form of DataCite's schema 4.3 (datacite_4.3_schema.json): with the DOI that `about` has for the display,
/// if any, and the permanent hash beside it. `previous`: file of the package that this one replaces; empty if none.
[[nodiscard]] std::string datacite_text(const report::Contents& contents, const std::string& slug,
                                        const DataPackage& package, const About& about, const std::string& previous,
                                        Timestamp published);

}  // namespace provenit::publish
