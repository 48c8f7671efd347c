// Camera clips and pictures, and a match of two displays, through the command.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <filesystem>
#include <nlohmann/json.hpp>

#include "bench_folder.h"
#include "provenit/base/text.h"
#include "provenit/signal_files/clip.h"
#include "provenit/simulated/walk_film.h"

namespace provenit {
namespace {

using testing::HasSubstr;

class Camera : public BenchFolder {
 protected:
  Camera() {
    for (const auto& line : {"new " + bench() + " --title T --evaluator E",
                             "describe display " + bench() + " --name \"Tern 32\" --simulated tern-32",
                             "describe display " + bench() + " --name \"Curlew 27\" --simulated curlew-27",
                             "describe instrument " + bench() + " --name Meter --kind simulated --spectral",
                             "describe room " + bench() + " --name Room --surround 5", loan("Tern 32", 7)})
      EXPECT_EQ(run(line).exit, 0) << line;
  }
  [[nodiscard]] std::string loan(const std::string& display, int seed) const {
    return "describe loan " + bench() + " --display \"" + display +
           "\" --hours 4 --starts 2026-11-25T09:00:00Z --seed " + std::to_string(seed);
  }
  void ask(const std::string& questions, const std::string& more = "") const {
    ASSERT_TRUE(write_file(
        path("own.toml"), "id = \"own\"\ntitle = \"Own\"\nsource = \"own\"\nmark = \"common_practice\"\n" + questions));
    ASSERT_EQ(run("questions " + bench() + " --set " + path("own.toml") + more).exit, 0);
  }
  static nlohmann::json find(const nlohmann::json& findings, const std::string& quantity, const char* key = "",
                             const nlohmann::json& value = nullptr) {
    for (const auto& f : findings)
      if (f["quantity"] == quantity && (*key == 0 || f["conditions"].value(key, nlohmann::json()) == value)) return f;
    return nullptr;
  }
};

/// A walk of the whole width in steps of 8 pixels, 4:2:0 as a camera has it.
void write_film(const std::string& path) {
  const auto physics = *simulated::built_in_physics("tern-32");
  const simulated::BoxWalk walk{.width = 3840, .height = 2160, .step = 8, .along = 8};
  const simulated::FilmCamera camera{.width = 128, .height = 72, .rate_hz = 48, .noise = 0.004, .exposure = {}};
  simulated::WalkFilm film(physics, walk, camera);
  int shown = -1;
  std::vector<std::uint8_t> codes;
  const signal::FrameSource source{
      .encoding = {.transfer = signal::Transfer::bt1886, .container = signal::Container::bt709, .bits = 8},
      .size = {camera.width, camera.height},
      .frames = film.frames(),
      .rate = {48, 1},
      .row =
          [&](int frame, int y) {
            for (; shown < frame; ++shown) codes = film.next();
            std::vector<std::uint16_t> row;
            for (int x = 0; x < camera.width; ++x)
              row.insert(
                  row.end(), 3,
                  static_cast<std::uint16_t>(16 + codes[static_cast<std::size_t>(y * camera.width + x)] * 219 / 255));
            return row;
          },
      .hold = {}};
  const auto written =
      signal::write_clip(source, path, {.codec = signal::ClipCodec::ffv1, .chroma = signal::ClipChroma::c420});
  ASSERT_TRUE(written) << written.error().text();
}

TEST_F(Camera, AFilmedWalkIsCountedAndABrokenOneRefused) {
  const auto film = path("across.mkv");
  write_film(film);
  const std::string as = " --for zone_walk --step across --frame-time 0.0416667 --set step_pixels=8";
  const auto attached = run("attach " + bench() + " " + film + as);
  ASSERT_EQ(attached.exit, 0) << attached.out;
  EXPECT_THAT(attached.out, HasSubstr("a clip of"));
  const auto evaluated = run_json("evaluate " + bench());
  ASSERT_EQ(evaluated.exit, 0);
  const auto columns = find(evaluated.json()["findings"], "zone_columns");
  ASSERT_FALSE(columns.is_null()) << evaluated.out;
  EXPECT_EQ(columns["value"], 40);
  EXPECT_EQ(columns["parts"]["recorded_with"], "camera");

  const auto whole = read_file(film).value();
  ASSERT_TRUE(write_file(path("cut.mkv"), whole.substr(0, whole.size() / 2)));
  const auto cut = run("attach " + bench() + " " + path("cut.mkv") + as);
  EXPECT_EQ(cut.exit, 2);
  EXPECT_THAT(cut.out, HasSubstr("cut.mkv"));
  ASSERT_TRUE(write_file(path("none.mp4"), std::string("\0\0\0\0 no film", 12)));
  EXPECT_EQ(run("attach " + bench() + " " + path("none.mp4") + as).exit, 2);
}

TEST_F(Camera, ASimulatedLoanBringsClipAndPicturesAndTheyAreEvaluated) {
  ask("[[question]]\nquantity = \"camera_nonuniformity\"\nconditions = { points = 25 }\nat_most = 30\nunit = \"%\"\n");
  ASSERT_EQ(run("run " + bench()).exit, 0);
  const auto files = run_json("attach " + bench() + " --list").json()["attachments"];
  ASSERT_EQ(files.size(), 3u);
  const auto evaluated = run_json("evaluate " + bench());
  ASSERT_EQ(evaluated.exit, 0);
  for (const int points : {9, 25, 99})
    EXPECT_FALSE(find(evaluated.json()["findings"], "camera_nonuniformity", "points", points).is_null()) << points;
  EXPECT_EQ(evaluated.json()["verdicts"][0]["verdict"], "meets");
}

TEST_F(Camera, FieldPicturesSayTheirCodingAndMustShowADisplay) {
  const auto grey = path("grey.png");
  ASSERT_EQ(run("picture window --set area_percent=100 --size 320x180 --out " + grey).exit, 0);
  const std::string to = "attach " + bench() + " " + grey + " --for field_picture --step ";
  EXPECT_THAT(run(to + "field").out, HasSubstr("--coding"));
  EXPECT_THAT(run(to + "field --coding film").out, HasSubstr("'film'"));
  EXPECT_EQ(run(to + "field --coding linear").exit, 2);
}

TEST_F(Camera, TwoLoansOfOneBenchAreMatched) {
  ASSERT_EQ(run(loan("Curlew 27", 8)).exit, 0);
  EXPECT_THAT(run("match " + bench() + " --to 1").out, HasSubstr("loan 1 (Tern 32) has no run of `spectra`"));
  for (const char* of : {" --loan 1", " --loan 2"}) {
    ask("[[question]]\nquantity = \"white_delta_uv_by_observer\"\nconditions = { observer = \"cie2015_2deg\" }\nunit = "
        "\"1\"\n",
        of);
    ASSERT_EQ(run("run " + bench() + of).exit, 0);
  }
  EXPECT_THAT(run("match " + bench() + " --loan 1 --to 1").out, HasSubstr("of one display"));
  const auto matched = run_json("match " + bench() + " --to 1");
  ASSERT_EQ(matched.exit, 0) << matched.out;
  const auto m = matched.json();
  EXPECT_EQ(m["reference"]["display"], "Tern 32");
  EXPECT_EQ(m["adjusted"]["display"], "Curlew 27");
  EXPECT_TRUE(m["same_instrument"].get<bool>());
  const double dx = m["dx"]["value"], x = m["x"]["value"], white = m["reference_white"]["x"];
  EXPECT_NEAR(x, white + dx, 1e-9);
  EXPECT_LT(m["dx"]["lower95"].get<double>(), dx);
  EXPECT_GT(std::abs(dx), 0.001);  // other spectra: the eye and CIE 1931 disagree
  const auto same_eye = run_json("match " + bench() + " --to 1 --observer cie1931_2deg").json();
  EXPECT_NEAR(same_eye["dx"]["value"].get<double>(), 0, 1e-9);
}

}  // namespace
}  // namespace provenit
