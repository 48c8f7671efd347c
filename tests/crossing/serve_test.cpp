// `provenit serve` as a program of its own: killed in mid-run, and beside the command on the same bench.
#include <arpa/inet.h>
#include <fmt/format.h>
#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <signal.h>
#include <sys/socket.h>
#include <sys/wait.h>

#include <array>
#include <chrono>
#include <future>
#include <nlohmann/json.hpp>
#include <thread>

#include "bench_folder.h"
#include "provenit/store/bench.h"

namespace provenit {
namespace {

using nlohmann::json;

/// The program, and requests to it.
class Serving {
 public:
  explicit Serving(const std::string& bench) {
    std::array<int, 2> ends{};
    if (::pipe(ends.data()) != 0) throw std::runtime_error("no pipe");
    child_ = ::fork();
    if (child_ == 0) {
      ::dup2(ends[1], STDOUT_FILENO);
      ::execl(PROVENIT_COMMAND, "provenit", "serve", bench.c_str(), "--port", "0", "--json", nullptr);
      ::_exit(9);
    }
    ::close(ends[1]);
    std::string said;
    std::array<char, 4096> buffer{};
    while (said.find("\n}") == std::string::npos) {
      const auto n = ::read(ends[0], buffer.data(), buffer.size());
      if (n <= 0) break;
      said.append(buffer.data(), static_cast<std::size_t>(n));
    }
    ::close(ends[0]);
    const auto document = json::parse(said, nullptr, false);
    if (!document.is_discarded()) port_ = document.value("port", 0);
  }
  Serving(const Serving&) = delete;
  Serving& operator=(const Serving&) = delete;
  ~Serving() {
    if (child_ > 0) end(SIGTERM);
  }
  int end(int how) {
    ::kill(child_, how);
    int status = 0;
    ::waitpid(child_, &status, 0);
    child_ = 0;
    return status;
  }
  [[nodiscard]] int port() const { return port_; }

  /// Status and body; status 0: no answer.
  std::pair<int, json> ask(const std::string& method, const std::string& path, const json& body = nullptr) const {
    const int wire = ::socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0);
    sockaddr_in address{};
    address.sin_family = AF_INET;
    address.sin_port = htons(static_cast<std::uint16_t>(port_));
    address.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
    std::string heard;
    if (::connect(wire, reinterpret_cast<const sockaddr*>(&address), sizeof address) == 0) {
      const auto content = body.is_null() ? std::string() : body.dump();
      const auto text = fmt::format(
          "{} /api/1{} HTTP/1.1\r\nHost: 127.0.0.1:{}\r\nX-Provenit: 1\r\n{}\r\n{}", method, path, port_,
          body.is_null() ? "" : fmt::format("Content-Type: application/json\r\nContent-Length: {}\r\n", content.size()),
          content);
      (void)!::write(wire, text.data(), text.size());
      std::array<char, 1 << 16> buffer{};
      for (ssize_t n = 0; (n = ::read(wire, buffer.data(), buffer.size())) > 0;)
        heard.append(buffer.data(), static_cast<std::size_t>(n));
    }
    ::close(wire);
    const auto split = heard.find("\r\n\r\n");
    if (split == std::string::npos) return {0, nullptr};
    return {std::atoi(heard.c_str() + 9), json::parse(heard.substr(split + 4), nullptr, false)};
  }
  json wait_until_idle() const {
    for (int i = 0; i < 4000; ++i) {
      const auto [status, state] = ask("GET", "/loans/1/run");
      if (status == 200 && (state.at("state") == "idle" || state.at("state") == "paused")) return state;
      std::this_thread::sleep_for(std::chrono::milliseconds(50));
    }
    ADD_FAILURE() << "the run does not end";
    return {};
  }

