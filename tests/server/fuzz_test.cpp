// Thousands of wrong requests over a real socket, from a fixed seed: each gets an answer of 2xx or 4xx, and the server
// lives and answers right afterwards.
#include <fmt/format.h>
#include <gtest/gtest.h>

#include <random>

#include "http.h"
#include "provenit/server/guards.h"
#include "provenit/server/server.h"
#include "workbench.h"

namespace provenit::server {
namespace {

using nlohmann::json;

class Mutator {
 public:
  explicit Mutator(std::uint64_t seed) : random_(seed) {}

  int below(int n) { return static_cast<int>(random_() % static_cast<unsigned>(n)); }
  bool one_in(int n) { return below(n) == 0; }
  template <class T>
  const T& of(const std::vector<T>& items) {
    return items[static_cast<std::size_t>(below(static_cast<int>(items.size())))];
  }
  std::string bytes(int most) {
    std::string out(static_cast<std::size_t>(below(most + 1)), ' ');
    for (auto& c : out) c = static_cast<char>(below(256));
    return out;
  }
  json value(int depth = 0) {
    switch (below(depth > 3 ? 7 : 9)) {
      case 0:
        return nullptr;
      case 1:
        return below(2) == 0;
      case 2:
        return below(2000) - 1000;
      case 3:
        return 1e308 * (below(3) - 1);
      case 4:
        return std::uint64_t(random_());
      case 5:
        return of(words_);
      case 6:
        return std::string(static_cast<std::size_t>(below(3000)), 'x');
      case 7: {
        json out = json::array();
        for (int i = below(5); i > 0; --i) out.push_back(value(depth + 1));
        return out;
      }
      default: {
        json out = json::object();
        for (int i = below(5); i > 0; --i) out[of(words_)] = value(depth + 1);
        return out;
      }
    }
  }
  /// A request's body as it should be, with something wrong.
  json wrong(json body) {
    for (int i = 1 + below(3); i > 0; --i) {
      if (body.empty() || one_in(4)) {
        body[of(words_)] = value();
        continue;
      }
      auto at = body.begin();
      std::advance(at, below(static_cast<int>(body.size())));
      if (one_in(4))
        body.erase(at);
      else if (at->is_object() && !at->empty() && one_in(2))
        *at = wrong(*at);
      else
        *at = value();
    }
    return body;
  }
  /// Bytes flipped, cut, doubled or put in.
  std::string torn(std::string text) {
    for (int i = 1 + below(4); i > 0 && !text.empty(); --i) {
      const auto at = static_cast<std::size_t>(below(static_cast<int>(text.size())));
      switch (below(4)) {
        case 0:
          text[at] = static_cast<char>(below(256));
          break;
        case 1:
          text.resize(at);
          break;
        case 2:
          text.insert(at, text.substr(at, 20));
          break;
        default:
          text.insert(at, bytes(8));
      }
    }
    return text;
  }

