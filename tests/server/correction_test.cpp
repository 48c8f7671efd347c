// A correction through the interface: readings, model, table, proof; and the white balance between two settings.
#include <gmock/gmock.h>

#include <filesystem>

#include "workbench.h"

namespace provenit::server {
namespace {

using nlohmann::json;

TEST_F(Workbench, CorrectsADisplayFromFirstToLast) {
  client_.describe();
  auto correction = client_.get("/loans/1/correction").body;
  EXPECT_TRUE(correction.at("model").is_null());
  EXPECT_TRUE(correction.at("problem").is_null());
  EXPECT_FALSE(correction.at("cautions").empty());
  EXPECT_EQ(client_.post("/loans/1/correction/read").status, 400) << "cautions were not read";
  EXPECT_EQ(client_.post("/loans/1/correction/solve", {{"file", "a.cube"}}).status, 404) << "there is no model";

  ASSERT_EQ(client_.post("/loans/1/correction/read", {{"cautions_read", true}, {"minutes", 3}}).status, 202);
  const auto read = client_.wait_until_idle();
  EXPECT_TRUE(read.at("problem").is_null()) << read;
  EXPECT_TRUE(read.at("finished"));
  correction = client_.get("/loans/1/correction").body;
  ASSERT_FALSE(correction.at("model").is_null()) << correction;
  EXPECT_GT(correction.at("model").at("readings"), 30);

  for (const char* name : {"../a.cube", "a.txt", ".cube", "b/a.cube"})
    EXPECT_EQ(client_.post("/loans/1/correction/solve", {{"file", name}}).status, 400) << name;
  const auto solved = client_.post("/loans/1/correction/solve", {{"file", "tern.cube"}, {"size", 9}});
  ASSERT_EQ(solved.status, 201) << solved.raw;
  EXPECT_EQ(solved.body.at("folder"), "tern-corrections");
  EXPECT_TRUE(std::filesystem::exists(folder_.file("tern-corrections/tern.cube")));
  EXPECT_EQ(client_.post("/loans/1/correction/solve", {{"file", "tern.cube"}, {"size", 9}}).status, 409);
  const auto file = send(api_, "GET", "/api/1/loans/1/corrections/1/file", "");
  EXPECT_EQ(file.status, 200);
  EXPECT_THAT(file.raw, testing::HasSubstr("LUT_3D_SIZE 9"));
  EXPECT_EQ(client_.get("/loans/1/corrections/2/file").status, 404);

  ASSERT_EQ(client_.post("/loans/1/correction/prove", {{"cautions_read", true}, {"colours", 12}}).status, 202);
  client_.wait_until_idle();
  correction = client_.get("/loans/1/correction").body;
  ASSERT_FALSE(correction.at("proof").is_null());
  EXPECT_EQ(correction.at("proof").at("correction"), 1);
  EXPECT_EQ(correction.at("corrections").at(0).at("name"), "tern.cube");
}

TEST_F(Workbench, BalancesTheWhiteOfASimulatedDisplay) {
  client_.describe();
  EXPECT_TRUE(client_.get("/loans/1/balance").body.at("standing").is_null());
  ASSERT_EQ(client_.post("/loans/1/balance", {{"cautions_read", true}}).status, 202);
  client_.wait_until_idle();
  const auto standing = client_.get("/loans/1/balance").body.at("standing");
  ASSERT_FALSE(standing.is_null());
  EXPECT_TRUE(standing.at("finished")) << standing;
  EXPECT_FALSE(standing.at("verdict").is_null());
  for (const auto& c : standing.at("controls")) EXPECT_EQ(c.at("now"), c.at("next")) << "it is left as it stands";
  for (const auto& l : standing.at("levels")) EXPECT_GT(l.at("figures").at("delta_uv").at("upper95"), 0);
}

TEST_F(Workbench, SaysWhatToSetToWhoeverTurnsTheControls) {
  ASSERT_EQ(client_.post("/bench", {{"title", "T"}, {"evaluator", "E"}}).status, 201);
  ASSERT_EQ(client_.post("/displays", {{"name", "By hand"}}).status, 201);
  ASSERT_EQ(client_.post("/instruments", {{"name", "Meter"}, {"kind", "manual"}}).status, 201);
  ASSERT_EQ(client_.post("/rooms", {{"name", "Suite"}}).status, 201);
  ASSERT_EQ(client_.post("/loans", {{"display", 1}, {"instrument", 1}, {"room", 1}, {"hours", 2}}).status, 201);
  const json control = {{"name", "Red gain"}, {"lowest", 0}, {"highest", 100}, {"step", 1}, {"now", 50}};
  EXPECT_EQ(
      client_.post("/loans/1/balance", {{"cautions_read", true}, {"controls", {{{"name", "x"}, {"size", 1}}}}}).status,
      400);
  ASSERT_EQ(client_
                .post("/loans/1/balance",
                      {{"cautions_read", true}, {"controls", {control}}, {"levels_percent", {50}}, {"settle_s", 0}})
                .status,
            202);
  const auto answer = [&](const std::string& text) {
    for (int i = 0; i < 400; ++i) {
      const auto prompt = client_.get("/loans/1/run").body.at("prompt");
      if (!prompt.is_null()) {
        EXPECT_EQ(client_.post("/loans/1/answer", {{"number", prompt.at("number")}, {"text", text}}).status, 202);
        return prompt.at("text").get<std::string>();
      }
      ::usleep(25'000);
    }
    ADD_FAILURE() << "nothing is asked";
    return std::string();
  };
  EXPECT_THAT(answer(""), testing::HasSubstr("Red gain: 50"));
  const auto standing = client_.get("/loans/1/balance").body.at("standing");
  EXPECT_EQ(standing.at("state"), "open");
  EXPECT_FALSE(standing.at("finished"));
  EXPECT_EQ(standing.at("controls").at(0).at("next"), 50);
  client_.post("/loans/1/run", {{"action", "stop"}});
  client_.wait_until_idle();
}

}  // namespace
}  // namespace provenit::server
