// Test pictures through the interface: a look, a file, a page that waits for somebody to start it.
#include <gmock/gmock.h>

#include <filesystem>

#include "provenit/signal/test_picture.h"
#include "workbench.h"

namespace provenit::server {
namespace {

TEST_F(Workbench, OffersEveryTestPicture) {
  client_.describe();
  const auto all = client_.get("/test-pictures").body.at("pictures");
  ASSERT_EQ(all.size(), signal::test_pictures().size());
  for (const auto& p : all) {
    const auto key = p.at("key").get<std::string>();
    const auto cautions = client_.get("/test-pictures/cautions?key=" + key);
    EXPECT_EQ(cautions.status, 200) << cautions.raw;
    const auto png = client_.get("/test-pictures/preview.png?width=640&key=" + key);
    EXPECT_EQ(png.raw.substr(1, 3), "PNG") << key << png.raw.substr(0, 200);
  }
  EXPECT_EQ(client_.get("/test-pictures/cautions?key=nothing").status, 404);
  EXPECT_EQ(client_.get("/test-pictures/cautions?key=window&values=area_percent=4").status, 200);
  EXPECT_EQ(client_.get("/test-pictures/cautions?key=window&values=area_percent=400").status, 400);
  EXPECT_EQ(client_.get("/test-pictures/cautions?key=window&values=size").status, 400);
  EXPECT_EQ(client_.get("/test-pictures/preview.png?key=window&frame=999").status, 400);
}

TEST_F(Workbench, WritesAPictureIntoItsOwnFolderAndOverNothing) {
  client_.describe();
  const nlohmann::json window = {{"key", "window"}, {"file", "w.png"}, {"width", 320}, {"height", 180}};
  const auto written = client_.post("/test-pictures/file", window);
  ASSERT_EQ(written.status, 201) << written.raw;
  EXPECT_TRUE(std::filesystem::exists(folder_.file("tern-signals/w.png")));
  EXPECT_EQ(client_.post("/test-pictures/file", window).status, 409);
  for (const char* name : {"../w.png", "/tmp/w.png", ".png", "w.mp4", "a/b.png"}) {
    auto other = window;
    other["file"] = name;
    EXPECT_EQ(client_.post("/test-pictures/file", other).status / 100, 4) << name;
  }
}

TEST_F(Workbench, WritesAClipInTheBackground) {
  client_.describe();
  EXPECT_EQ(client_.get("/clip").body.at("state"), "idle");
  EXPECT_EQ(client_.post("/clip", {{"action", "cancel"}}).status, 409);
  nlohmann::json wish = {{"action", "start"}, {"key", "window"}, {"file", "w.mkv"},
                         {"width", 320},      {"height", 180},   {"hold", 6}};
  const auto ended = [&] {
    for (int i = 0; i < 2400; ++i) {
      auto job = client_.get("/clip").body;
      const auto state = job.at("state").get<std::string>();
      if (state != "running" && state != "cancelling") return job;
      ::usleep(25'000);
    }
    return nlohmann::json();
  };
  const auto begun = client_.post("/clip", wish);
  ASSERT_EQ(begun.status, 202) << begun.raw;
  const auto job = ended();
  EXPECT_EQ(job.at("state"), "done") << job;
  EXPECT_EQ(job.at("format"), "6 video frames at 24 per second, FFV1 rgb, lossless");
  const auto path = folder_.file("tern-signals/w.mkv");
  ASSERT_TRUE(std::filesystem::exists(path));
  EXPECT_EQ(job.at("bytes"), std::filesystem::file_size(path));
  EXPECT_EQ(client_.post("/clip", wish).status, 409);  // nothing is written over

  // A long one is cancelled, and leaves nothing behind.
  wish["file"] = "long.mkv";
  wish["hold"] = 1'000'000;
  ASSERT_EQ(client_.post("/clip", wish).status, 202);
  EXPECT_EQ(client_.post("/clip", wish).status, 409);
  EXPECT_EQ(client_.post("/clip", {{"action", "cancel"}}).status, 202);
  EXPECT_EQ(ended().at("state"), "cancelled");
  EXPECT_FALSE(std::filesystem::exists(folder_.file("tern-signals/long.mkv")));

  for (const auto& [field, value] : {std::pair<const char*, nlohmann::json>("file", "a.png"),
                                     {"file", "../a.mkv"},
                                     {"quality", "best"},
                                     {"chroma", "411"},
                                     {"codec", "theora"},
                                     {"rate", "0"},
                                     {"hold", 0},
                                     {"key", "nothing"}}) {
    auto other = wish;
    other["file"] = "other.mkv";
    other[field] = value;
    EXPECT_EQ(client_.post("/clip", other).status / 100, 4) << field;
  }
  EXPECT_EQ(client_.get("/clip").body.at("state"), "cancelled");
}

TEST_F(Workbench, ShowsNothingBeforeCautionsWereRead) {
  client_.describe();
  EXPECT_EQ(client_.get("/showing").body.at("state"), "idle");
  EXPECT_EQ(client_.post("/showing", {{"action", "next"}}).status, 409);
  EXPECT_EQ(client_.post("/showing", {{"action", "start"}, {"key", "window"}}).status, 400);
  const auto begun = client_.post("/showing", {{"action", "start"}, {"key", "window"}, {"cautions_read", true}});
  ASSERT_EQ(begun.status, 202) << begun.raw;
  EXPECT_EQ(begun.body.at("state"), "waiting");
  EXPECT_THAT(begun.body.at("address").get<std::string>(), testing::StartsWith("http://127.0.0.1:"));
  EXPECT_FALSE(begun.body.at("cautions").empty());
  EXPECT_EQ(client_.post("/showing", {{"action", "start"}, {"key", "window"}, {"cautions_read", true}}).status, 409);
  EXPECT_EQ(client_.post("/showing", {{"action", "stop"}}).status, 202);
  for (int i = 0; i < 200 && client_.get("/showing").body.at("state") == "waiting"; ++i) ::usleep(25'000);
  EXPECT_EQ(client_.get("/showing").body.at("state"), "idle");
}

}  // namespace
}  // namespace provenit::server
