// The server on a real socket: who is let in, and what it does with everything else.
#include "provenit/server/server.h"

#include <fmt/format.h>
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <chrono>
#include <thread>

#include "http.h"
#include "provenit/server/guards.h"
#include "workbench.h"

namespace provenit::server {
namespace {

using nlohmann::json;
using testing::HasSubstr;
using testing::Not;

class OnASocket : public testing::Test {
 protected:
  void open(const std::string& address = "127.0.0.1") {
    auto opened =
        Server::open({.bench = folder_.file("tern.bench"), .address = address, .port = 0, .software = "provenit test"});
    ASSERT_TRUE(opened) << opened.error().text();
    server_ = std::move(*opened);
    port_ = server_->port();
  }
  [[nodiscard]] auto client() const {
    const std::function<Said(const std::string&, const std::string&, const std::string&)> send =
        [port = port_](const auto& method, const auto& target, const auto& body) {
          const auto heard = ask(port, method, target, body);
          return Said{heard.status, {}, heard.body};
        };
    return Client(send);
  }

  Folder folder_;
  std::unique_ptr<Server> server_;
  int port_ = 0;
};

TEST_F(OnASocket, AnswersItsOwnPageWithEveryGuard) {
  open();
  EXPECT_EQ(server_->link(), fmt::format("http://127.0.0.1:{}/", port_));
  const auto page = ask(port_, "GET", "/");
  EXPECT_EQ(page.status, 200);
  for (const char* line : {"content-security-policy: default-src 'self'", "x-content-type-options: nosniff",
                           "referrer-policy: no-referrer", "x-frame-options: deny", "cache-control: no-store"})
    EXPECT_THAT(page.head, HasSubstr(line));
  EXPECT_THAT(page.head, Not(HasSubstr("unsafe")));
  EXPECT_THAT(page.head, Not(HasSubstr("access-control")));
  EXPECT_EQ(json::parse(ask(port_, "GET", "/api/1/version").body).at("api"), 1);
  EXPECT_EQ(ask(port_, "HEAD", "/api/1/version").status, 200);
}

TEST_F(OnASocket, RefusesOtherNamesPagesTypesAndSizes) {
  open();
  const auto status = [&](const std::string& text) {
    Wire wire(port_);
    wire.send(text);
    return wire.answer().status;
  };
  EXPECT_EQ(status("GET /api/1/bench HTTP/1.1\r\nHost: provenit.example\r\n\r\n"), 403);
  EXPECT_EQ(status("GET /api/1/bench HTTP/1.1\r\n\r\n"), 400);
  EXPECT_EQ(status(request(port_, "GET", "/api/1/bench", "Origin: http://provenit.example\r\n")), 403);
  EXPECT_EQ(
      status(request(port_, "POST", "/api/1/bench", "Content-Type: application/json\r\nContent-Length: 2\r\n", "{}")),
      403);  // no X-Provenit: what a form of another page can send
  EXPECT_EQ(status(request(port_, "POST", "/api/1/bench",
                           "X-Provenit: 1\r\nContent-Type: text/plain\r\nContent-Length: 2\r\n", "{}")),
            415);
  EXPECT_EQ(status(request(port_, "POST", "/api/1/bench",
                           "X-Provenit: 1\r\nContent-Type: application/json\r\nContent-Length: 99999999999\r\n")),
            413);
  EXPECT_EQ(status(request(port_, "POST", "/api/1/bench",
                           "X-Provenit: 1\r\nContent-Type: application/json\r\nTransfer-Encoding: chunked\r\n",
                           "2\r\n{}\r\n0\r\n\r\n")),
            411);
  EXPECT_EQ(status(request(port_, "DELETE", "/api/1/bench")), 405);
  EXPECT_EQ(status(request(port_, "OPTIONS", "/api/1/bench")), 405);
  EXPECT_EQ(status(request(port_, "GET", '/' + std::string(3000, 'a'))), 414);
  const auto much = std::string(kLargestBody + 1, ' ');
  EXPECT_EQ(ask(port_, "POST", "/api/1/bench", much).status, 413);
  EXPECT_EQ(ask(port_, "POST", "/api/1/bench", "{\"title\":\"T\",\"evaluator\":\"E\"}").status, 201);
}

TEST_F(OnASocket, ServesNoPathOutsideItsPage) {
  open();
  for (const char* path : {"/../etc/passwd", "/..%2f..%2fetc/passwd", "/%2e%2e/%2e%2e/etc/passwd", "//etc/passwd",
                           "/assets/../../etc/passwd", "/assets/%00", "/tern.bench", "/api/1/../../tern.bench",
                           "/....//etc/passwd", "/index.html/..", "/\\..\\etc"}) {
    const auto heard = ask(port_, "GET", path);
    EXPECT_TRUE(heard.status == 404 || heard.status == 400 || heard.status == 403) << path << ' ' << heard.status;
    EXPECT_THAT(heard.body, Not(HasSubstr("root:"))) << path;
  }
}

TEST_F(OnASocket, OpenToTheNetworkWantsItsToken) {
  open("0.0.0.0");
  ASSERT_TRUE(server_->on_network());
  const auto token = server_->link().substr(server_->link().find("token=") + 6);
  EXPECT_EQ(token.size(), 32u);
  EXPECT_FALSE(server_->link_code().empty());
  EXPECT_EQ(ask(port_, "GET", "/").status, 401);
  EXPECT_EQ(ask(port_, "GET", "/api/1/bench").status, 401);
  EXPECT_EQ(ask(port_, "GET", "/api/1/events").status, 401);
  EXPECT_EQ(ask(port_, "GET", "/?token=" + std::string(32, '0')).status, 401);
  const auto opened = ask(port_, "GET", "/?token=" + token);
  EXPECT_EQ(opened.status, 200);
  EXPECT_THAT(opened.head, HasSubstr("set-cookie: provenit_token=" + token + "; path=/; httponly; samesite=strict"));
  EXPECT_THAT(opened.body, Not(HasSubstr(token)));
  const auto cookie = "Cookie: provenit_token=" + token + "\r\n";
  EXPECT_EQ(ask(port_, "GET", "/api/1/bench", {}, cookie).status, 200);
  const auto code = ask(port_, "GET", "/api/1/link.svg", {}, cookie);
  EXPECT_EQ(code.status, 200);
  EXPECT_THAT(code.head, HasSubstr("content-type: image/svg+xml"));
  EXPECT_THAT(code.body, HasSubstr("<svg"));
  EXPECT_EQ(json::parse(ask(port_, "GET", "/api/1/link", {}, cookie).body).at("network"), true);
}

TEST_F(OnASocket, TwoServersDoNotShareAPort) {
  open();
  const auto second = Server::open({.bench = folder_.file("b.bench"), .port = port_});
  ASSERT_FALSE(second);
  EXPECT_EQ(second.error().code, ErrorCode::io);
  EXPECT_EQ(Server::open({.bench = folder_.file("none/b.bench"), .port = 0}).error().code, ErrorCode::not_found);
}

/// A page that listens to the events, and counts what it hears.
struct Listener {
  explicit Listener(int port) : wire(port) { wire.send(request(port, "GET", "/api/1/events")); }
  void hear(int milliseconds) { text += wire.receive(milliseconds); }
  [[nodiscard]] int count(const std::string& name) const {
    int n = 0;
    for (std::size_t at = 0; (at = text.find("event: " + name + "\n", at)) != std::string::npos; ++at) ++n;
    return n;
  }
  Wire wire;
  std::string text;
};

TEST_F(OnASocket, FiftyListenersSomeSlowSomeGoneDoNotHoldARunBack) {
  open();
  auto page = client();
  page.describe();
  std::vector<Listener> good, slow;
  for (int i = 0; i < 30; ++i) good.emplace_back(port_);
  for (int i = 0; i < 10; ++i) slow.emplace_back(port_);  // never read on
  {
    std::vector<Listener> gone;
    for (int i = 0; i < 10; ++i) gone.emplace_back(port_);
    for (auto& listener : gone) listener.hear(1000);
  }  // closed without a word
  for (auto& listener : good) listener.hear(2000);
  ASSERT_EQ(page.post("/loans/1/run", {{"action", "start"}, {"cautions_read", true}}).status, 202);
  std::atomic<bool> over{false};
  std::vector<std::thread> readers;
  for (auto& listener : good)
    readers.emplace_back([&listener, &over] {
      while (!over) listener.hear(50);
      for (int i = 0; i < 20; ++i) listener.hear(50);
    });
  const auto state = page.wait_until_idle(300);
  std::this_thread::sleep_for(std::chrono::milliseconds(1500));
  over = true;
  for (auto& reader : readers) reader.join();
  EXPECT_EQ(state.at("finished"), true) << state;
  const int total = page.get("/loans/1/readings?limit=1").body.at("total");
  EXPECT_GT(total, 150);
  // Every page that read on heard of every reading, and none twice: slow, lost and good ones share the same events.
  for (const auto& listener : good) {
    EXPECT_EQ(listener.count("gap"), 0);
    EXPECT_EQ(listener.count("reading"), total);
  }
}

TEST_F(OnASocket, AListenerThatComesBackMissesNothing) {
  open();
  auto page = client();
  page.describe();
  std::string id;
  {
    Listener first(port_);
    for (int i = 0; i < 20 && first.text.find("id: ") == std::string::npos; ++i) first.hear(100);
    id = first.text.substr(first.text.find("id: ") + 4);
    id = id.substr(0, id.find('\n'));
  }
  ASSERT_EQ(
      page.post("/loans/1/run", {{"action", "start"}, {"cautions_read", true}, {"procedures", {"white_point"}}}).status,
      202);
  page.wait_until_idle();
  std::this_thread::sleep_for(std::chrono::milliseconds(500));
  const int total = page.get("/loans/1/readings?limit=1").body.at("total");
  Listener again(0);
  again.wire = Wire(port_);
  again.wire.send(request(port_, "GET", "/api/1/events", "Last-Event-ID: " + id + "\r\n"));
  for (int i = 0; i < 50 && again.count("reading") < total; ++i) again.hear(100);
  EXPECT_EQ(again.count("reading"), total);
  EXPECT_EQ(again.count("gap"), 0);
}

}  // namespace
}  // namespace provenit::server
