// provenit picture as a user gives it.
#include <gtest/gtest.h>
#include <unistd.h>

#include <filesystem>
#include <nlohmann/json.hpp>
#include <tuple>

#include "provenit/base/text.h"
#include "run_command.h"

namespace provenit {
namespace {

Answer run(const std::string& arguments, const std::string& errors_to = "&1") {
  return run_command("picture " + arguments, errors_to);
}

TEST(PictureCommand, NamesAndDescribesPictures) {
  const auto list = run("--list");
  EXPECT_EQ(list.exit, 0);
  EXPECT_NE(list.out.find("surface_chart"), std::string::npos);
  const auto document = nlohmann::json::parse(run("--list --json", "/dev/null").out);
  EXPECT_GE(document.size(), 25u);
  const auto about = run("border_walk");
  EXPECT_EQ(about.exit, 0);
  EXPECT_NE(about.out.find("step_pixels"), std::string::npos);
}

TEST(PictureCommand, WritesAPictureAndSaysItsPlaces) {
  const auto path =
      (std::filesystem::temp_directory_path() / ("provenit_picture_" + std::to_string(getpid()) + ".png")).string();
  const auto answer =
      run("window --json --size 1280x720 --transfer pq --set area_percent=25 --out " + path, "/dev/null");
  ASSERT_EQ(answer.exit, 0);
  const auto document = nlohmann::json::parse(answer.out);
  const auto& place = document.at("places").at(0);
  EXPECT_EQ(place.at("area"), nlohmann::json({320, 180, 640, 360}));
  EXPECT_EQ(place.at("code"), nlohmann::json({573, 573, 573}));  // 203 cd/m2, PQ 10 bits narrow
  EXPECT_EQ(read_file(path).value().substr(1, 3), "PNG");
  std::filesystem::remove(path);
}

TEST(PictureCommand, WritesTheFormatOfTheEnding) {
  const auto stem =
      (std::filesystem::temp_directory_path() / ("provenit_picture_" + std::to_string(getpid()))).string();
  for (const auto& [ending, options, says] :
       {std::tuple{".tif", "", "frame 0, tiff16"},
        {".exr", "", "frame 0, exr32"},
        {".dpx", "", "frame 0, dpx10"},
        {".mp4", "--hold 3", "3 video frames at 24 per second, HEVC 420, lossless"},
        {".mov", "--hold 2 --quality visual --chroma 444", "2 video frames at 24 per second, HEVC 444, rate factor 6"},
        {".mkv", "--rate 2/1", "20 video frames at 2/1 per second, FFV1 rgb, lossless"}}) {
    const auto answer =
        run(std::string("window --json --size 320x180 ") + options + " --out " + stem + ending, "/dev/null");
    ASSERT_EQ(answer.exit, 0) << answer.out;
    EXPECT_EQ(nlohmann::json::parse(answer.out).at("written"), says);
    EXPECT_TRUE(std::filesystem::remove(stem + ending));
  }
}

TEST(PictureCommand, RefusesWithWhatWouldDo) {
  for (const auto& [arguments, says] : {std::pair{"no_such", "surface_chart"},
                                        {"window --set area=4", "area_percent"},
                                        {"window --set area_percent", "name="},
                                        {"window --size 1920", "1920x1080"},
                                        {"window --transfer gamma", "hlg"},
                                        {"grey_steps --frame 3", "Give 0"},
                                        {"window --out a.txt", ".mkv"},
                                        {"window --out a.mp4 --quality best", "visual"},
                                        {"window --out a.mp4 --chroma 411", "422"},
                                        {"window --out a.mp4 --codec theora", "ffv1"},
                                        {"window --out a.mp4 --rate 0", "24000/1001"},
                                        {"", "--list"}}) {
    const auto answer = run(arguments);
    EXPECT_EQ(answer.exit, 2) << arguments;
    EXPECT_NE(answer.out.find(says), std::string::npos) << arguments << ": " << answer.out;
  }
}

}  // namespace
}  // namespace provenit
