// A loan read off a clip that a simulated player plays: readings, resuming after a kill, and a real clip decoded again.
#include "provenit/loan/follow.h"

#include <gmock/gmock.h>
#include <sys/wait.h>
#include <unistd.h>

#include <cstdlib>
#include <cstring>
#include <filesystem>
#include <fstream>
#include <nlohmann/json.hpp>

#include "provenit/base/text.h"
#include "provenit/loan/loan.h"
#include "provenit/procedure/estimate.h"

namespace provenit::loan {
namespace {

class Follow : public testing::Test {
 protected:
  Follow() {
    auto name = (std::filesystem::temp_directory_path() / "provenit_follow_XXXXXX").string();
    if (mkdtemp(name.data()) == nullptr) std::abort();
    folder_ = name;
  }
  ~Follow() override { std::filesystem::remove_all(folder_); }
  std::string path(const std::string& name) const { return folder_ + "/" + name; }

  store::Bench bench(const std::string& name) const {
    auto made = store::Bench::create(path(name), "test", "nobody", {1.8e9}).value();
    store::DisplayRecord display{.name = "Tern 32"};
    display.details["simulated"] = "tern-32";
    display.details["claimed_peak_cdm2"] = 1400;
    const store::LoanRecord loan{
        .display = made.put(display).value(),
        .instrument = made.put(store::InstrumentRecord{.name = "meter", .kind = "simulated"}).value(),
        .room = made.put(store::RoomRecord{.name = "room"}).value(),
        .starts = {1.8e9},
        .ends = {1.8e9 + 86400}};
    (void)made.put(loan).value();
    return made;
  }
  static store::LoanRecord loan_of(const store::Bench& bench) {
    const auto loans = bench.loans().value();
    return loans.back();
  }

