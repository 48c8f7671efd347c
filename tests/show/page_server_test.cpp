// The server of the page over real HTTP, with a page played by the test.
#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <httplib.h>

#include <atomic>
#include <nlohmann/json.hpp>
#include <thread>

#include "provenit/show/page.h"

namespace provenit::show {
namespace {

using Json = nlohmann::json;

const signal::Encoding kSdr{.transfer = signal::Transfer::bt1886,
                            .container = signal::Container::bt709,
                            .bits = 8,
                            .range = signal::Range::full,
                            .nominal_peak_cdm2 = 100};

Frame window() {
  return frame_of(signal::Signal{.encoding = kSdr,
                                 .patch = {{200, 100, 50}},
                                 .surround = {{1, 2, 3}},
                                 .geometry = {.shape = signal::Shape::window, .area_fraction = 0.25}});
}

/// Waits long, so that a busy machine fails no test; `patience` is for what never comes.
std::unique_ptr<Page> opened(PageOptions options = {}, Seconds patience = {60}) {
  options.start_time = patience;
  options.answer_time = patience;
  return Page::open(std::move(options)).value();
}

/// A page that reads events on a thread of its own and answers each frame as `alter` has it.
class PlayedPage {
 public:
  explicit PlayedPage(
      const std::string& address, std::function<void(Json&)> alter = [](Json&) {}, bool start = true)
      : origin_(address.substr(0, address.find('/', 7))),
        root_(address.substr(origin_.size())),
        alter_(std::move(alter)),
        reader_([this] { read(); }) {
    while (!connected_) std::this_thread::sleep_for(std::chrono::milliseconds(5));
    if (start) post("start?page=p");
  }
  ~PlayedPage() { close(); }
  void close() {
    over_ = true;
    if (reader_.joinable()) reader_.join();
  }
  int post(const std::string& what, const std::string& body = {}) {
    httplib::Client client(origin_);
    const auto reply = client.Post(root_ + what, body, "application/json");
    return reply ? reply->status : 0;
  }
  std::string pixels;

 private:
  void read() {
    httplib::Client client(origin_);
    client.Get(
        root_ + "events?page=p", [](const httplib::Response&) { return true; },
        [this](const char* data, std::size_t length) {
          connected_ = true;
          const std::string text(data, length);
          if (text.starts_with("data: ")) answer(Json::parse(text.substr(6)));
          return !over_;
        });
    connected_ = true;
  }
  void answer(const Json& event) {
    httplib::Client client(origin_);
    const auto number = event.at("number").dump();
    const auto reply = client.Get(root_ + "frame?width=16&height=8&number=" + number);
    if (!reply || reply->status != 200) return;
    pixels = reply->body;
    const auto code = [&](int x, int y, int c) {
      return int(static_cast<unsigned char>(pixels[unsigned(4 * (16 * y + x) + c)]));
    };
    Json json{{"page", "p"}, {"number", event["number"]}, {"trouble", ""},     {"width", 16},
              {"height", 8}, {"full_screen", true},       {"one_to_one", true}};
    for (const auto& [x, y] : {std::pair(0, 0), std::pair(8, 4)})
      json["read_back"].push_back({x, y, code(x, y, 0), code(x, y, 1), code(x, y, 2)});
    alter_(json);
    if (!json.is_null()) post("up", json.dump());
  }

