// A shelf becomes a site whose every link leads somewhere, whose data can be checked, and which says what it corrects.
#include <gmock/gmock.h>

#include <filesystem>
#include <map>
#include <regex>
#include <set>

#include "measured_bench.h"
#include "provenit/base/text.h"
#include "provenit/publish/site.h"
#include "provenit/report/archive.h"

namespace provenit::publish {
namespace {

namespace fs = std::filesystem;
using shelf::kSoftware;
using testing::Contains;
using testing::HasSubstr;
using testing::Not;

std::map<std::string, std::string> files_below(const std::string& folder) {
  std::map<std::string, std::string> out;
  for (const auto& entry : fs::recursive_directory_iterator(folder))
    if (entry.is_regular_file())
      out[fs::relative(entry.path(), folder).string()] = read_file(entry.path().string()).value();
  return out;
}

class SiteTest : public testing::Test {
 protected:
  static void SetUpTestSuite() {
    made_ = new shelf::ScratchFolder;
    shelf::measure(made_->at("tern.bench"), "Saltmarsh Display Lab", {});
    shelf::measure(made_->at("curlew.bench"), "Saltmarsh Display Lab",
                   {.display = "Curlew 27 <b>", .simulated = "curlew-27", .seed = 2});
  }
  static void TearDownTestSuite() { delete made_; }

  void SetUp() override {
    if (HasFatalFailure()) return;
    auto shelf = shelf::Shelf::create(scratch_.at("shelf"), "Displays & more", {1.8e9});
    ASSERT_TRUE(shelf) << shelf.error().text();
    for (const auto* name : {"tern.bench", "curlew.bench"}) {
      const auto added = shelf->add(made_->at(name), {1.8e9}, kSoftware);
      ASSERT_TRUE(added) << added.error().text();
    }
  }
  [[nodiscard]] shelf::Shelf shelf() const { return shelf::Shelf::open(scratch_.at("shelf")).value(); }
  [[nodiscard]] Result<SiteSummary> published(double days, About about = {}) const {
    return write_site(shelf(), site_,
                      {.about = std::move(about), .now = {1.8e9 + 86400 * days}, .software = kSoftware, .png = false});
  }