 private:
  std::mt19937_64 random_;
  const std::vector<std::string> words_{"name",
                                        "kind",
                                        "details",
                                        "encoding",
                                        "hours",
                                        "seed",
                                        "sets",
                                        "toml",
                                        "weight",
                                        "action",
                                        "start",
                                        "stop",
                                        "number",
                                        "text",
                                        "\u0000a",
                                        "\xf0\x9f\x98\x80",
                                        "display",
                                        "certificate",
                                        "2026-11-25T09:00:00Z",
                                        "../../etc/passwd",
                                        "",
                                        "simulated",
                                        "tern-32",
                                        "pq"};
};

struct Seed {
  std::string method, path;
  json body;
};
const std::vector<Seed> kSeeds{
    {"POST", "/bench", {{"title", "T"}, {"evaluator", "E"}}},
    {"POST", "/displays", {{"name", "D"}, {"details", {{"simulated", "tern-32"}}}}},
    {"PUT",
     "/displays/1",
     {{"name", "Tern 32"},
      {"encoding",
       {{"transfer", "pq"}, {"container", "bt2020"}, {"bits", 10}, {"range", "narrow"}, {"nominal_peak_cdm2", 1000}}}}},
    {"POST", "/instruments", {{"name", "M"}, {"kind", "manual"}, {"certificate", {{"x_expanded", 0.001}}}}},
    {"POST", "/rooms", {{"name", "R"}, {"surround_cdm2", 5}}},
    {"POST",
     "/loans",
     {{"display", 1}, {"instrument", 1}, {"room", 1}, {"hours", 2}, {"starts", "2026-11-25T09:00:00Z"}}},
    {"POST", "/loans/1/questions", {{"sets", {"claims-tern-32"}}, {"toml", "id = \"a\"\ntitle = \"b\"\n"}}},
    {"PUT", "/loans/1/questions/1", {{"weight", 1}}},
    {"POST", "/loans/1/run", {{"action", "stop"}, {"cautions_read", true}, {"procedures", {"white_point"}}}},
    {"POST", "/loans/1/answer", {{"number", 1}, {"text", "1 0.3 0.3"}}},
    {"POST", "/loans/1/evaluate", json::object()},
    {"POST", "/undo", json::object()},
    {"POST", "/redo", json::object()},
    {"POST", "/loans/1/report", {{"without", {"methods"}}}},
    {"POST", "/loans/1/import?procedure=white_point&name=a.csv", {{"not", "csv"}}},
    {"POST", "/loans/1/attachments?recording=zone_walk&name=a.csv&step=across", {{"not", "a trace"}}},
    {"GET", "/bench", nullptr},
    {"GET", "/loans/1", nullptr},
    {"GET", "/loans/1/plan?hours=1", nullptr},
    {"GET", "/loans/1/readings?after=0&limit=10", nullptr},
    {"GET", "/loans/1/findings", nullptr},
    {"GET", "/loans/1/findings/1", nullptr},
    {"GET", "/requirement-sets/claims-tern-32", nullptr}};

class Fuzz : public testing::Test {
 protected:
  void SetUp() override {
    auto opened = Server::open({.bench = folder_.file("tern.bench"), .port = 0, .software = "provenit test"});
    ASSERT_TRUE(opened);
    server_ = std::move(*opened);
    port_ = server_->port();
    const std::function<Said(const std::string&, const std::string&, const std::string&)> send =
        [this](const auto& method, const auto& target, const auto& body) {
          const auto heard = ask(port_, method, target, body);
          return Said{heard.status, {}, heard.body};
        };
    Client(send).describe();
  }
  /// 0 (the connection was closed) is right only for what is no request at all.
  void expect_fine(const Heard& heard, const std::string& sent, bool may_be_cut) {
    const bool fine = (heard.status >= 200 && heard.status < 300) || (heard.status >= 400 && heard.status < 500) ||
                      (may_be_cut && heard.status == 0);
    EXPECT_TRUE(fine) << heard.status << ' ' << heard.body << "\nsent: " << sent.substr(0, 600);
    ++counts_[heard.status];
  }
  void expect_alive() {
    const auto heard = ask(port_, "GET", "/api/1/bench");
    EXPECT_EQ(heard.status, 200);
    EXPECT_EQ(against_description("GET", "/api/1/bench", 200, json::parse(heard.body, nullptr, false)), "");
  }

  Folder folder_;
  std::unique_ptr<Server> server_;
  int port_ = 0;
  std::map<int, int> counts_;
};

TEST_F(Fuzz, BodiesThatAreNearlyRight) {
  Mutator m(20261129);
  for (int i = 0; i < 4000 && !HasFailure(); ++i) {
    const auto& seed = m.of(kSeeds);
    if (seed.method == "GET") continue;
    auto body = m.wrong(seed.body).dump(-1, ' ', false, json::error_handler_t::replace);
    if (m.one_in(3)) body = m.torn(body);
    expect_fine(ask(port_, seed.method, "/api/1" + seed.path, body), seed.path + ' ' + body, false);
  }
  EXPECT_GT(counts_[400], 1000);
  expect_alive();
}

TEST_F(Fuzz, PathsAndQueriesThatAreNearlyRight) {
  Mutator m(20261130);
  for (int i = 0; i < 2500 && !HasFailure(); ++i) {
    auto target = "/api/1" + m.of(kSeeds).path;
    target = m.torn(target);
    std::erase_if(target, [](char c) { return c == '\r' || c == '\n' || c == ' ' || c == '\0'; });
    if (!target.starts_with('/')) target = '/' + target;
    expect_fine(ask(port_, "GET", target), target, true);
  }
  EXPECT_GT(counts_[404], 300);
  expect_alive();
}

TEST_F(Fuzz, RequestsThatAreTorn) {
  Mutator m(20261201);
  for (int i = 0; i < 800 && !HasFailure(); ++i) {
    const auto& seed = m.of(kSeeds);
    const auto body = seed.body.is_null() ? std::string() : seed.body.dump();
    auto text = request(
        port_, seed.method, "/api/1" + seed.path,
        fmt::format("X-Provenit: 1\r\nContent-Type: application/json\r\nContent-Length: {}\r\n", body.size()), body);
    if (m.one_in(6)) text = m.bytes(2000);
    text = m.torn(text);
    Wire wire(port_);
    ASSERT_TRUE(wire.open());
    wire.send(text);
    // One that waits for more is left alone; the others are heard out.
    if (m.one_in(3)) continue;
    const auto heard = wire.answer(120);
    expect_fine(heard, text, true);
  }
  expect_alive();
}

}  // namespace
}  // namespace provenit::server
