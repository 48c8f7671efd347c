// A power cut at any moment of a run: the bench opens, is sound, and holds every reading that was acknowledged.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <filesystem>
#include <random>

#include "provenit/base/text.h"
#include "recording_vfs.h"
#include "sample.h"
#include "scratch.h"

namespace provenit::store {
namespace {

constexpr int first_sitting = 420, second_sitting = 60;

ReadingRecord small_reading(Id run, std::int64_t sequence) {
  auto r = sample_reading(run, sequence);
  r.measurement.spectrum.reset();
  return r;
}

/// What the disk went through while a run took its readings in two sittings. The first is long enough that the log is
/// moved into the file on the way (every 1000 pages), and once more when the bench is closed.
std::vector<DiskEvent> record_run(const std::string& path, Id run) {
  RecordingVfs vfs;
  for (const int until : {first_sitting, first_sitting + second_sitting}) {
    auto bench = Bench::open(path).value();
    for (auto i = bench.reading_count().value(); i < until; ++i) {
      bench.add_reading(small_reading(run, i)).value();
      vfs.acknowledge(i);
    }
  }
  return vfs.events();
}

TEST(PowerLoss, AtAnyMomentLosesAtMostTheReadingInFlight) {
  const Scratch scratch;
  const auto path = scratch.file("a.bench");
  const Id run = make_bench(path).run;
  const auto before = read_file(path).value();
  const auto events = record_run(path, run);
  const auto moved_into_file = std::count_if(events.begin(), events.end(), [&](const DiskEvent& e) {
    return e.kind == DiskEvent::Kind::sync && e.file == path;
  });
  ASSERT_GE(moved_into_file, 3) << "the run was too short to show what it is here for";

  std::mt19937_64 random(20261125);
  std::vector<std::size_t> moments;
  for (int i = 0; i < 200; ++i) moments.push_back(random() % events.size());
  // Moving the log into the file is rare, and the moment where order matters most: cut within each, too.
  for (std::size_t i = 0; i < events.size(); ++i)
    if (events[i].file == path && random() % 8 == 0) moments.push_back(i);
  std::sort(moments.begin(), moments.end());

  Disk disk;
  disk.apply({DiskEvent::Kind::write, path, 0, before});
  disk.apply({DiskEvent::Kind::sync, path, 0, {}});
  std::size_t done = 0;
  std::int64_t in_flight_kept = 0;
  for (const auto moment : moments) {
    for (; done <= moment; ++done) disk.apply(events[done]);
    for (const char* suffix : {"", "-wal", "-shm"}) std::filesystem::remove(path + suffix);
    for (const auto& [name, content] : disk.after_power_cut(random)) ASSERT_TRUE(write_file(name, content));

    auto bench = Bench::open(path);
    ASSERT_TRUE(bench) << bench.error().text() << " at event " << moment << " of " << events.size();
    const auto sound = bench->verify_readings();
    ASSERT_TRUE(sound) << sound.error().text();
    const auto readings = bench->readings(run).value();
    const auto kept = static_cast<std::int64_t>(readings.size());
    ASSERT_GE(kept, disk.acknowledged() + 1) << "an acknowledged reading is lost at event " << moment;
    ASSERT_LE(kept, disk.acknowledged() + 2);
    in_flight_kept += kept == disk.acknowledged() + 2;
    // The hashes vouch for the earlier ones.
    for (auto i = std::max<std::int64_t>(0, kept - 3); i < kept; ++i)
      expect_same(readings[static_cast<std::size_t>(i)], small_reading(run, i));
    ASSERT_TRUE(bench->add_reading(small_reading(run, kept)));
  }
  RecordProperty("moments", static_cast<int>(moments.size()));
  RecordProperty("reading_in_flight_kept", static_cast<int>(in_flight_kept));
}

TEST(Disk, KnowsWhatIsCertain) {
  // The model itself: without a sync nothing is certain, with one everything before it is.
  const DiskEvent write{DiskEvent::Kind::write, "f", 0, std::string(1024, 'x')},
      sync{DiskEvent::Kind::sync, "f", 0, {}};
  std::mt19937_64 random(1);
  Disk unsynced, synced;
  unsynced.apply({DiskEvent::Kind::create, "f", 0, {}});
  unsynced.apply(write);
  synced.apply({DiskEvent::Kind::create, "f", 0, {}});
  synced.apply(write);
  synced.apply(sync);
  int whole = 0, missing = 0;
  for (int i = 0; i < 100; ++i) {
    const auto found = unsynced.after_power_cut(random);
    missing += !found.contains("f");
    whole += found.contains("f") && found.at("f") == write.bytes;
    ASSERT_EQ(synced.after_power_cut(random).at("f"), write.bytes);
  }
  EXPECT_GT(missing, 10);
  EXPECT_GT(whole, 10);
  EXPECT_LT(whole + missing, 100);
}

TEST(Faults, AFullDiskIsSaidAndLosesNothing) {
  const Scratch scratch;
  const auto path = scratch.file("a.bench");
  const Id run = make_bench(path).run;
  RecordingVfs vfs;
  {
    auto bench = Bench::open(path).value();
    ASSERT_TRUE(bench.add_reading(small_reading(run, 0)));
    vfs.set_fault(RecordingVfs::Fault::disk_full);
    const auto refused = bench.add_reading(small_reading(run, 1));
    ASSERT_FALSE(refused);
    EXPECT_EQ(refused.error().code, ErrorCode::io);
    EXPECT_THAT(refused.error().text(), testing::HasSubstr("the disk is full"));
    EXPECT_EQ(bench.reading_count().value(), 1);
    vfs.set_fault(RecordingVfs::Fault::none);
    EXPECT_TRUE(bench.add_reading(small_reading(run, 1))) << "the same object goes on once there is room";
  }
  EXPECT_EQ(Bench::open(path).value().reading_count().value(), 2);
}

TEST(Faults, AWriteProtectedBenchIsSaid) {
  const Scratch scratch;
  const auto path = scratch.file("a.bench");
  { const auto made = make_bench(path); }
  const auto before = read_file(path).value();
  RecordingVfs vfs;
  vfs.set_fault(RecordingVfs::Fault::write_protected);
  const auto bench = Bench::open(path);
  ASSERT_FALSE(bench);
  EXPECT_EQ(bench.error().code, ErrorCode::io);
  EXPECT_THAT(bench.error().text(), testing::HasSubstr("read and write the file and its folder"));
  EXPECT_EQ(read_file(path).value(), before);
}

}  // namespace
}  // namespace provenit::store
