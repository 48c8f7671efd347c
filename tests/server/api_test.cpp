// The interface, endpoint by endpoint; Client holds every answer to openapi.json.
#include <gmock/gmock.h>

#include <algorithm>
#include <atomic>
#include <chrono>
#include <functional>
#include <set>
#include <thread>

#include "provenit/store/bench.h"
#include "workbench.h"

namespace provenit::server {
namespace {

using nlohmann::json;

TEST(Description, NamesEveryPathThatIsServedAndNoOther) {
  auto served = Api::served(), named = described();
  EXPECT_THAT(served, testing::UnorderedElementsAreArray(named));
  EXPECT_EQ(std::set(served.begin(), served.end()).size(), served.size());
}

TEST_F(Workbench, BeginsWithoutABenchAndMakesIt) {
  EXPECT_FALSE(client_.get("/bench").body.at("exists"));
  EXPECT_EQ(client_.get("/loans/1").status, 404);
  EXPECT_EQ(client_.post("/bench", {{"title", "T"}}).status, 400);
  const auto made = client_.post("/bench", {{"title", "T"}, {"evaluator", "E"}});
  EXPECT_EQ(made.status, 201);
  EXPECT_EQ(made.body.at("title"), "T");
  EXPECT_EQ(made.body.at("name"), "tern.bench");
  EXPECT_EQ(client_.post("/bench", {{"title", "T"}, {"evaluator", "E"}}).status, 409);
}

TEST_F(Workbench, AnswersWithoutABench) {
  for (const char* path : {"/openapi.json", "/version", "/link", "/choices", "/requirement-sets", "/edits"})
    EXPECT_EQ(client_.get(path).status, 200) << path;
  EXPECT_EQ(client_.get("/link.svg").status, 404);
  EXPECT_EQ(client_.get("/requirement-sets/claims-tern-32").body.at("invented"), true);
  EXPECT_EQ(client_.get("/requirement-sets/nothing").status, 404);
  EXPECT_EQ(send(api_, "GET", "/api/1/nothing", "").status, 404);
  EXPECT_EQ(send(api_, "GET", "/api/2/bench", "").status, 404);
  EXPECT_EQ(send(api_, "PUT", "/api/1/bench", "{}").status, 405);
  EXPECT_EQ(send(api_, "POST", "/api/1/loans/0/run", "{}").status, 404);
}

TEST_F(Workbench, KeepsWhatIsDescribed) {
  client_.describe();
  const auto bench = client_.get("/bench").body;
  EXPECT_EQ(bench.at("displays").at(0).at("details").at("simulated"), "tern-32");
  EXPECT_EQ(bench.at("rooms").at(0).at("surround_cdm2"), 5);
  EXPECT_EQ(bench.at("loans").at(0).at("display"), "Tern 32");
  const auto loan = client_.get("/loans/1").body;
  EXPECT_EQ(loan.at("left_s"), 4 * 3600.0);
  EXPECT_GT(loan.at("questions").size(), 5u);
  EXPECT_EQ(loan.at("run").at("state"), "idle");
  EXPECT_EQ(client_.put("/rooms/1", {{"name", "Suite 3"}, {"surround_cdm2", nullptr}}).body.at("replaced"), true);
  EXPECT_EQ(client_.get("/bench").body.at("rooms").at(0).at("surround_cdm2"), nullptr);
  EXPECT_EQ(client_.put("/rooms/9", {{"name", "Suite 3"}}).status, 404);
}

TEST_F(Workbench, RefusesWhatCannotBeAndNamesTheField) {
  client_.describe();
  const std::pair<const char*, json> wrong[] = {
      {"/displays", {{"technology", "LCD"}}},
      {"/displays", {{"name", ""}}},
      {"/displays", {{"name", "A"}, {"colour", "blue"}}},
      {"/displays", {{"name", "A"}, {"details", {{"simulated", "gull-40"}}}}},
      {"/displays", {{"name", "A"}, {"details", {{"claimed_peak_cdm2", -1}}}}},
      {"/displays", {{"name", "A"}, {"details", {{"nested", {{"a", 1}}}}}}},
      {"/displays", {{"name", "A"}, {"encoding", {{"transfer", "pq"}}}}},
      {"/instruments", {{"name", "A"}, {"kind", "eye"}}},
      {"/instruments", {{"name", "A"}, {"kind", "line"}}},
      {"/instruments", {{"name", "A"}, {"kind", "line"}, {"details", {{"description", "../../etc/passwd"}}}}},
      {"/instruments", {{"name", "A"}, {"kind", "manual"}, {"certificate", {{"x_expanded", 0}}}}},
      {"/rooms", {{"name", "A"}, {"surround_cdm2", -1}}},
      {"/loans", {{"display", 1}, {"instrument", 1}, {"room", 1}}},
      {"/loans", {{"display", 1}, {"instrument", 1}, {"room", 1}, {"hours", 1}, {"starts", "yesterday"}}},
      {"/loans", {{"display", 1}, {"instrument", 1}, {"room", 1}, {"hours", 1}, {"seed", -1}}},
      {"/loans/1/questions", json::object()},
      {"/loans/1/questions", {{"toml", "id = "}}},
      {"/loans/1/run", {{"action", "dance"}}},
      {"/loans/1/run", {{"action", "start"}}},  // nobody read the cautions
      {"/loans/1/answer", {{"number", 1}}}};
  for (const auto& [path, body] : wrong) {
    const auto said = client_.post(path, body);
    EXPECT_EQ(said.status, 400) << path << ' ' << body;
    EXPECT_TRUE(said.body.contains("where")) << path << ' ' << body << said.body;
  }
  EXPECT_EQ(client_.post("/loans", {{"display", 9}, {"instrument", 1}, {"room", 1}, {"hours", 1}}).status, 404);
  EXPECT_EQ(client_.post("/loans/1/questions", {{"sets", {"nothing"}}}).status, 404);
  EXPECT_EQ(client_.ask("POST", "/rooms", "[]").status, 400);
  EXPECT_EQ(client_.ask("POST", "/rooms", "{\"name\":").status, 400);
  EXPECT_EQ(client_.ask("POST", "/rooms", "\xff\xfe").status, 400);
  EXPECT_EQ(client_.ask("POST", "/rooms", std::string(500'000, '[')).status, 400);
}

TEST_F(Workbench, ErrorsDoNotTellWhereTheBenchLies) {
  client_.describe();
  const auto said = client_.post("/loans/1/evaluate");
  EXPECT_EQ(said.status, 404);
  EXPECT_EQ(said.raw.find(folder_.file("")), std::string::npos) << said.raw;
  EXPECT_EQ(said.body.at("where").at("file"), "tern.bench");
}

TEST_F(Workbench, TakesBackWhatWasDescribedAndDoesItAgain) {
  client_.describe();
  EXPECT_EQ(client_.put("/rooms/1", {{"name", "Suite 3"}}).status, 200);
  const auto room = [&] { return client_.get("/bench").body.at("rooms").at(0).at("name").get<std::string>(); };
  EXPECT_EQ(client_.get("/edits").body.at("undo"), "Changed room 'Suite 3'");
  EXPECT_EQ(client_.post("/undo").status, 200);
  EXPECT_EQ(room(), "Suite 2");
  EXPECT_EQ(client_.post("/redo").status, 200);
  EXPECT_EQ(room(), "Suite 3");
  EXPECT_EQ(client_.post("/redo").status, 404);
  EXPECT_EQ(client_.post("/undo").status, 200);
  // The questions, then the loan, then what it needs: to the beginning.
  const auto questions = [&] { return client_.get("/loans/1").body.at("questions").size(); };
  EXPECT_GT(questions(), 0u);
  EXPECT_EQ(client_.post("/undo").status, 200);
  EXPECT_EQ(questions(), 0u);
  for (int i = 0; i < 4; ++i) EXPECT_EQ(client_.post("/undo").status, 200);
  EXPECT_EQ(client_.post("/undo").status, 404);
  EXPECT_TRUE(client_.get("/bench").body.at("displays").empty());
  for (int i = 0; i < 6; ++i) EXPECT_EQ(client_.post("/redo").status, 200) << i;
  EXPECT_EQ(room(), "Suite 3");
  EXPECT_GT(questions(), 0u);
}

TEST_F(Workbench, ShowsAnEditWholeOrNotAtAll) {
  client_.describe();
  const auto path = folder_.file("tern.bench");
  const auto claims = client_.get("/loans/1").body.at("questions").size();
  ASSERT_EQ(client_.post("/loans/1/questions", {{"sets", {"hdr-mastering-basics"}}}).status, 201);
  const auto all = client_.get("/loans/1").body.at("questions").size();
  ASSERT_GT(all, claims + 1);
  std::atomic<bool> over = false;
  std::set<std::size_t> seen;
  std::thread reader([&] {
    const auto bench = store::Bench::open(path).value();
    while (!over) seen.insert(bench.questions(1).value().size());
  });
  for (int i = 0; i < 20; ++i)
    for (const char* way : {"/undo", "/redo"}) EXPECT_EQ(client_.post(way).status, 200);
  over = true;
  reader.join();
  EXPECT_THAT(seen, testing::IsSubsetOf({claims, all}));
}

TEST_F(Workbench, DoesNotTakeBackWhatIsInUseOrWasChangedElsewhere) {
  client_.describe();
  const auto other = Api({.bench = folder_.file("tern.bench"), .software = "provenit test"});
  auto& elsewhere = const_cast<Api&>(other);
  EXPECT_EQ(client_.post("/rooms", {{"name", "Suite 9"}}).status, 201);
  EXPECT_EQ(send(elsewhere, "PUT", "/api/1/rooms/2", R"({"name":"Suite 10"})").status, 200);
  EXPECT_EQ(client_.post("/undo").status, 409);
  EXPECT_EQ(send(elsewhere, "PUT", "/api/1/rooms/2", R"({"name":"Suite 9"})").status, 200);
  EXPECT_EQ(send(elsewhere, "POST", "/api/1/loans", R"({"display":1,"instrument":1,"room":2,"hours":1})").status, 201);
  EXPECT_EQ(client_.post("/undo").status, 409);
  EXPECT_EQ(client_.get("/bench").body.at("rooms").size(), 2u);
}

TEST_F(Workbench, WeighsAQuestion) {
  client_.describe();
  const auto before = client_.get("/loans/1").body.at("questions").at(0);
  const auto path = "/loans/1/questions/" + std::to_string(before.at("id").get<int>());
  EXPECT_EQ(client_.put(path, {{"weight", 0}}).body.at("weight"), 0);
  EXPECT_EQ(client_.put(path, {{"weight", -1}}).status, 400);
  EXPECT_EQ(client_.put("/loans/1/questions/999", {{"weight", 1}}).status, 404);
  EXPECT_EQ(client_.post("/undo").status, 200);
  EXPECT_EQ(client_.get("/loans/1").body.at("questions").at(0), before);
}

TEST_F(Workbench, PlansAndSaysWhatToLookOutFor) {
  client_.describe();
  const auto plan = client_.get("/loans/1/plan").body;
  EXPECT_GT(plan.at("runs").size(), 3u);
  EXPECT_LT(client_.get("/loans/1/plan?hours=0.2").body.at("total_s"), plan.at("total_s"));
  EXPECT_EQ(client_.get("/loans/1/plan?hours=-1").status, 400);
  EXPECT_EQ(client_.get("/loans/1/plan?hours=x").status, 400);
  EXPECT_GE(client_.get("/loans/1/cautions?procedures=window_peak,greyscale").body.at("cautions").size(), 3u);
  EXPECT_EQ(client_.get("/loans/1/cautions?procedures=nothing").status, 404);
}

class RunOfALoan : public Workbench {
 protected:
  void carry_through(const json& more = json::object()) {
    client_.describe();
    json wish = {{"action", "start"}, {"cautions_read", true}, {"procedures", {"black_level", "white_point"}}};
    wish.update(more);
    const auto started = client_.post("/loans/1/run", wish);
    ASSERT_EQ(started.status, 202) << started.raw;
    state_ = client_.wait_until_idle();
  }
  json state_;
};

TEST_F(RunOfALoan, TakesReadingsEvaluatesAndPublishes) {
  carry_through();
  EXPECT_EQ(state_.at("finished"), true) << state_;
  EXPECT_EQ(state_.at("problem"), nullptr);
  EXPECT_EQ(state_.at("runs").size(), 2u);
  const auto loan = client_.get("/loans/1").body;
  EXPECT_EQ(loan.at("runs").size(), 2u);
  EXPECT_NE(loan.at("evaluated"), nullptr);
  EXPECT_EQ(loan.at("stale"), false);

  // Every page of the readings, then all at once: the same.
  const int total = client_.get("/loans/1/readings?limit=1").body.at("total");
  std::vector<int> ids;
  for (json next = 0; !next.is_null();) {
    const auto page = client_.get("/loans/1/readings?limit=7&after=" + std::to_string(next.get<int>())).body;
    for (const auto& r : page.at("readings")) ids.push_back(r.at("id"));
    next = page.at("next");
  }
  EXPECT_EQ(static_cast<int>(ids.size()), total);
  EXPECT_TRUE(std::ranges::is_sorted(ids));
  const auto last = client_.get("/loans/1/readings?run=2&last=3").body.at("readings");
  ASSERT_EQ(last.size(), 3u);
  EXPECT_EQ(last.at(2).at("id"), ids.back());
  EXPECT_EQ(client_.get("/loans/1/readings?limit=0").status, 400);

  // From a finding to every reading behind it.
  const auto findings = client_.get("/loans/1/findings").body.at("findings");
  ASSERT_FALSE(findings.empty());
  for (const auto& f : findings) {
    const auto trace = client_.get("/loans/1/findings/" + std::to_string(f.at("id").get<int>())).body;
    EXPECT_EQ(trace.at("readings").size(), f.at("reading_count").get<std::size_t>()) << f.at("quantity");
  }
  EXPECT_EQ(client_.get("/loans/1/findings/9999").status, 404);

  const auto evaluated = client_.post("/loans/1/evaluate");
  EXPECT_EQ(evaluated.body.at("findings").get<std::size_t>(), findings.size());
  const auto document = client_.get("/loans/1/document").body;
  EXPECT_EQ(document.at("readings").at("rows").size(), ids.size());
  EXPECT_TRUE(client_.get("/loans/1/document?readings=no").body.at("readings").at("rows").empty());

  const auto archive = send(api_, "GET", "/api/1/loans/1/data.zip", "");
  EXPECT_EQ(archive.status, 200);
  EXPECT_EQ(archive.raw.substr(0, 2), "PK");
  const auto page = send(api_, "GET", "/api/1/loans/1/report.html", "");
  // A build without the page says so.
  if (page.status == 200) {
    EXPECT_NE(page.raw.find("Tern 32, autumn"), std::string::npos);
    const auto published = client_.post("/loans/1/report", {{"without", {"methods"}}});
    EXPECT_EQ(published.status, 201);
    EXPECT_EQ(published.body.at("folder"), "tern-loan-1-report");
    EXPECT_TRUE(std::filesystem::exists(folder_.file("tern-loan-1-report/data/SHA256SUMS")));
    EXPECT_EQ(client_.post("/loans/1/report").status, 201);  // again: the files are replaced
  } else {
    EXPECT_EQ(page.status, 422);
  }
}

TEST_F(RunOfALoan, PausesGoesOnSkipsAndStops) {
  client_.describe();
  const json start = {{"action", "start"}, {"cautions_read", true}};
  EXPECT_EQ(client_.post("/loans/1/run", {{"action", "pause"}}).status, 409);
  EXPECT_EQ(client_.post("/loans/1/run", {{"action", "stop"}}).status, 409);
  ASSERT_EQ(client_.post("/loans/1/run", start).status, 202);
  EXPECT_EQ(client_.post("/loans/1/run", start).status, 409);
  EXPECT_EQ(client_.get("/bench").body.at("running"), 1);
  EXPECT_EQ(client_.post("/loans/1/run", {{"action", "pause"}}).status, 202);
  auto left = client_.wait_until_idle();
  EXPECT_EQ(left.at("state"), "paused");
  EXPECT_EQ(left.at("can_resume"), true);
  EXPECT_EQ(left.at("finished"), false);
  EXPECT_EQ(client_.post("/loans/1/run", {{"action", "resume"}, {"cautions_read", true}}).status, 202);
  EXPECT_EQ(client_.post("/loans/1/run", {{"action", "skip"}}).status, 202);
  // What was skipped stays open, and the next procedure follows.
  for (int i = 0; i < 400 && client_.get("/loans/1").body.at("runs").size() < 2; ++i) ::usleep(20'000);
  EXPECT_EQ(client_.post("/loans/1/run", {{"action", "stop"}}).status, 202);
  left = client_.wait_until_idle();
  EXPECT_EQ(left.at("state"), "idle");
  const auto runs = client_.get("/loans/1").body.at("runs");
  EXPECT_GE(runs.size(), 2u);
  EXPECT_EQ(runs.at(0).at("state"), "open");
  EXPECT_EQ(client_.get("/bench").body.at("running"), nullptr);
}

TEST_F(Workbench, TellsWhatHappensAsEvents) {
  client_.describe();
  auto place = api_.events().place("");
  ASSERT_EQ(
      client_.post("/loans/1/run", {{"action", "start"}, {"cautions_read", true}, {"procedures", {"white_point"}}})
          .status,
      202);
  client_.wait_until_idle();
  ::usleep(500'000);  // the bench is looked at every 0.3 s
  std::string text;
  for (;;) {
    const auto more = api_.events().next(place, std::chrono::milliseconds(10));
    ASSERT_TRUE(more);
    if (more->empty()) break;
    text += *more;
  }
  std::map<std::string, int> seen;
  std::vector<int> readings;
  std::istringstream lines(text);
  std::string name;
  for (std::string line; std::getline(lines, line);) {
    if (line.starts_with("event: ")) name = line.substr(7);
    if (!line.starts_with("data: ")) continue;
    const auto data = json::parse(line.substr(6));
    EXPECT_EQ(against_event(name, data), "");
    ++seen[name];
    if (name == "reading") readings.push_back(data.at("id"));
  }
  EXPECT_GE(seen["run"], 2);
  EXPECT_GE(seen["progress"], 1);
  EXPECT_EQ(seen["gap"], 0);
  EXPECT_EQ(static_cast<int>(readings.size()), client_.get("/loans/1/readings?limit=1").body.at("total"));
  EXPECT_TRUE(std::ranges::is_sorted(readings));
}

TEST_F(Workbench, TakesReadingsFromAFile) {
  client_.describe();
  const std::string csv =
      "step,R,G,B,X [cd/m2],Y [cd/m2],Z "
      "[cd/m2]\nwhite,940,940,940,950.4,1000,1088.7\nwhite,940,940,940,951,1001,1089\n";
  const auto said = client_.ask("POST", "/loans/1/import?procedure=white_point&name=white.csv", csv);
  EXPECT_TRUE(said.status == 201 || said.status == 400) << said.raw;
  EXPECT_EQ(client_.ask("POST", "/loans/1/import?procedure=nothing&name=a.csv", csv).status, 404);
  EXPECT_EQ(client_.ask("POST", "/loans/1/import?procedure=white_point&name=../a.csv", csv).status, 400);
  EXPECT_EQ(client_.ask("POST", "/loans/1/import?procedure=white_point", csv).status, 400);
  EXPECT_EQ(client_.ask("POST", "/loans/1/import?procedure=white_point&name=a.csv", "nothing").status, 400);
  EXPECT_EQ(client_.get("/loans/1/attachments").body.at("attachments").size(), 0u);
  EXPECT_EQ(client_.ask("POST", "/loans/1/attachments?recording=zone_walk&name=a.csv&step=across", "x").status, 400);
  EXPECT_EQ(client_.ask("POST", "/loans/1/attachments?recording=nothing&name=a.csv", "x").status, 404);
  EXPECT_EQ(client_.ask("POST", "/loans/1/attachments?recording=zone_walk&name=a.csv&conditions=[]", "x").status, 400);
}

TEST_F(Workbench, AsksAnOperatorAndTakesTheAnswer) {
  ASSERT_EQ(client_.post("/bench", {{"title", "T"}, {"evaluator", "E"}}).status, 201);
  ASSERT_EQ(client_.post("/displays", {{"name", "D"}}).status, 201);
  ASSERT_EQ(client_.post("/instruments", {{"name", "M"}, {"kind", "manual"}}).status, 201);
  ASSERT_EQ(client_.post("/rooms", {{"name", "R"}}).status, 201);
  ASSERT_EQ(client_.post("/loans", {{"display", 1}, {"instrument", 1}, {"room", 1}, {"hours", 4}}).status, 201);
  ASSERT_EQ(client_.post("/loans/1/questions", {{"sets", {"claims-tern-32"}}}).status, 201);
  ASSERT_EQ(
      client_.post("/loans/1/run", {{"action", "start"}, {"cautions_read", true}, {"procedures", {"black_level"}}})
          .status,
      202);
  const auto prompt = [&]() -> json {
    for (int i = 0; i < 400; ++i) {
      auto asked = client_.get("/loans/1/run").body.at("prompt");
      if (!asked.is_null()) return asked;
      ::usleep(20'000);
    }
    return nullptr;
  };
  auto asked = prompt();
  ASSERT_FALSE(asked.is_null());
  EXPECT_FALSE(asked.at("text").get<std::string>().empty());
  EXPECT_EQ(client_.post("/loans/1/answer", {{"number", 99}, {"text", ""}}).status, 409);
  EXPECT_EQ(client_.post("/loans/1/answer", {{"number", 1}, {"text", "a\nb"}}).status, 400);
  EXPECT_EQ(client_.post("/loans/1/answer", {{"number", asked.at("number")}, {"text", ""}}).status, 202);
  // Enter goes on to what is asked next; a reading is typed in and confirmed.
  for (int i = 0; i < 8 && client_.get("/loans/1/readings?limit=1").body.at("total") == 0; ++i) {
    asked = prompt();
    ASSERT_FALSE(asked.is_null());
    const auto text = asked.at("text").get<std::string>();
    const bool wants_numbers = text.find("x y") != std::string::npos || text.find("Y x y") != std::string::npos;
    const auto said = client_.post("/loans/1/answer",
                                   {{"number", asked.at("number")}, {"text", wants_numbers ? "0.01 0.31 0.33" : ""}});
    EXPECT_EQ(said.status, 202) << text;
    ::usleep(100'000);
  }
  EXPECT_GE(client_.get("/loans/1/readings?limit=1").body.at("total"), 1);
  EXPECT_EQ(client_.post("/loans/1/run", {{"action", "stop"}}).status, 202);
  EXPECT_EQ(client_.wait_until_idle().at("can_resume"), true);
}

}  // namespace
}  // namespace provenit::server