  shelf::ScratchFolder scratch_;
  std::string site_ = scratch_.at("site");
  static shelf::ScratchFolder* made_;
};
shelf::ScratchFolder* SiteTest::made_ = nullptr;

TEST_F(SiteTest, EveryLinkLeadsToAFileOfTheSiteAndNothingIsFetched) {
  const auto summary = published(1);
  ASSERT_TRUE(summary) << summary.error().text();
  EXPECT_EQ(summary->displays, 2U);
  const auto files = files_below(site_);
  std::size_t followed = 0;
  const std::regex links("(href|src)=\"([^\"]*)\"");
  for (const auto& [name, bytes] : files) {
    if (!name.ends_with(".html") || name.starts_with("reports/")) continue;
    for (auto it = std::sregex_iterator(bytes.begin(), bytes.end(), links); it != std::sregex_iterator(); ++it) {
      const std::string to = (*it)[2];
      ASSERT_FALSE(to.starts_with("http")) << name << " leaves the site for " << to;
      const auto hash = to.find('#');
      const auto path = to.substr(0, hash);
      const auto target = path.empty() ? name : (fs::path(name).parent_path() / path).lexically_normal().string();
      ASSERT_TRUE(files.contains(target)) << name << " leads to " << to;
      if (hash != std::string::npos) {
        EXPECT_THAT(files.at(target), HasSubstr("id=\"" + to.substr(hash + 1) + "\"")) << name;
      }
      ++followed;
    }
  }
  EXPECT_GT(followed, 100U);
  EXPECT_THAT(files.at("index.html"), HasSubstr("Displays &amp; more"));
  EXPECT_THAT(files.at("index.html"), HasSubstr("Curlew 27 &lt;b&gt;"));
  EXPECT_THAT(files.at("index.html"), Not(HasSubstr("27 <b>")));
}

TEST_F(SiteTest, PackagesCanBeCheckedByTheHashOnThePage) {
  const auto summary = published(1);
  ASSERT_TRUE(summary) << summary.error().text();
  ASSERT_EQ(summary->packages.size(), 2U);
  for (const auto& package : summary->packages) {
    const auto bytes = read_file(site_ + "/data/" + package.file);
    ASSERT_TRUE(bytes);
    const auto unpacked = report::unzip(*bytes);
    ASSERT_TRUE(unpacked);
    const auto& sums = unpacked->at(package.display + "/SHA256SUMS");
    EXPECT_EQ(sha256_hex(sums), package.hash);
    std::size_t checked = 0;
    for (const auto line : split(sums, '\n')) {
      if (line.empty()) continue;
      constexpr std::size_t kDigits = 64;
      const std::string name(line.substr(kDigits + 2));
      EXPECT_EQ(sha256_hex(unpacked->at(package.display + "/" + name)), line.substr(0, kDigits)) << name;
      ++checked;
    }
    EXPECT_EQ(checked + 1, unpacked->size());
    EXPECT_THAT(read_file(site_ + "/displays/" + package.display + ".html").value(), HasSubstr(package.hash));
  }
}

TEST_F(SiteTest, TheBenchOfAPageGoesOnAnotherShelf) {
  ASSERT_TRUE(published(1));
  auto other = shelf::Shelf::create(scratch_.at("other"), "Elsewhere", {1.8e9});
  ASSERT_TRUE(other);
  std::size_t benches = 0;
  for (const auto& entry : fs::directory_iterator(site_ + "/data"))
    if (entry.path().extension() == ".bench") {
      const auto added = other->add(entry.path().string(), {1.8e9}, kSoftware);
      EXPECT_TRUE(added) << added.error().text();
      ++benches;
    }
  EXPECT_EQ(benches, 2U);
}

TEST_F(SiteTest, PublishedAgainWithoutANewFindingItIsTheSameByteForByte) {
  ASSERT_TRUE(published(1));
  const auto first = files_below(site_);
  ASSERT_TRUE(published(5));
  EXPECT_EQ(files_below(site_), first);
}

TEST_F(SiteTest, ALaterStateIsShownAsACorrectionWithTheOldValueAndTheOldDataStays) {
  const auto first = published(1);
  ASSERT_TRUE(first);
  const auto later = scratch_.at("tern.bench");
  ASSERT_TRUE(store::Bench::copy(made_->at("tern.bench"), later));
  shelf::measure_more(later, "window_peak");
  auto s = shelf();
  const auto added = s.add(later, {1.8e9 + 86400 * 2}, kSoftware);
  ASSERT_TRUE(added) << added.error().text();
  const auto second = published(3);
  ASSERT_TRUE(second) << second.error().text();
  ASSERT_FALSE(second->corrected.empty());
  for (const auto& c : second->corrected) EXPECT_EQ(c.display, "Tern 32");
  EXPECT_THAT(second->corrected.front().text, testing::AllOf(HasSubstr("window: was"), HasSubstr("is ")));
  const auto files = files_below(site_);
  for (const auto* page : {"corrections.html", "displays/tern-32.html"}) {
    EXPECT_THAT(files.at(page), HasSubstr("<s>")) << page;
    EXPECT_THAT(files.at(page), HasSubstr("Peak luminance, ")) << page;
  }
  EXPECT_THAT(files.at("displays/curlew-27-b.html"), Not(HasSubstr("<s>")));
  // The package that was published first is still where it was, and the new one names it.
  const auto& before = first->packages.front();
  const auto& now = second->packages.front();
  EXPECT_NE(before.hash, now.hash);
  EXPECT_TRUE(files.contains("data/" + before.file));
  EXPECT_THAT(files.at("displays/tern-32.html"), HasSubstr(before.file));
  // Published once more without news, the correction stays and none is added.
  const auto third = published(4);
  ASSERT_TRUE(third);
  EXPECT_TRUE(third->corrected.empty());
  EXPECT_EQ(files_below(site_), files);
}

TEST_F(SiteTest, AFolderThatIsNoSiteIsLeftAlone) {
  fs::create_directories(site_);
  ASSERT_TRUE(write_file(site_ + "/thesis.txt", "years of work"));
  const auto refused = published(1);
  ASSERT_FALSE(refused);
  EXPECT_EQ(refused.error().code, ErrorCode::conflict);
  EXPECT_EQ(files_below(site_).size(), 1U);
  EXPECT_FALSE(fs::exists(site_ + ".next"));
}

TEST_F(SiteTest, ARecordThatCannotBeReadOrIsNewerIsRefusedAndTheSiteStays) {
  ASSERT_TRUE(published(1));
  const auto record = read_file(site_ + "/published.json").value();
  const auto refused_with = [&](const std::string& text, ErrorCode code) {
    ASSERT_TRUE(write_file(site_ + "/published.json", text));
    const auto before = files_below(site_);
    const auto refused = published(2);
    ASSERT_FALSE(refused);
    EXPECT_EQ(refused.error().code, code);
    EXPECT_THAT(refused.error().text(), HasSubstr("published.json"));
    EXPECT_EQ(files_below(site_), before);
  };
  refused_with(record.substr(0, record.size() / 2), ErrorCode::invalid_input);
  refused_with(std::regex_replace(record, std::regex("site/1"), "site/2"), ErrorCode::conflict);
  refused_with(std::regex_replace(record, std::regex("\"displays\""), "\"shows\""), ErrorCode::invalid_input);
}

TEST_F(SiteTest, WhatAKilledCallLeftIsTakenUp) {
  ASSERT_TRUE(published(1));
  const auto before = files_below(site_);
  // Killed between the two renames: the old site lies aside, the new one is not in its place.
  fs::rename(site_, site_ + ".old");
  fs::create_directories(site_ + ".next");
  ASSERT_TRUE(write_file(site_ + ".next/half.html", "half"));
  ASSERT_TRUE(published(2));
  EXPECT_EQ(files_below(site_), before);
  EXPECT_FALSE(fs::exists(site_ + ".old"));
  EXPECT_FALSE(fs::exists(site_ + ".next"));
}

// DataCite metadata schema 4.3 as JSON (datacite_4.3_schema.json of its repository): what it requires, and the words it
// allows for what is used here.
TEST_F(SiteTest, MetadataHaveWhatADoiNeeds) {
  About about{
      .publisher = "Saltmarsh Display Lab",
      .address = "https://displays.example/",
      .rights = "CC BY 4.0",
      .rights_id = "CC-BY-4.0",
      .rights_address = "https://creativecommons.org/licenses/by/4.0/",
      .creators = {{.name = "Wader, Wanda", .person = true, .orcid = "0000-0000-0000-0000", .affiliation = "Lab"}},
      .doi = {{"tern-32", "10.5555/tern-32"}}};
  const auto summary = published(1, about);
  ASSERT_TRUE(summary) << summary.error().text();
  const auto& package = summary->packages.front();
  const auto stem = package.file.substr(0, package.file.size() - 4);
  const auto json = nlohmann::json::parse(read_file(site_ + "/data/" + stem + ".datacite.json").value());
  for (const auto* key :
       {"identifiers", "creators", "titles", "publisher", "publicationYear", "types", "schemaVersion"})
    EXPECT_TRUE(json.contains(key)) << key;
  const std::set<std::string> known{"types",
                                    "identifiers",
                                    "creators",
                                    "titles",
                                    "publisher",
                                    "publicationYear",
                                    "subjects",
                                    "contributors",
                                    "dates",
                                    "language",
                                    "alternateIdentifiers",
                                    "relatedIdentifiers",
                                    "sizes",
                                    "formats",
                                    "version",
                                    "rightsList",
                                    "descriptions",
                                    "geoLocations",
                                    "fundingReferences",
                                    "schemaVersion",
                                    "container"};
  for (const auto& [key, value] : json.items()) EXPECT_TRUE(known.contains(key)) << key;
  EXPECT_EQ(json["schemaVersion"], "http://datacite.org/schema/kernel-4");
  EXPECT_EQ(json["types"]["resourceTypeGeneral"], "Dataset");
  EXPECT_EQ(json["identifiers"][0]["identifier"], "https://doi.org/10.5555/tern-32");
  EXPECT_EQ(json["identifiers"][1]["identifier"], package.hash);
  EXPECT_EQ(json["creators"][0]["nameType"], "Personal");
  EXPECT_EQ(json["publicationYear"], "2027");
  for (const auto& date : json["dates"])
    EXPECT_THAT((std::set<std::string>{"Collected", "Created", "Issued"}),
                Contains(date["dateType"].get<std::string>()));
  for (const auto& related : json["relatedIdentifiers"])
    EXPECT_THAT((std::set<std::string>{"IsDescribedBy", "IsNewVersionOf"}),
                Contains(related["relationType"].get<std::string>()));
}

TEST(About, SaysWhereAFileIsWrong) {
  const auto line_of = [](const std::string& text, const std::string& field) {
    const auto about = parse_about(text, "about.toml");
    EXPECT_FALSE(about) << text;
    if (about) return -1;
    EXPECT_EQ(about.error().where.file, "about.toml");
    EXPECT_EQ(about.error().where.field, field) << about.error().text();
    return about.error().where.line;
  };
  EXPECT_EQ(line_of("title = \"a\"\ntitel = \"b\"\n", "titel"), 2);
  EXPECT_EQ(line_of("title = 3\n", "title"), 1);
  EXPECT_EQ(line_of("\naddress = \"displays.example\"\n", "address"), 2);
  EXPECT_EQ(line_of("[[creator]]\nkind = \"person\"\n", "creator: name"), 1);
  EXPECT_EQ(line_of("[doi]\ntern-32 = \"tern\"\n", "doi: tern-32"), 2);
  EXPECT_EQ(line_of("title = \n", ""), 1);
  const auto about =
      parse_about("title = \"Year\"\naddress = \"https://displays.example\"\n[doi]\na = \"10.5/a\"\n", "x");
  ASSERT_TRUE(about) << about.error().text();
  EXPECT_EQ(about->address, "https://displays.example/");
  EXPECT_EQ(about->doi.at("a"), "10.5/a");
}

}  // namespace
}  // namespace provenit::publish