 private:
  pid_t child_ = 0;
  int port_ = 0;
};

class Serve : public BenchFolder {
 protected:
  void describe() {
    ASSERT_EQ(run("new " + bench() + " --title T --evaluator E").exit, 0);
    ASSERT_EQ(run("describe display " + bench() + " --name 'Tern 32' --simulated tern-32").exit, 0);
    ASSERT_EQ(run("describe instrument " + bench() + " --name M --kind simulated").exit, 0);
    ASSERT_EQ(run("describe room " + bench() + " --name R --surround 5").exit, 0);
    ASSERT_EQ(run("describe loan " + bench() + " --hours 4 --starts 2026-11-25T09:00:00Z").exit, 0);
    ASSERT_EQ(run("questions " + bench() + " --set claims-tern-32").exit, 0);
  }
  [[nodiscard]] std::int64_t readings() const { return store::Bench::open(bench()).value().reading_count().value(); }
  const json start_{{"action", "start"}, {"cautions_read", true}};
};

TEST_F(Serve, KilledInMidRunItGoesOnAndNothingIsLost) {
  describe();
  int cut_short = 0;
  bool open = false;  // the last kill left a run that was not at its end; between two runs it leaves none
  for (int kill = 0; kill < 6; ++kill) {
    Serving server(bench());
    ASSERT_NE(server.port(), 0);
    const auto [status, state] = server.ask("GET", "/loans/1/run");
    ASSERT_EQ(status, 200);
    EXPECT_EQ(state.at("state"), "idle");
    EXPECT_EQ(state.at("elsewhere"), false);
    EXPECT_EQ(state.at("can_resume"), open);
    const auto before = readings();
    auto wish = start_;
    if (kill > 0) wish["action"] = "resume";
    ASSERT_EQ(server.ask("POST", "/loans/1/run", wish).first, 202);
    // Killed once it has taken some more, at no particular moment.
    std::int64_t acknowledged = before;
    for (int i = 0; i < 400 && acknowledged < before + 5 + 3 * kill; ++i) {
      const auto [answered, page] = server.ask("GET", "/loans/1/readings?limit=1");
      if (answered == 200) acknowledged = page.at("total");
    }
    server.end(SIGKILL);
    const auto left = store::Bench::open(bench()).value();
    EXPECT_TRUE(left.verify_readings());
    EXPECT_GE(left.reading_count().value(), acknowledged);
    const auto runs = left.runs(1).value();
    open = std::ranges::any_of(runs, [](const auto& r) { return r.state == store::RunState::open; });
    cut_short += open;
  }
  EXPECT_GE(cut_short, 3);
  Serving server(bench());
  auto wish = start_;
  wish["action"] = "resume";
  ASSERT_EQ(server.ask("POST", "/loans/1/run", wish).first, 202);
  const auto end = server.wait_until_idle();
  EXPECT_EQ(end.at("finished"), true) << end;
  EXPECT_EQ(end.at("problem"), nullptr);
  const auto whole = store::Bench::open(bench()).value();
  EXPECT_TRUE(whole.verify_readings());
  const auto runs = whole.runs(1).value();
  for (const auto& r : runs) EXPECT_EQ(r.state, store::RunState::finished) << r.procedure;
  EXPECT_GT(server.ask("GET", "/loans/1/findings").second.at("findings").size(), 5u);
}

TEST_F(Serve, AndTheCommandBesideItDoNotHinderEachOther) {
  describe();
  const Serving server(bench());
  ASSERT_EQ(server.ask("POST", "/loans/1/run", start_).first, 202);
  // While the server takes readings, the command reads, describes and is refused a second run of the same loan.
  const auto refused = run("run " + bench());
  EXPECT_EQ(refused.exit, 2) << refused.out;
  EXPECT_THAT(refused.out, testing::HasSubstr("are being taken already"));
  int asked = 0;
  for (; asked < 50 && server.ask("GET", "/loans/1/run").second.at("state") == "running"; ++asked) {
    EXPECT_EQ(run("status " + bench()).exit, 0);
    EXPECT_EQ(run("describe room " + bench() + " --name 'Room " + std::to_string(asked) + "'").exit, 0);
    EXPECT_EQ(server.ask("GET", "/bench").first, 200);
  }
  EXPECT_GT(asked, 0);
  EXPECT_EQ(server.wait_until_idle().at("finished"), true);
  EXPECT_EQ(server.ask("GET", "/bench").second.at("rooms").size(), static_cast<std::size_t>(asked) + 1);

  // Now the command takes readings, and the server sees them come and does not start a run into them.
  auto command = std::async(std::launch::async, [this] { return run("run " + bench() + " --again"); });
  bool elsewhere = false;
  while (!elsewhere && command.wait_for(std::chrono::milliseconds(5)) != std::future_status::ready)
    elsewhere = server.ask("GET", "/loans/1/run").second.at("elsewhere").get<bool>();
  EXPECT_TRUE(elsewhere);
  if (elsewhere) {
    EXPECT_EQ(server.ask("POST", "/loans/1/run", start_).first, 409);
  }
  const auto ran = command.get();
  EXPECT_EQ(ran.exit, 0) << ran.out;
  EXPECT_EQ(server.ask("GET", "/loans/1/run").second.at("elsewhere"), false);
  EXPECT_TRUE(store::Bench::open(bench()).value().verify_readings());
  EXPECT_EQ(run("evaluate " + bench()).exit, 0);
}

TEST_F(Serve, EndsWhenItIsToldTo) {
  describe();
  Serving server(bench());
  ASSERT_EQ(server.ask("POST", "/loans/1/run", start_).first, 202);
  const int status = server.end(SIGTERM);
  EXPECT_TRUE(WIFEXITED(status) && WEXITSTATUS(status) == 0) << status;
  EXPECT_TRUE(store::Bench::open(bench()).value().verify_readings());
}

}  // namespace
}  // namespace provenit
