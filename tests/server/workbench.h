#pragma once
// An Api over a bench of its own, and requests to it whose answers are held to the description.
#include <gtest/gtest.h>
#include <unistd.h>

#include <filesystem>
#include <nlohmann/json.hpp>
#include <string>

#include "description.h"
#include "provenit/server/api.h"

namespace provenit::server {

struct Said {
  int status = 0;
  nlohmann::json body;
  std::string raw;
};

class Folder {
 public:
  Folder() {
    const std::filesystem::path memory = "/dev/shm";
    const bool usable = ::access(memory.c_str(), W_OK) == 0;
    auto name = ((usable ? memory : std::filesystem::temp_directory_path()) / "provenit_server_XXXXXX").string();
    if (::mkdtemp(name.data()) == nullptr) throw std::runtime_error("no folder");
    path_ = name;
  }
  Folder(const Folder&) = delete;
  Folder& operator=(const Folder&) = delete;
  ~Folder() {
    std::error_code ec;
    std::filesystem::remove_all(path_, ec);
  }
  [[nodiscard]] std::string file(const std::string& name) const { return (path_ / name).string(); }

 private:
  std::filesystem::path path_;
};

/// Sends requests to anything that answers them, and holds each answer to the description.
template <class Send>
class Client {
 public:
  explicit Client(Send send) : send_(std::move(send)) {}

  Said get(const std::string& path) { return ask("GET", path, ""); }
  Said post(const std::string& path, const nlohmann::json& body = nlohmann::json::object()) {
    return ask("POST", path, body.dump());
  }
  Said put(const std::string& path, const nlohmann::json& body) { return ask("PUT", path, body.dump()); }
  Said ask(const std::string& method, const std::string& path, const std::string& body) {
    Said said = send_(method, "/api/1" + path, body);
    const auto plain = path.substr(0, path.find('?'));
    said.body = nlohmann::json::parse(said.raw, nullptr, false);
    if (!said.body.is_discarded()) {
      EXPECT_EQ(against_description(method, "/api/1" + plain, said.status, said.body), "") << method << ' ' << path;
    }
    return said;
  }

  /// A simulated display with its meter, a room and a loan, described through the interface itself.
  void describe(const std::string& display = "tern-32", double hours = 4) {
    ASSERT_EQ(post("/bench", {{"title", "Tern 32, autumn"}, {"evaluator", "Saltmarsh Display Lab"}}).status, 201);
    ASSERT_EQ(post("/displays", {{"name", "Tern 32"},
                                 {"technology", "LCD, mini-LED"},
                                 {"details", {{"simulated", display}, {"claimed_peak_cdm2", 1400}}}})
                  .status,
              201);
    ASSERT_EQ(post("/instruments", {{"name", "Meter A"}, {"kind", "simulated"}}).status, 201);
    ASSERT_EQ(post("/rooms", {{"name", "Suite 2"}, {"surround_cdm2", 5}}).status, 201);
    ASSERT_EQ(post("/loans", {{"display", 1}, {"instrument", 1}, {"room", 1}, {"hours", hours}}).status, 201);
    ASSERT_EQ(post("/loans/1/questions", {{"sets", {"claims-tern-32"}}}).status, 201);
  }

  /// Waits until the loan's run does nothing; the state it is left in.
  nlohmann::json wait_until_idle(int seconds = 120) {
    for (int i = 0; i < 20 * seconds; ++i) {
      const auto said = get("/loans/1/run");
      const auto state = said.body.value("state", "");
      if (state == "idle" || state == "paused") return said.body;
      ::usleep(50'000);
    }
    ADD_FAILURE() << "the run does not end";
    return {};
  }

 private:
  Send send_;
};

class Workbench : public testing::Test {
 protected:
  static Said send(Api& api, const std::string& method, const std::string& target, const std::string& body) {
    Request request{.method = method, .path = target.substr(0, target.find('?')), .body = body};
    if (const auto mark = target.find('?'); mark != std::string::npos) {
      std::string rest = target.substr(mark + 1) + '&';
      for (std::size_t at = 0, end = 0; (end = rest.find('&', at)) != std::string::npos; at = end + 1) {
        const auto part = rest.substr(at, end - at);
        request.query[part.substr(0, part.find('='))] = part.substr(std::min(part.find('=') + 1, part.size()));
      }
    }
    const auto answer = api.handle(request);
    return {answer.status, {}, answer.body};
  }

  Folder folder_;
  Api api_{{.bench = folder_.file("tern.bench"), .software = "provenit test", .link = "http://127.0.0.1:1/"}};
  Client<std::function<Said(const std::string&, const std::string&, const std::string&)>> client_{
      [this](const auto& method, const auto& path, const auto& body) { return send(api_, method, path, body); }};
};

}  // namespace provenit::server
