// Programmes through the interface: a survey made in the background, what a time line asks, pictures and pixels; and
// that nothing beyond the folder is opened.
#include <gmock/gmock.h>

#include <filesystem>

#include "provenit/programme/course.h"
#include "provenit/programme/plain.h"
#include "workbench.h"

namespace provenit::server {
namespace {

using nlohmann::json;
namespace fs = std::filesystem;

const std::string kMedia = std::string(PROVENIT_SOURCE_DIR) + "/tests/programme/media/";

class Programmes : public testing::Test {
 protected:
  Programmes() {
    fs::create_directories(folder_.file("films/day 1"));
    fs::copy_file(kMedia + "hdr10-av1.mp4", folder_.file("films/shore.mp4"));
    fs::copy_file(kMedia + "hdr10-video-with-sdr-container.mp4", folder_.file("films/unclear.mp4"));
    fs::copy_file(kMedia + "colors_hdr_rec2020.avif", folder_.file("films/day 1/colours.avif"));
    fs::copy_file(kMedia + "README.md", folder_.file("films/notes.md"));
    fs::copy_file(kMedia + "hdr_room.png", folder_.file("secret.png"));
    fs::create_symlink(folder_.file("secret.png"), folder_.file("films/link.png"));
    api_ = std::make_unique<Api>(ApiOptions{.bench = folder_.file("tern.bench"),
                                            .programmes = folder_.file("films"),
                                            .software = "provenit test",
                                            .link = "http://127.0.0.1:1/"});
    client_.describe();
  }

  Said send(const std::string& method, const std::string& target, const std::string& body) {
    Request request{.method = method, .path = target.substr(0, target.find('?')), .body = body};
    if (const auto mark = target.find('?'); mark != std::string::npos) {
      const std::string rest = target.substr(mark + 1) + '&';
      for (std::size_t at = 0, end = 0; (end = rest.find('&', at)) != std::string::npos; at = end + 1) {
        const auto part = rest.substr(at, end - at);
        const auto equals = part.find('=');
        request.query[part.substr(0, equals)] = part.substr(std::min(equals + 1, part.size()));
      }
    }
    const auto answer = api_->handle(request);
    return {answer.status, {}, answer.body};
  }

