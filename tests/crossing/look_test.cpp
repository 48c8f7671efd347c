// provenit look as a user gives it.
#include <gtest/gtest.h>
#include <unistd.h>

#include <filesystem>
#include <nlohmann/json.hpp>

#include "provenit/base/text.h"
#include "run_command.h"

namespace provenit {
namespace {

class LookCommand : public testing::Test {
 protected:
  LookCommand() : folder_(std::filesystem::temp_directory_path() / ("provenit_look_" + std::to_string(getpid()))) {
    std::filesystem::remove_all(folder_);
  }
  ~LookCommand() override { std::filesystem::remove_all(folder_); }

  static std::string media(const std::string& name) {
    return std::string(PROVENIT_SOURCE_DIR) + "/tests/programme/media/" + name;
  }
  static Answer run(const std::string& arguments, const std::string& errors_to = "&1") {
    return run_command("look " + arguments, errors_to);
  }
  std::filesystem::path folder_;
};

TEST_F(LookCommand, FiguresProbeAndPicturesOfAStill) {
  const auto answer =
      run(media("seine_hdr_rec2020.avif") + " --probe 59,160 --probe 0,0 --numbers --json --out " + folder_.string(),
          "/dev/null");
  ASSERT_EQ(answer.exit, 0);
  const auto document = nlohmann::json::parse(answer.out);
  const auto& frame = document.at("frames").at(0);
  // Declared by whoever made the file: MaxCLL 703; its frame average is that of luminance (165.5), not of max(R,G,B).
  EXPECT_EQ(document.at("source").at("metadata").at("maxcll_cdm2"), 703);
  EXPECT_NEAR(frame.at("figures").at("luminance_mean_cdm2").get<double>(), 165.5, 0.1);
  EXPECT_NEAR(frame.at("figures").at("max_rgb_mean_cdm2").get<double>(), 173.4, 0.1);
  // The brightest pixel, probed: both ways to the number agree.
  const auto& probe = frame.at("probes").at(0);
  EXPECT_EQ(frame.at("figures").at("brightest_x"), 59);
  EXPECT_EQ(frame.at("figures").at("brightest_y"), 160);
  EXPECT_EQ(probe.at("max_rgb_cdm2"), frame.at("figures").at("max_rgb_max_cdm2"));
  EXPECT_EQ(frame.at("probes").size(), 2U);
  EXPECT_EQ(frame.at("drawings").size(), 8U);
  for (const auto& [view, file] : frame.at("drawings").items())
    EXPECT_EQ(read_file((folder_ / file.get<std::string>()).string()).value().substr(1, 3), "PNG") << view;
  EXPECT_EQ(nlohmann::json::parse(read_file((folder_ / "look.json").string()).value()), document);
  const auto numbers = nlohmann::json::parse(read_file((folder_ / "scopes.json").string()).value());
  std::uint64_t pixels = 0;
  for (const auto& n : numbers.at("waveform").at("count")) pixels += n.get<std::uint64_t>();
  EXPECT_EQ(pixels, 400U * 300);
}

TEST_F(LookCommand, SeveralFramesGiveAContactSheet) {
  const auto answer =
      run(media("hdr10-av1.mp4") + " --at 0:01.5 --frame 0 --scopes histogram --out " + folder_.string());
  ASSERT_EQ(answer.exit, 0) << answer.out;
  EXPECT_NE(answer.out.find("Frame 0 at 0:00:00.000"), std::string::npos);
  EXPECT_TRUE(exists(folder_ / "contact.png"));
  EXPECT_TRUE(exists(folder_ / "frame000000-histogram.png"));
  EXPECT_FALSE(exists(folder_ / "frame000000-waveform.png"));
}

TEST_F(LookCommand, WrongInputIsRefusedWithAdviceAndNothingIsWritten) {
  const std::string film = media("hdr10-av1.mp4"), out = " --out " + folder_.string();
  const std::pair<std::string, std::string> wrong[] = {{film + " --at 99", "Give a time from 0 to 0:00:04."},
                                                       {film + " --at soon", "h:mm:ss"},
                                                       {film + " --at 1:75", "h:mm:ss"},
                                                       {film + " --at -1", "h:mm:ss"},
                                                       {film + " --frame 127", "Give 0 to 126"},
                                                       {film + " --probe 720,0", "x from 0 to 719"},
                                                       {film + " --probe 7", "column,row"},
                                                       {film + " --scopes radar", "waveform"},
                                                       {film + " --transfer gamma", "pq, hlg"},
                                                       {film + " --peak -3", "100000"},
                                                       {film + " --source-peak 20000", "10000"},
                                                       {media("missing.mp4"), "missing.mp4"},
                                                       {media("README.md"), "README.md"},
                                                       {media("venice_sunset_1k.hdr"), "--primaries"}};
  for (const auto& [line, advice] : wrong) {
    const auto answer = run(line + out);
    EXPECT_EQ(answer.exit, 2) << line << '\n' << answer.out;
    EXPECT_NE(answer.out.find(advice), std::string::npos) << line << '\n' << answer.out;
    EXPECT_FALSE(exists(folder_ / "look.json")) << line;
  }
}

}  // namespace
}  // namespace provenit