  FollowFile file(const store::Bench& bench, const std::vector<std::string>& ids, const std::string& name) const {
    std::vector<procedure::FollowRequest> requests;
    for (const auto& id : ids) requests.push_back({procedure::find_procedure(id), nlohmann::json::object()});
    const auto plan = follow_plan(bench, loan_of(bench), requests).value();
    EXPECT_TRUE(write_file(path(name), to_json(plan.schedule).dump()));
    return read_follow_file(path(name)).value();
  }
  Result<FollowOutcome> play(store::Bench& bench, const FollowFile& file, const std::string& journal,
                             const FollowHooks& hooks = {}, const PlayerOptions& options = {}) const {
    auto player = SimulatedPlayer::make(bench, loan_of(bench), file, path(journal), options);
    if (!player) return tl::unexpected(player.error());
    return follow(bench, loan_of(bench), file, path(journal), player->source(), hooks);
  }
  /// What the bench holds, without ids.
  static std::vector<std::string> readings_of(const store::Bench& bench) {
    std::vector<std::string> out;
    const auto runs = bench.runs(loan_of(bench).id).value();
    for (const auto& run : runs) {
      const auto readings = bench.readings(run.id).value();
      for (const auto& r : readings)
        out.push_back(run.procedure + " " + std::to_string(r.sequence) + " " + r.step + " " + std::to_string(r.repeat) +
                      " " + iso8601(r.taken) + " " + std::to_string(r.measurement.xyz.Y));
    }
    return out;
  }
  std::string folder_;
};

TEST_F(Follow, ASimulatedPlayerGivesEachStepItsReadingsAndEvaluationTakesThem) {
  auto b = bench("tern.bench");
  const auto f = file(b, {"black_level", "white_point", "primaries", "greyscale"}, "tern.json");
  const auto outcome = play(b, f, "journal", {}, {.start_delay = {21}, .rate_error = -0.006}).value();
  EXPECT_TRUE(outcome.complete) << testing::PrintToString(outcome.missing);
  EXPECT_EQ(outcome.counts.kept, outcome.counts.wanted);
  EXPECT_EQ(outcome.runs.size(), 4U);
  const auto runs = b.runs(loan_of(b).id).value();
  for (const auto& run : runs) {
    EXPECT_EQ(run.state, store::RunState::finished);
    EXPECT_THAT(run.origin, testing::StartsWith("simulated, follow-along clip "));
    const auto readings = b.readings(run.id).value();
    for (const auto& r : readings) {
      const double ideal = procedure::ideal_luminance_cdm2(r.signal, 1400);
      const auto& code = r.signal.patch.code;
      if (ideal > 1 && code[0] == code[1] && code[1] == code[2]) {
        EXPECT_NEAR(r.measurement.xyz.Y / ideal, 1, 0.15) << run.procedure << " " << r.step;
      }
      EXPECT_EQ(r.context["clip"], f.id);
    }
  }
  ASSERT_TRUE(b.verify_readings());
  const auto found = evaluate(b, loan_of(b), {1.8e9 + 9000}, "test").value();
  EXPECT_THAT(found.findings, testing::Contains(testing::Field(&store::FindingRecord::quantity, "white_u_prime")));
  EXPECT_THAT(found.findings, testing::Contains(testing::Field(&store::FindingRecord::quantity, "black_luminance")));
}

TEST_F(Follow, KilledInBetweenItGoesOnAndEndsWithTheSameReadings) {
  auto whole = bench("whole.bench");
  const auto f = file(whole, {"white_point", "primaries"}, "clip.json");
  ASSERT_TRUE(play(whole, f, "whole").value().complete);

  { auto made = bench("killed.bench"); }
  for (const int after : {40, 90, 140}) {
    const pid_t child = ::fork();
    if (child == 0) {
      auto b = store::Bench::open(path("killed.bench")).value();
      const FollowHooks hooks{.progress = [&](const FollowHooks::Progress& p) {
        if (p.read >= after) ::_exit(9);  // nothing is closed, nothing ends in order
      }};
      (void)play(b, f, "killed", hooks);
      ::_exit(0);
    }
    int status = 0;
    ASSERT_EQ(::waitpid(child, &status, 0), child);
    EXPECT_EQ(WEXITSTATUS(status), 9) << after;
  }
  { std::ofstream(path("killed"), std::ios::app) << "{\"from\":18"; }  // a line cut short by a power cut
  auto killed = store::Bench::open(path("killed.bench")).value();
  const auto outcome = play(killed, f, "killed").value();
  EXPECT_TRUE(outcome.complete);
  EXPECT_EQ(readings_of(killed), readings_of(whole));
  EXPECT_TRUE(killed.verify_readings());

  const auto again = play(killed, f, "killed").value();
  EXPECT_TRUE(again.complete);
  EXPECT_EQ(readings_of(killed), readings_of(whole)) << "nothing is stored twice";
}

TEST_F(Follow, AnotherClipsJournalAndAnUnreadableScheduleAreRefused) {
  auto b = bench("tern.bench");
  const auto one = file(b, {"white_point"}, "one.json"), two = file(b, {"primaries"}, "two.json");
  const FollowHooks stop{.stop_requested = [] { return true; }};
  ASSERT_TRUE(play(b, one, "journal", stop));
  const auto refused = play(b, two, "journal", stop);
  ASSERT_FALSE(refused);
  EXPECT_EQ(refused.error().code, ErrorCode::conflict);
  ASSERT_TRUE(write_file(path("bad.json"), "{\"version\": 1, "));
  const auto bad = read_follow_file(path("bad.json"));
  ASSERT_FALSE(bad);
  EXPECT_EQ(bad.error().code, ErrorCode::invalid_input);
  EXPECT_EQ(bad.error().where.file, path("bad.json"));
}

/// Luminance in the middle of each decoded frame: what a meter would see.
std::vector<double> decoded_light(const std::string& clip, const signal::Encoding& encoding, int width, int height) {
  FILE* const pipe = ::popen(
      ("ffmpeg -v error -i '" + clip + "' -fps_mode passthrough -f rawvideo -pix_fmt yuv420p10le -").c_str(), "r");
  std::vector<std::uint16_t> frame(static_cast<std::size_t>(width) * height * 3 / 2);
  std::vector<double> out;
  while (std::fread(frame.data(), 2, frame.size(), pipe) == frame.size()) {
    double sum = 0;
    for (int y = height / 2 - 8; y < height / 2 + 8; ++y)
      for (int x = width / 2 - 8; x < width / 2 + 8; ++x) {
        const int code = frame[static_cast<std::size_t>(y) * width + x];
        sum += procedure::ideal_luminance_cdm2({.encoding = encoding, .patch = {{code, code, code}}}, 1400) / 256;
      }
    out.push_back(sum);
  }
  EXPECT_EQ(::pclose(pipe), 0);
  return out;
}

TEST_F(Follow, ARealClipDecodedAgainKeepsTheReaderInStep) {
  const auto b = bench("tern.bench");
  const auto plan = follow_plan(b, loan_of(b), {{procedure::find_procedure("white_point"), nlohmann::json::object()}},
                                {.rate_numerator = 6})
                        .value();
  const auto& s = plan.schedule;
  for (const std::string name : {"clip.mp4", "clip.mkv"}) {
    signal::ClipFormat format;
    if (name == "clip.mkv") format.codec = signal::ClipCodec::ffv1;
    ASSERT_TRUE(write_follow_clip(s, path(name), {320, 180}, format));
    const auto beside = nlohmann::json::parse(read_file(path(name + ".json")).value());
    EXPECT_EQ(beside["clip"]["sha256"], sha256_hex(read_file(path(name)).value()));
    EXPECT_EQ(read_follow_file(path(name + ".json")).value().schedule.frames(), s.frames());
    const auto light = decoded_light(path(name), s.encoding, 320, 180);
    ASSERT_EQ(static_cast<std::int64_t>(light.size()), s.frames()) << name;

    procedure::FollowAlong follow(s);
    std::vector<procedure::TimedReading> stream;
    int placed = 0;
    const auto take = [&](const procedure::FollowNews& news) {
      for (const auto& p : news.placed)
        if (p.hold) {
          ++placed;
          const double wanted = procedure::ideal_luminance_cdm2(s.holds[*p.hold].signal, 1400);
          EXPECT_NEAR(stream[static_cast<std::size_t>(p.reading)].luminance_cdm2, wanted, 0.01 * wanted + 1e-6);
        }
    };
    // A meter that integrates three frames and answers two later.
    for (std::size_t i = 0; i + 5 <= light.size(); i += 5) {
      const double noise = 1 + 1e-5 * static_cast<double>(i % 7);  // no meter says the very same all the time
      const double mean = noise * (light[i] + light[i + 1] + light[i + 2]) / 3 + 1e-9 * static_cast<double>(i % 11);
      stream.push_back({{static_cast<double>(i) / 6}, {static_cast<double>(i + 5) / 6 - 1e-3}, mean});
      take(follow.take(stream.back()));
    }
    take(follow.finish());
    EXPECT_TRUE(follow.complete()) << name;
    EXPECT_GT(placed, 3);
  }
}

}  // namespace
}  // namespace provenit::loan
