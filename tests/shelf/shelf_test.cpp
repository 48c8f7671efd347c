// A shelf takes in what is sound, and nothing else; and a later state of a bench takes the earlier one's place.
#include "provenit/shelf/shelf.h"

#include <SQLiteCpp/SQLiteCpp.h>
#include <gmock/gmock.h>

#include <algorithm>
#include <filesystem>
#include <fstream>
#include <map>

#include "measured_bench.h"
#include "provenit/base/text.h"

namespace provenit::shelf {
namespace {

namespace fs = std::filesystem;
using testing::AllOf;
using testing::HasSubstr;

constexpr Timestamp kNow{1.8e9 + 86400};

/// Every file below a folder, with its bytes.
std::map<std::string, std::string> contents(const std::string& folder) {
  std::map<std::string, std::string> out;
  for (const auto& entry : fs::recursive_directory_iterator(folder))
    if (entry.is_regular_file()) out[entry.path().string()] = read_file(entry.path().string()).value();
  return out;
}

class ShelfTest : public testing::Test {
 protected:
  /// Two measured benches, made once: only copies of them are changed.
  static void SetUpTestSuite() {
    made_ = new ScratchFolder;
    measure(made_->at("tern.bench"), "Saltmarsh Display Lab", {});
    measure(made_->at("curlew.bench"), "Saltmarsh Display Lab",
            {.display = "Curlew 27", .simulated = "curlew-27", .seed = 2});
  }
  static void TearDownTestSuite() { delete made_; }

  void SetUp() override {
    if (HasFatalFailure()) return;
    auto shelf = Shelf::create(folder_, "Displays of the year", kNow);
    ASSERT_TRUE(shelf) << shelf.error().text();
  }
  [[nodiscard]] Shelf shelf() const { return Shelf::open(folder_).value(); }
  /// A copy that a test may change.
  [[nodiscard]] std::string copy_of(const std::string& name) const {
    const auto to = scratch_.at("given-" + name);
    EXPECT_TRUE(store::Bench::copy(made_->at(name), to));
    return to;
  }
  /// Adding it is refused with this code, and nothing on the shelf changes; gives the error.
  Error refused(const std::string& bench, ErrorCode code) {
    const auto before = contents(folder_);
    auto s = shelf();
    const auto added = s.add(bench, kNow, kSoftware);
    EXPECT_FALSE(added);
    if (added) return {};
    EXPECT_EQ(name_of(added.error().code), std::string(name_of(code))) << added.error().text();
    EXPECT_EQ(added.error().where.file, bench);
    EXPECT_EQ(contents(folder_), before);
    return added.error();
  }