  std::string origin_, root_;
  std::function<void(Json&)> alter_;
  std::atomic<bool> over_ = false, connected_ = false;
  std::thread reader_;
};

TEST(Page, ShowsWhatItWasGiven) {
  const auto page = opened();
  PlayedPage played(page->address());
  const auto shown = page->show(window());
  ASSERT_TRUE(shown) << shown.error().text();
  EXPECT_EQ(page->size(), (signal::RasterSize{16, 8}));
  // Half of each side is the window: pixels 4 to 11 across, 2 to 5 down.
  const auto pixel = [&](int x, int y) { return played.pixels.substr(unsigned(4 * (16 * y + x)), 4); };
  EXPECT_EQ(pixel(4, 2), "\xC8\x64\x32\xFF");
  EXPECT_EQ(pixel(3, 2), "\x01\x02\x03\xFF");
}

TEST(Page, NobodyOpensIt) {
  const auto page = opened({}, {0.2});
  const auto shown = page->show(window());
  ASSERT_FALSE(shown);
  EXPECT_EQ(shown.error().code, ErrorCode::timeout);
  EXPECT_THAT(shown.error().text(), testing::HasSubstr(page->address()));
}

TEST(Page, NobodyStartsIt) {
  const auto page = opened({}, {0.2});
  PlayedPage played(
      page->address(), [](Json&) {}, false);
  const auto shown = page->show(window());
  ASSERT_FALSE(shown);
  EXPECT_EQ(shown.error().code, ErrorCode::timeout);
  EXPECT_THAT(shown.error().text(), testing::HasSubstr("press Start"));
}

/// What show() says to a page that answers so.
Error refused(const std::function<void(Json&)>& alter, const PageOptions& options = {}, Seconds patience = {60}) {
  const auto page = opened(options, patience);
  PlayedPage played(page->address(), alter);
  const auto shown = page->show(window());
  return shown ? Error{} : shown.error();
}

TEST(Page, AnswersThatAreNotRightAreRefused) {
  EXPECT_EQ(refused([](Json& a) { a = nullptr; }, {}, {0.5}).code, ErrorCode::timeout);
  EXPECT_THAT(refused([](Json& a) { a["read_back"][1][3] = 101; }).text(),
              testing::HasSubstr("200 100 50 sent, 200 101 50 drawn at 8, 4"));
  EXPECT_THAT(refused([](Json& a) { a["read_back"] = Json::array(); }).text(), testing::HasSubstr("read nothing back"));
  EXPECT_EQ(refused([](Json& a) { a["read_back"][0][0] = 16; }).code, ErrorCode::io);
  EXPECT_THAT(refused([](Json& a) { a["full_screen"] = false; }).text(), testing::HasSubstr("not full screen"));
  EXPECT_EQ(refused([](Json& a) { a["full_screen"] = false; }, {.full_screen = false}).message, "");
  EXPECT_THAT(refused([](Json& a) { a["one_to_one"] = false; }).text(), testing::HasSubstr("zoom"));
  EXPECT_EQ(refused([](Json& a) { a["width"] = 17; }).code, ErrorCode::conflict);
  EXPECT_THAT(refused([](Json& a) { a["trouble"] = "out of memory"; }).text(), testing::HasSubstr("out of memory"));
  EXPECT_EQ(refused([](Json& a) { a.erase("number"); }, {}, {0.5}).code, ErrorCode::timeout);  // no answer at all
  EXPECT_EQ(refused([](Json& a) { a["page"] = "q"; }, {}, {0.5}).code, ErrorCode::timeout);    // another page's
}

/// What show() says while a page that answers nothing tells these, a tenth of a second after each other.
Error said_while(const std::vector<std::string>& told) {
  const auto page = opened();
  PlayedPage played(page->address(), [](Json& a) { a = nullptr; });
  std::thread telling([&] {
    for (const auto& what : told) {
      std::this_thread::sleep_for(std::chrono::milliseconds(100));
      played.post(what + "?page=p");
    }
    if (told.back() == "closed") played.close();
  });
  const auto shown = page->show(window());
  telling.join();
  return shown ? Error{} : shown.error();
}

TEST(Page, IsClosedHalfWay) {
  const auto said = said_while({"closed"});
  EXPECT_EQ(said.code, ErrorCode::io);
  EXPECT_THAT(said.text(), testing::HasSubstr("closed"));
}

TEST(Page, IsClosedInFullScreen) {
  // A browser ends full screen before it closes the page.
  EXPECT_THAT(said_while({"leave", "closed"}).text(), testing::HasSubstr("closed"));
}

TEST(Page, GoesAwayWithoutAWord) {
  const auto page = opened({}, {5});
  PlayedPage played(page->address());
  ASSERT_TRUE(page->show(window()));
  played.close();  // its connection breaks: noticed at the next heartbeats, before the next frame or while it waits
  const auto shown = page->show(window());
  ASSERT_FALSE(shown);
  EXPECT_THAT(shown.error().text(), testing::AnyOf(testing::HasSubstr("no page was opened"),
                                                   testing::HasSubstr("closed before the signal was up")));
}

TEST(Page, LeavingCancels) {
  EXPECT_EQ(said_while({"leave"}).code, ErrorCode::cancelled);
}

TEST(Page, StopEndsTheWait) {
  const auto page = opened();
  page->set_stop([] { return true; });
  const auto shown = page->show(window());
  ASSERT_FALSE(shown);
  EXPECT_EQ(shown.error().code, ErrorCode::cancelled);
}

TEST(Page, WishesComeOneByOne) {
  const auto page = opened();
  PlayedPage played(page->address());
  ASSERT_TRUE(page->show(window()));
  EXPECT_EQ(page->wish({0.01}), std::nullopt);
  for (int i = 0; i < 5; ++i) played.post("next?page=p");  // a key held down
  EXPECT_EQ(page->wish({1}), Wish::next);
  EXPECT_EQ(page->wish({0.01}), std::nullopt);
  played.post("leave?page=p");
  EXPECT_EQ(page->wish({1}), Wish::leave);
}

TEST(Page, IsServedToThisMachineAlone) {
  const auto page = opened();
  const auto origin = page->address().substr(0, page->address().find('/', 7));
  const auto root = page->address().substr(origin.size());
  httplib::Client client(origin);
  EXPECT_EQ(client.Get(root)->status, 200);
  EXPECT_EQ(client.Get("/")->status, 404);
  EXPECT_EQ(client.Get(root, {{"Host", "signals.example"}})->status, 403);
  EXPECT_EQ(client.Get(root, {{"Host", "127.0.0.1"}})->status, 403);  // without its port
  EXPECT_EQ(client.Post(root + "start?page=p", {{"Origin", "http://signals.example"}}, "", "text/plain")->status, 403);
  EXPECT_EQ(client.Post(root + "up", "{", "application/json")->status, 400);
  EXPECT_EQ(client.Get(root + "frame?number=1&width=16&height=8")->status, 404);
  EXPECT_EQ(client.Get(root + "frame?number=1&width=-16&height=8")->status, 400);
}

TEST(Page, APortInUseIsSaid) {
  const auto first = opened();
  const auto colon = first->address().rfind(':');
  const int port = std::stoi(first->address().substr(colon + 1));
  const auto second = Page::open({.port = port});
  ASSERT_FALSE(second);
  EXPECT_EQ(second.error().code, ErrorCode::io);
  EXPECT_EQ(Page::open({.port = 70000}).error().code, ErrorCode::out_of_range);
}

TEST(Page, RefusesWhatABrowserWouldChange) {
  const auto page = opened();
  for (const auto& change : std::vector<std::function<void(signal::Encoding&)>>{
           [](auto& e) { e.transfer = signal::Transfer::pq; }, [](auto& e) { e.transfer = signal::Transfer::hlg; },
           [](auto& e) { e.bits = 10; }, [](auto& e) { e.range = signal::Range::narrow; }}) {
    auto encoding = kSdr;
    change(encoding);
    const auto shown = page->show(black_frame(encoding));
    ASSERT_FALSE(shown);
    EXPECT_EQ(shown.error().code, ErrorCode::unsupported);
  }
}

TEST(Page, FramesFollowEachOtherCalmly) {
  // Not a measurement of speed: the pause can only be longer than this.
  const auto page = opened();
  PlayedPage played(page->address());
  ASSERT_TRUE(page->show(window()));
  const auto before = std::chrono::steady_clock::now();
  for (int i = 0; i < 3; ++i) ASSERT_TRUE(page->show(window()));
  EXPECT_GE(std::chrono::duration<double>(std::chrono::steady_clock::now() - before).count(), 0.59);
}

}  // namespace
}  // namespace provenit::show
