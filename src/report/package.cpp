#include "provenit/report/package.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <filesystem>
#include <system_error>

#include "provenit/base/text.h"
#include "report_assets.h"
#include "tables.h"

namespace provenit::report {
namespace {

namespace fs = std::filesystem;

constexpr std::string_view kSums = "SHA256SUMS";
constexpr std::array<std::string_view, 9> kNames{"README.md",       "questions.csv", "findings.csv",
                                                 "readings.csv",    "spectra.csv",   "attachments.csv",
                                                 "corrections.csv", "report.json",   kSums};

std::string sums(const std::vector<PackageFile>& files) {
  std::string out;
  for (const auto& file : files) out += fmt::format("{}  {}\n", sha256_hex(file.bytes), file.name);
  return out;
}

/// What this package is of, then the description of every file and column (docs/data-package.md).
std::string readme(const Contents& contents) {
  std::string out = fmt::format("# {}: data package\n\n", contents.display.name);
  if (contents.invented)
    out += "**The display, the lab and the readings of this package are invented or simulated.**\n\n";
  out += fmt::format("Loan {} to {}, evaluated by {}. Written {} by {}.\n\n", iso8601(contents.loan.starts),
                     iso8601(contents.loan.ends), contents.evaluator, iso8601(contents.written), contents.software);
  return out + std::string(find_report_asset("/data-package.md"));
}

/// A file that no package has would look like a part of this one.
Result<void> check_folder(const fs::path& folder) {
  std::error_code ec;
  if (!fs::exists(folder, ec)) return {};
  if (!fs::is_directory(folder, ec))
    return fail(ErrorCode::conflict, fmt::format("'{}' is a file", folder.string()), "Name a folder.",
                Where{.file = folder.string()});
  for (const auto& entry : fs::directory_iterator(folder, ec)) {
    const auto name = entry.path().filename().string();
    if (std::ranges::find(kNames, name) == kNames.end())
      return fail(ErrorCode::conflict,
                  fmt::format("'{}' holds '{}', which is no part of a data package", folder.string(), name),
                  "Name an empty or a new folder.", Where{.file = entry.path().string()});
  }
  if (ec) return fail(ErrorCode::io, ec.message(), "Check the folder's rights.", Where{.file = folder.string()});
  return {};
}

/// Takes away what an earlier package left, its sums first.
Result<void> clear_folder(const fs::path& folder) {
  std::error_code ec;
  fs::create_directories(folder, ec);
  if (!ec) fs::remove(folder / kSums, ec);
  for (const auto name : kNames)
    if (!ec) fs::remove(folder / name, ec);
  if (ec)
    return fail(ErrorCode::io, fmt::format("cannot prepare '{}': {}", folder.string(), ec.message()),
                "Name a folder that can be written.", Where{.file = folder.string()});
  return {};
}

}  // namespace

Result<std::vector<PackageFile>> package(const Contents& contents) {
  const auto document = Document::build(contents);
  if (!document) return tl::unexpected(document.error());
  const auto all = outcomes(contents);
  if (!all) return tl::unexpected(all.error());
  std::vector<PackageFile> files{{"README.md", readme(contents)},
                                 {"questions.csv", questions_csv(*all)},
                                 {"findings.csv", findings_csv(contents)},
                                 {"readings.csv", readings_csv(contents)}};
  if (auto spectra = spectra_csv(contents); !spectra.empty()) files.push_back({"spectra.csv", std::move(spectra)});
  if (auto kept = attachments_csv(contents); !kept.empty()) files.push_back({"attachments.csv", std::move(kept)});
  if (auto kept = corrections_csv(contents); !kept.empty()) files.push_back({"corrections.csv", std::move(kept)});
  files.push_back({"report.json", document->text()});
  files.push_back({std::string(kSums), sums(files)});
  return files;
}

Result<std::vector<std::string>> write_package(const std::string& folder, const Contents& contents) {
  const auto files = package(contents);
  if (!files) return tl::unexpected(files.error());
  if (auto ok = check_folder(folder); !ok) return tl::unexpected(ok.error());
  if (auto ok = clear_folder(folder); !ok) return tl::unexpected(ok.error());
  std::vector<std::string> written;
  for (const auto& file : *files) {
    if (auto ok = write_file((fs::path(folder) / file.name).string(), file.bytes); !ok)
      return tl::unexpected(ok.error());
    written.push_back(file.name);
  }
  return written;
}

}  // namespace provenit::report