  ScratchFolder scratch_;
  std::string folder_ = scratch_.at("shelf");
  static ScratchFolder* made_;
};
ScratchFolder* ShelfTest::made_ = nullptr;

TEST_F(ShelfTest, TakesInWholeBenchesAndLeavesThemAsTheyAre) {
  const auto given = copy_of("tern.bench");
  const auto before = read_file(given).value();
  auto s = shelf();
  const auto entry = s.add(given, kNow, kSoftware);
  ASSERT_TRUE(entry) << entry.error().text();
  ASSERT_TRUE(s.add(made_->at("curlew.bench"), kNow, kSoftware));
  EXPECT_EQ(read_file(given).value(), before);
  EXPECT_FALSE(fs::exists(given + "-wal"));
  EXPECT_GT(entry->readings, 10);
  EXPECT_EQ(entry->recomputed, std::vector<store::Id>{1});
  EXPECT_EQ(sha256_hex(read_file(s.path_of(*entry)).value()), entry->sha256);

  const auto again = shelf();
  ASSERT_EQ(again.entries().size(), 2U);
  EXPECT_TRUE(again.damaged().value().empty());
  const auto items = again.items();
  ASSERT_TRUE(items) << items.error().text();
  ASSERT_EQ(items->size(), 2U);
  EXPECT_EQ(items->at(0).name, "Tern 32");
  EXPECT_EQ(items->at(1).name, "Curlew 27");
  EXPECT_TRUE(items->at(0).recomputed);
  EXPECT_FALSE(items->at(0).findings.empty());
}

TEST_F(ShelfTest, FiguresAloneAreTheFindingsWithoutWhatTheyRestOn) {
  auto s = shelf();
  ASSERT_TRUE(s.add(made_->at("tern.bench"), kNow, kSoftware));
  const auto whole = s.items(Shelf::Findings::whole).value(), figures = s.items(Shelf::Findings::figures).value();
  ASSERT_EQ(whole.size(), 1U);
  ASSERT_EQ(figures.size(), 1U);
  const auto &a = whole.front().findings, &b = figures.front().findings;
  ASSERT_EQ(a.size(), b.size());
  EXPECT_TRUE(std::ranges::any_of(a, [](const auto& f) { return !f.readings.empty(); }));
  for (std::size_t i = 0; i < a.size(); ++i) {
    EXPECT_EQ(a[i].quantity, b[i].quantity);
    EXPECT_EQ(a[i].conditions, b[i].conditions);
    EXPECT_EQ(a[i].value, b[i].value);
    EXPECT_EQ(a[i].parts, b[i].parts);
    EXPECT_TRUE(b[i].series.empty());
    EXPECT_TRUE(b[i].readings.empty());
  }
}

TEST_F(ShelfTest, ABenchThatSomebodyHasOpenIsTakenWithItsLog) {
  const auto given = copy_of("tern.bench");
  auto open = store::Bench::open(given);
  ASSERT_TRUE(open);
  store::RoomRecord room = open->rooms().value().front();
  room.name = "Suite 9";
  ASSERT_TRUE(open->put(room));  // lies in the log alone
  auto s = shelf();
  const auto entry = s.add(given, kNow, kSoftware);
  ASSERT_TRUE(entry) << entry.error().text();
  EXPECT_EQ(s.items().value().front().room.name, "Suite 9");
}

TEST_F(ShelfTest, ChangedReadingsAreRefusedByName) {
  const auto given = copy_of("tern.bench");
  {
    SQLite::Database db(given, SQLite::OPEN_READWRITE);
    db.exec("DROP TRIGGER readings_refuse_update");
    db.exec("UPDATE readings SET y_cdm2 = y_cdm2 * 1.01 WHERE id = 5");
  }
  const auto error = refused(given, ErrorCode::invalid_input);
  EXPECT_EQ(error.where.reading, 5);
  EXPECT_THAT(error.message, HasSubstr("is not what was stored"));
}

TEST_F(ShelfTest, ChangedFindingsAreRefusedWithWhatTheReadingsGive) {
  const auto given = copy_of("tern.bench");
  {
    SQLite::Database db(given, SQLite::OPEN_READWRITE);
    db.exec("DROP TRIGGER findings_refuse_update");
    db.exec("UPDATE findings SET value = value * 1.1 WHERE quantity = 'peak_luminance'");
  }
  const auto error = refused(given, ErrorCode::invalid_input);
  EXPECT_THAT(error.message, AllOf(HasSubstr("peak_luminance"), HasSubstr("its readings give")));
}

TEST_F(ShelfTest, TruncatedNewerAndForeignFilesAreRefused) {
  const auto whole = read_file(copy_of("tern.bench")).value();
  const auto cut = scratch_.at("cut.bench");
  std::ofstream(cut, std::ios::binary) << whole.substr(0, whole.size() * 2 / 3);
  refused(cut, ErrorCode::invalid_input);

  const auto newer = scratch_.at("newer.bench");
  std::ofstream(newer, std::ios::binary) << whole;
  SQLite::Database(newer, SQLite::OPEN_READWRITE).exec("PRAGMA user_version = 1000");
  EXPECT_THAT(refused(newer, ErrorCode::conflict).message, HasSubstr("newer program"));

  const auto text = scratch_.at("notes.txt");
  std::ofstream(text) << "no bench";
  refused(text, ErrorCode::invalid_input);
  refused(scratch_.at("nothing.bench"), ErrorCode::not_found);

  const auto empty = scratch_.at("empty.bench");
  ASSERT_TRUE(store::Bench::create(empty, "Empty", "Saltmarsh Display Lab", kNow));
  EXPECT_THAT(refused(empty, ErrorCode::invalid_input).message, HasSubstr("no findings"));
}

TEST_F(ShelfTest, ALaterStateTakesThePlaceAndSaysWhatItCorrects) {
  const auto given = copy_of("tern.bench");
  auto s = shelf();
  const auto first = s.add(given, kNow, kSoftware);
  ASSERT_TRUE(first) << first.error().text();
  refused(given, ErrorCode::conflict);  // the same state twice

  measure_more(given, "primaries");
  const auto second = s.add(given, kNow + Seconds{60}, kSoftware);
  ASSERT_TRUE(second) << second.error().text();
  ASSERT_EQ(s.entries().size(), 1U);
  EXPECT_EQ(second->replaced, std::vector<std::string>{first->file});
  EXPECT_TRUE(fs::exists(fs::path(folder_) / "benches" / first->file));
  EXPECT_TRUE(s.changed().value().empty());  // more readings, none of the earlier findings otherwise
  // An earlier state comes too late.
  refused(made_->at("tern.bench"), ErrorCode::conflict);

  // A corrected certificate: every luminance's interval is another one.
  {
    auto bench = store::Bench::open(given);
    auto instrument = bench->instruments().value().front();
    instrument.certificate.luminance_expanded_relative = 0.04;
    ASSERT_TRUE(bench->put(instrument));
  }
  refused(given, ErrorCode::invalid_input);  // findings that nobody has computed from it yet
  measure_more(given, "primaries");
  ASSERT_TRUE(s.add(given, kNow + Seconds{120}, kSoftware));
  const auto changed = shelf().changed().value();
  const auto peak = std::ranges::find(changed, "peak_luminance", [](const auto& c) { return c.before.quantity; });
  ASSERT_NE(peak, changed.end());
  ASSERT_TRUE(peak->now);
  EXPECT_EQ(peak->now->value, peak->before.value);
  EXPECT_GT(peak->now->upper95, peak->before.upper95);
}

TEST_F(ShelfTest, BenchesThatWentApartAreNotTakenForOne) {
  auto s = shelf();
  ASSERT_TRUE(s.add(made_->at("tern.bench"), kNow, kSoftware));
  const auto other = scratch_.at("other.bench");
  measure(other, "Saltmarsh Display Lab", {.seed = 3});  // same title, evaluator and beginning; other readings
  EXPECT_THAT(refused(other, ErrorCode::conflict).message, HasSubstr("are not those of this one"));
}

TEST_F(ShelfTest, FindingsOfAnotherProgramVersionAreTakenAndSaidSo) {
  auto s = shelf();
  const auto entry = s.add(made_->at("tern.bench"), kNow, "provenit of tomorrow");
  ASSERT_TRUE(entry) << entry.error().text();
  EXPECT_TRUE(entry->recomputed.empty());
  ASSERT_EQ(entry->notes.size(), 1U);
  EXPECT_THAT(entry->notes.front(), HasSubstr("not computed again"));
  EXPECT_FALSE(s.items().value().front().recomputed);
}

TEST_F(ShelfTest, FilesThatChangedOnTheShelfAreNamed) {
  auto s = shelf();
  const auto tern = s.add(made_->at("tern.bench"), kNow, kSoftware),
             curlew = s.add(made_->at("curlew.bench"), kNow, kSoftware);
  ASSERT_TRUE(tern && curlew);
  ASSERT_TRUE(s.items());
  EXPECT_TRUE(s.damaged().value().empty());  // looking at them changes nothing
  std::ofstream(s.path_of(*tern), std::ios::app) << '.';
  EXPECT_EQ(s.damaged().value(), std::vector<std::string>{tern->file});
  fs::remove(s.path_of(*curlew));
  EXPECT_EQ(s.damaged().value().size(), 2U);
}

TEST_F(ShelfTest, WhatAKilledAddLeftIsRemoved) {
  const auto left = fs::path(folder_) / "benches" / "incoming.new-77-0";
  std::ofstream(left) << "half";
  auto s = shelf();
  ASSERT_TRUE(s.add(made_->at("tern.bench"), kNow, kSoftware));
  EXPECT_FALSE(fs::exists(left));
}

TEST_F(ShelfTest, AFolderThatIsNoShelfIsRefused) {
  EXPECT_EQ(Shelf::create(folder_, "Again", kNow).error().code, ErrorCode::conflict);
  EXPECT_EQ(Shelf::open(scratch_.at("nowhere")).error().code, ErrorCode::not_found);
  std::ofstream(fs::path(folder_) / "shelf.json") << R"({"schema": "provenit-shelf/1", "title": 3})";
  EXPECT_EQ(Shelf::open(folder_).error().code, ErrorCode::invalid_input);
  std::ofstream(fs::path(folder_) / "shelf.json") << R"({"schema": "provenit-shelf/9"})";
  EXPECT_EQ(Shelf::open(folder_).error().code, ErrorCode::conflict);
}

}  // namespace
}  // namespace provenit::shelf
