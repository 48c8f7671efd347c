#include "provenit/report/package.h"

#include <fmt/format.h>
#include <gmock/gmock.h>

#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <set>

#include "provenit/base/text.h"
#include "sample.h"

namespace provenit::report {
namespace {

namespace fs = std::filesystem;

/// RFC 4180, written apart from the writer under test.
std::vector<std::vector<std::string>> parse_csv(const std::string& text) {
  std::vector<std::vector<std::string>> rows(1, {""});
  bool quoted = false;
  for (std::size_t i = 0; i < text.size(); ++i) {
    const char c = text[i];
    if (quoted && c == '"' && i + 1 < text.size() && text[i + 1] == '"') {
      rows.back().back() += '"';
      ++i;
    } else if (c == '"') {
      quoted = !quoted;
    } else if (!quoted && c == ',') {
      rows.back().emplace_back();
    } else if (!quoted && c == '\n') {
      rows.push_back({""});
    } else {
      rows.back().back() += c;
    }
  }
  rows.pop_back();
  return rows;
}

std::vector<PackageFile> package_of(const Contents& contents) {
  auto files = package(contents);
  EXPECT_TRUE(files.has_value()) << files.error().text();
  return std::move(*files);
}

std::string file(const std::vector<PackageFile>& files, const std::string& name) {
  for (const auto& f : files)
    if (f.name == name) return f.bytes;
  return {};
}

std::vector<std::string> names(const std::vector<PackageFile>& files) {
  std::vector<std::string> out;
  for (const auto& f : files) out.push_back(f.name);
  return out;
}

std::string cell(const std::vector<std::vector<std::string>>& rows, std::size_t row, const std::string& column) {
  const auto at = std::ranges::find(rows[0], column);
  return at == rows[0].end() ? "no column " + column : rows[row][std::size_t(at - rows[0].begin())];
}

class Folder {
 public:
  Folder() {
    std::string name = (fs::temp_directory_path() / "provenit_package_XXXXXX").string();
    path = mkdtemp(name.data());
  }
  ~Folder() { fs::remove_all(path); }
  Folder(const Folder&) = delete;
  Folder& operator=(const Folder&) = delete;
  fs::path path;
};

TEST(Package, HoldsEveryReadingExactly) {
  auto contents = sample_contents();
  auto& reading = contents.runs[0].readings[0];
  reading.measurement.xyz = {.X = 0.1 + 0.2, .Y = -1.25e-5, .Z = 108.9058};
  reading.measurement.raw_reply = "OK, \"1.0\"\r\n2.0";
  const auto rows = parse_csv(file(package_of(contents), "readings.csv"));
  std::size_t count = 0;
  for (const auto& run : contents.runs) count += run.readings.size();
  ASSERT_EQ(rows.size(), count + 1);
  for (const auto& row : rows) ASSERT_EQ(row.size(), rows[0].size());
  EXPECT_EQ(std::stod(cell(rows, 1, "X_cdm2")), 0.1 + 0.2);
  EXPECT_EQ(std::stod(cell(rows, 1, "Y_cdm2")), -1.25e-5);
  EXPECT_EQ(cell(rows, 1, "raw_reply"), reading.measurement.raw_reply);
  EXPECT_EQ(cell(rows, 1, "transfer"), "pq");
  EXPECT_EQ(cell(rows, 1, "r_code"), "573");
  EXPECT_EQ(cell(rows, 1, "taken"), iso8601(reading.taken));
}

TEST(Package, HoldsQuestionsWithVerdicts) {
  const auto rows = parse_csv(file(package_of(sample_contents()), "questions.csv"));
  ASSERT_EQ(rows.size(), 10u);
  EXPECT_EQ(cell(rows, 2, "outcome"), "fails");
  EXPECT_EQ(cell(rows, 2, "conditions"), "{\"window_percent\":100}");
  EXPECT_LT(std::stod(cell(rows, 2, "margin")), 0);
  EXPECT_EQ(cell(rows, 9, "outcome"), "unanswered");
  EXPECT_EQ(cell(rows, 9, "missing"), "not_run");
  EXPECT_EQ(cell(rows, 9, "value"), "");
}

TEST(Package, TracesEachFindingToItsReadings) {
  auto contents = sample_contents();
  contents.findings[0].readings = {12, 4, 5, 6};
  const auto rows = parse_csv(file(package_of(contents), "findings.csv"));
  ASSERT_EQ(rows.size(), contents.findings.size() + 1);
  EXPECT_EQ(cell(rows, 1, "readings"), "4-6 12");
  EXPECT_EQ(cell(rows, 1, "reading_count"), "4");
  EXPECT_EQ(cell(rows, 1, "unit"), "s");
}

TEST(Package, TracesEachFindingToItsFilesAndBack) {
  auto contents = sample_contents();
  const auto findings = parse_csv(file(package_of(contents), "findings.csv"));
  EXPECT_EQ(cell(findings, contents.findings.size(), "quantity"), "zone_count");
  EXPECT_EQ(cell(findings, contents.findings.size(), "attachments"), "2-3");
  const auto rows = parse_csv(file(package_of(contents), "attachments.csv"));
  ASSERT_EQ(rows.size(), 4u);
  EXPECT_EQ(cell(rows, 1, "findings"), "");
  EXPECT_EQ(cell(rows, 3, "name"), "down.mkv");
  EXPECT_EQ(cell(rows, 3, "kind"), "clip");
  EXPECT_EQ(cell(rows, 3, "sha256"), std::string(64, 'd'));
  contents.attachments.clear();
  for (auto& f : contents.findings) f.attachments.clear();
  EXPECT_THAT(names(package_of(contents)), testing::Not(testing::Contains("attachments.csv")));
}

TEST(Package, ListsCorrectionsWithTheirProof) {
  auto contents = sample_contents();
  const auto rows = parse_csv(file(package_of(contents), "corrections.csv"));
  ASSERT_EQ(rows.size(), 2u);
  ASSERT_EQ(rows[0].size(), rows[1].size());
  EXPECT_EQ(cell(rows, 1, "name"), "tern-32.cube");
  EXPECT_EQ(cell(rows, 1, "sha256"), std::string(64, 'e'));
  EXPECT_EQ(nlohmann::json::parse(cell(rows, 1, "goal")), contents.corrections[0].goal);
  const auto& last = contents.findings[contents.findings.size() - 4];  // the three of the zones come after it
  ASSERT_EQ(last.quantity, "correction_gain");
  EXPECT_EQ(cell(rows, 1, "findings"), fmt::format("{}-{}", last.id - 11, last.id));
  contents.corrections.clear();
  std::erase_if(contents.findings, [](const auto& f) { return f.quantity.starts_with("correction_"); });
  EXPECT_THAT(names(package_of(contents)), testing::Not(testing::Contains("corrections.csv")));
}

TEST(Package, HasSpectraOnlyIfThereAreAny) {
  auto contents = sample_contents();
  EXPECT_THAT(names(package_of(contents)), testing::Not(testing::Contains("spectra.csv")));
  contents.runs[0].readings[1].measurement.spectrum = instrument::SpectralReading{380, 5, {0.25, 0.5}};
  const auto rows = parse_csv(file(package_of(contents), "spectra.csv"));
  ASSERT_EQ(rows.size(), 3u);
  EXPECT_EQ(rows[2], (std::vector<std::string>{"2", "385", "0.5"}));
}

TEST(Package, DescribesEveryColumn) {
  auto contents = sample_contents();
  contents.runs[0].readings[1].measurement.spectrum = instrument::SpectralReading{380, 5, {0.25, 0.5}};
  const auto files = package_of(contents);
  const auto readme = file(files, "README.md");
  EXPECT_THAT(readme, testing::HasSubstr("invented or simulated"));
  for (const auto* name :
       {"questions.csv", "findings.csv", "readings.csv", "spectra.csv", "attachments.csv", "corrections.csv"}) {
    const auto section = readme.find(std::string("### ") + name);
    ASSERT_NE(section, std::string::npos) << name;
    const auto text = readme.substr(section, readme.find("\n### ", section + 1) - section);
    const auto rows = parse_csv(file(files, name));
    for (const auto& column : rows[0]) EXPECT_THAT(text, testing::HasSubstr('`' + column + '`')) << name;
  }
}

TEST(Package, SumsAreThoseOfTheFilesAndOfThePage) {
  const auto files = package_of(sample_contents());
  std::istringstream sums(file(files, "SHA256SUMS"));
  std::set<std::string> seen;
  for (std::string hash, name; sums >> hash >> name;) {
    EXPECT_EQ(hash, sha256_hex(file(files, name))) << name;
    seen.insert(name);
  }
  EXPECT_EQ(seen.size(), files.size() - 1);
  const auto report = nlohmann::json::parse(file(files, "report.json"));
  EXPECT_EQ(report.at("hashes").back().at("sha256"), sha256_hex(file(files, "readings.csv")));
}

TEST(Package, IsWrittenAndReplaced) {
  const Folder folder;
  const auto target = (folder.path / "data").string();
  auto contents = sample_contents();
  contents.runs[0].readings[1].measurement.spectrum = instrument::SpectralReading{380, 5, {0.25, 0.5}};
  ASSERT_TRUE(write_package(target, contents));
  EXPECT_TRUE(fs::exists(fs::path(target) / "spectra.csv"));
  const auto written = write_package(target, sample_contents());
  ASSERT_TRUE(written) << written.error().text();
  EXPECT_FALSE(fs::exists(fs::path(target) / "spectra.csv"));
  EXPECT_EQ(written->back(), "SHA256SUMS");
  EXPECT_EQ(std::system(("cd '" + target + "' && sha256sum --check --quiet SHA256SUMS").c_str()), 0);
}

TEST(Package, RefusesAFolderThatHoldsSomethingElse) {
  const Folder folder;
  std::ofstream(folder.path / "notes.txt") << "mine";
  const auto written = write_package(folder.path.string(), sample_contents());
  ASSERT_FALSE(written);
  EXPECT_EQ(written.error().code, ErrorCode::conflict);
  EXPECT_THAT(written.error().message, testing::HasSubstr("notes.txt"));
  EXPECT_EQ(std::distance(fs::directory_iterator(folder.path), fs::directory_iterator()), 1);
}

}  // namespace
}  // namespace provenit::report