  json survey(const std::string& file) {
    EXPECT_EQ(client_.post("/survey-job", {{"action", "start"}, {"file", file}}).status, 202);
    for (int i = 0; i < 2400; ++i) {
      auto job = client_.get("/survey-job").body;
      if (job.at("state") != "running" && job.at("state") != "cancelling") return job;
      ::usleep(50'000);
    }
    ADD_FAILURE() << "the survey does not end";
    return {};
  }

  Folder folder_;
  std::unique_ptr<Api> api_;
  Client<std::function<Said(const std::string&, const std::string&, const std::string&)>> client_{
      [this](const auto& method, const auto& path, const auto& body) { return send(method, path, body); }};
};

TEST_F(Programmes, ListsFilmsAndStillsOfTheFolderAlone) {
  const auto all = client_.get("/programmes").body;
  EXPECT_EQ(all.at("folder"), "films");
  std::vector<std::string> names;
  for (const auto& f : all.at("files")) names.push_back(f.at("name"));
  EXPECT_THAT(names, testing::ElementsAre("day 1/colours.avif", "shore.mp4", "unclear.mp4"));
  EXPECT_TRUE(all.at("surveys").empty());
  EXPECT_EQ(all.at("job").at("state"), "idle");
}

TEST_F(Programmes, OpensNothingBeyondTheFolder) {
  for (const std::string name :
       {"../secret.png", "day 1/../../secret.png", "link.png", "nothing.mp4", "", ".", "day 1", "../films/shore.mp4"}) {
    const auto said = client_.get("/pictures?frame=0&file=" + name);
    EXPECT_THAT(said.status, testing::AnyOf(400, 404)) << name;
    EXPECT_EQ(client_.post("/survey-job", {{"action", "start"}, {"file", name}}).status / 100, 4) << name;
  }
  const auto absolute = client_.get("/pictures?frame=0&file=" + folder_.file("secret.png"));
  EXPECT_EQ(absolute.status, 400);
  EXPECT_EQ(absolute.raw.find(folder_.file("")), std::string::npos) << "tells where the folder lies";
}

TEST_F(Programmes, SurveysInTheBackgroundAndAnswersATimeLine) {
  const auto job = survey("shore.mp4");
  ASSERT_EQ(job.at("state"), "done") << job;
  EXPECT_EQ(job.at("done"), 127);
  const auto all = client_.get("/programmes").body;
  ASSERT_EQ(all.at("surveys").size(), 1u);
  EXPECT_EQ(all.at("surveys").at(0).at("file"), "shore.mp4");

  const auto title = client_.get("/surveys/1").body;
  EXPECT_EQ(title.at("frames"), 127);
  const double maxcll = title.at("figures").at("maxcll").at("cdm2");

  const auto each = client_.get("/surveys/1/course?columns=1000").body;
  EXPECT_EQ(each.at("frames_per_column"), 1);
  const auto few = client_.get("/surveys/1/course?first=10&last=110&columns=7").body;
  EXPECT_EQ(few.at("frames_per_column"), 15);
  ASSERT_EQ(few.at("max_cdm2").size(), 7u);
  double most = 0;
  for (const double v : each.at("max_cdm2")) most = std::max(most, v);
  EXPECT_NEAR(most, maxcll, 1e-4 * maxcll);
  // A column holds the largest of its frames, and the mean of their means.
  for (std::size_t c = 0; c < 7; ++c) {
    double largest = 0, sum = 0;
    const std::size_t from = 10 + 15 * c, to = std::min<std::size_t>(from + 15, 110);
    for (std::size_t i = from; i < to; ++i) {
      largest = std::max<double>(largest, each.at("max_cdm2").at(i));
      sum += each.at("mean_cdm2").at(i).get<double>();
    }
    EXPECT_EQ(few.at("max_cdm2").at(c), largest);
    EXPECT_NEAR(few.at("mean_cdm2").at(c), sum / static_cast<double>(to - from), 0.01);  // five digits are sent
  }
  EXPECT_EQ(client_.get("/surveys/1/course?columns=0").status, 400);
  EXPECT_EQ(client_.get("/surveys/2/course").status, 404);

  const auto frame = client_.get("/surveys/1/frame?frame=60").body;
  EXPECT_EQ(frame.at("frame"), 60);
  EXPECT_NEAR(frame.at("figures").at("max_rgb_max_cdm2"), each.at("max_cdm2").at(60), 1e-4 * maxcll);

  const auto scenes = client_.get("/surveys/1/scenes").body;
  ASSERT_FALSE(scenes.at("scenes").empty());
  EXPECT_EQ(scenes.at("scenes").front().at("first_frame"), 0);
  EXPECT_EQ(scenes.at("scenes").back().at("last_frame"), 126);
  const auto moments = client_.get("/surveys/1/moments?test=limiter&count=3").body;
  ASSERT_FALSE(moments.at("moments").empty());
  EXPECT_LE(moments.at("moments").size(), 3u);
  EXPECT_EQ(client_.get("/surveys/1/moments?test=nothing").status, 400);

  // The same title again: its survey is there already, which is told.
  EXPECT_EQ(survey("shore.mp4").at("problem").at("code"), "conflict");
  EXPECT_EQ(client_.get("/programmes").body.at("surveys").size(), 1u);
}

TEST_F(Programmes, OneSurveyAtATimeAndItsFileIsToldAtOnce) {
  EXPECT_EQ(client_.post("/survey-job", {{"action", "cancel"}}).status, 409);
  ASSERT_EQ(client_.post("/survey-job", {{"action", "start"}, {"file", "shore.mp4"}}).status, 202);
  const auto second = client_.post("/survey-job", {{"action", "start"}, {"file", "unclear.mp4"}, {"transfer", "pq"}});
  EXPECT_THAT(second.status, testing::AnyOf(409, 202));  // the first may have ended by now
  client_.post("/survey-job", {{"action", "cancel"}});
  for (int i = 0; i < 2400; ++i) {
    const auto state = client_.get("/survey-job").body.at("state");
    if (state != "running" && state != "cancelling") break;
    ::usleep(50'000);
  }
  EXPECT_EQ(client_.post("/survey-job", {{"action", "start"}, {"file", "notes.md"}}).status / 100, 4);
  EXPECT_EQ(client_.post("/survey-job", {{"action", "start"}, {"file", "shore.mp4"}, {"transfer", "film"}}).status,
            400);
}

TEST_F(Programmes, PicturesScopesAndPixelsAgree) {
  const std::string still = "&file=day 1/colours.avif";
  const auto picture = client_.get("/pictures?frame=0" + still).body;
  const int width = picture.at("width"), height = picture.at("height");
  double sum = 0;
  for (const double s : picture.at("false_colour").at("shares")) sum += s;
  EXPECT_NEAR(sum, 1, 1e-9);

  // The brightest pixel is where the figures say it is.
  const int x = picture.at("figures").at("brightest_x"), y = picture.at("figures").at("brightest_y");
  const auto pixel =
      client_.get("/pictures/pixel?x=" + std::to_string(x) + "&y=" + std::to_string(y) + "&frame=0" + still).body;
  EXPECT_EQ(pixel.at("max_rgb_cdm2"), picture.at("figures").at("max_rgb_max_cdm2"));
  EXPECT_EQ(client_.get("/pictures/pixel?y=0&x=" + std::to_string(width) + "&frame=0" + still).status, 400);

  const auto histogram = client_.get("/pictures/histogram?frame=0" + still).body;
  std::int64_t pixels = 0;
  for (const std::int64_t n : histogram.at("luminance")) pixels += n;
  EXPECT_EQ(pixels, std::int64_t{width} * height);

  const auto some = client_.get("/pictures/excursions?above_cdm2=100&beyond=bt709&frame=0" + still).body;
  EXPECT_GE(some.at("above"), picture.at("figures").at("above_100_cdm2_share"));
  EXPECT_NEAR(some.at("beyond"), picture.at("gamut").at("beyond_bt709"), 1e-12);
  EXPECT_EQ(some.at("below"), 0);

  for (const char* view : {"sdr", "sdr_eetf", "false_colour", "gamut", "excursion"}) {
    const auto png =
        client_.get("/pictures/view.png?frame=0&width=100&above_cdm2=50&view=" + std::string(view) + still);
    EXPECT_EQ(png.status, 200) << view;
    ASSERT_EQ(png.raw.substr(1, 3), "PNG") << view;
    // IHDR holds the width behind the signature, the chunk's length and its name
    const auto byte = [&](std::size_t i) { return static_cast<unsigned char>(png.raw[i]); };
    EXPECT_LE(byte(18) * 256 + byte(19), 100) << view;
  }
  for (const char* scope : {"waveform", "red", "green", "blue", "vectorscope", "chromaticity"})
    EXPECT_EQ(client_.get("/pictures/scope.png?frame=0&scope=" + std::string(scope) + still).raw.substr(1, 3), "PNG")
        << scope;
  EXPECT_EQ(client_.get("/pictures/scope.png?frame=0&scope=nothing" + still).status, 400);
  EXPECT_EQ(client_.get("/pictures/view.png?frame=0&view=nothing" + still).status, 400);
  EXPECT_EQ(client_.get("/pictures?frame=1" + still).status, 400);
}

TEST(Course, HoldsStretchesOfALongTitle) {
  programme::Course course;
  constexpr std::size_t kFrames = 200'000;
  for (std::size_t i = 0; i < kFrames; ++i)
    course.add({.index = static_cast<std::int64_t>(i),
                .time_s = static_cast<double>(i) / 24,
                .max_rgb_max = i == 123'456 ? 4000.0 : 100.0,
                .max_rgb_mean = 10,
                .luminance_99_9 = 90});
  const auto all = course.columns(0, kFrames, 1000);
  EXPECT_EQ(all.max_cdm2.size(), 1000u);
  EXPECT_EQ(all.max_cdm2[123'456 / 200], 4000) << "a lone peak is not lost";
  EXPECT_EQ(std::ranges::count(all.max_cdm2, 4000.0), 1);
  EXPECT_EQ(course.position_of(150'000), 150'000u);
  const auto end = course.columns(kFrames - 10, kFrames + 10, 1000);
  EXPECT_EQ(end.max_cdm2.size(), 10u);
  EXPECT_TRUE(course.columns(5, 5, 10).max_cdm2.empty());
}

TEST_F(Programmes, SaysWhatTheDisplayWillDoToThem) {
  const auto none = client_.get("/loans/1/forecast").body;
  EXPECT_TRUE(none.at("forecast").is_null());
  EXPECT_TRUE(none.at("problem").is_null()) << none;
  EXPECT_THAT(none.at("next").get<std::string>(), testing::HasSubstr("correct read")) << "says what to do first";
  EXPECT_EQ(client_.get("/loans/1/forecast/surveys/1").status, 404);
  EXPECT_EQ(client_.post("/loans/1/forecast/read", {{"part", "probes"}}).status, 400) << "cautions were not read";
  EXPECT_EQ(client_.post("/loans/1/forecast/read", {{"part", "all"}, {"cautions_read", true}}).status, 400);

  ASSERT_EQ(client_
                .post("/loans/1/run",
                      {{"action", "start"}, {"cautions_read", true}, {"procedures", {"window_peak", "black_level"}}})
                .status,
            202);
  client_.wait_until_idle();
  ASSERT_EQ(client_.post("/loans/1/correction/read", {{"cautions_read", true}, {"minutes", 3}}).status, 202);
  client_.wait_until_idle();
  for (const char* part : {"probes", "checks", "eye"}) {
    ASSERT_EQ(client_.post("/loans/1/forecast/read", {{"part", part}, {"cautions_read", true}}).status, 202);
    const auto read = client_.wait_until_idle();
    EXPECT_TRUE(read.at("problem").is_null()) << part << read;
  }
  const auto made = client_.get("/loans/1/forecast").body;
  ASSERT_FALSE(made.at("forecast").is_null()) << made;
  EXPECT_NEAR(made.at("forecast").at("peak_cdm2"), 1400, 200);
  EXPECT_GT(made.at("forecast").at("eye_check").at("spots").size(), 9u);
  EXPECT_FALSE(made.at("forecast").at("assumptions").empty());

  ASSERT_EQ(survey("shore.mp4").at("state"), "done");
  const auto title = client_.get("/loans/1/forecast/surveys/1?columns=30&moments=2").body;
  EXPECT_EQ(title.at("frames"), 127);
  EXPECT_LE(title.at("course").at("time_s").size(), 30u);
  ASSERT_FALSE(title.at("moments").empty());
  EXPECT_LE(title.at("moments").size(), 2u);
  const auto& worst = title.at("moments").at(0);
  for (const double d : title.at("course").at("delta_e_itp"))
    EXPECT_LE(d, worst.at("delta_e_itp").at("value").get<double>() * 1.001);
  EXPECT_EQ(client_.get("/loans/1/forecast/surveys/9").status, 404);

  const auto frame = client_.get("/loans/1/forecast/frame?file=shore.mp4&frame=60").body;
  EXPECT_EQ(frame.at("frame"), 60);
  const auto& figure = frame.at("figures").at("mean_delta_e");
  EXPECT_LT(figure.at("lower90"), figure.at("upper90"));
  for (const char* view : {"shown", "difference"})
    EXPECT_EQ(
        client_.get(std::string("/loans/1/forecast/view.png?file=shore.mp4&frame=60&view=") + view).raw.substr(1, 3),
        "PNG")
        << view;
  EXPECT_EQ(client_.get("/loans/1/forecast/view.png?file=shore.mp4&view=nothing").status, 400);
  EXPECT_EQ(client_.get("/loans/1/forecast/frame?file=shore.mp4&frame=999").status, 400);
}

}  // namespace
}  // namespace provenit::server
