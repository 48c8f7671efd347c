#include "provenit/server/events.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <atomic>
#include <thread>

namespace provenit::server {
namespace {

using std::chrono::milliseconds;
using testing::HasSubstr;

std::string all(const EventHub& hub, EventHub::Place& place) {
  std::string out;
  for (;;) {
    const auto more = hub.next(place, milliseconds(0));
    if (!more || more->empty()) return out;
    out += *more;
  }
}

TEST(Events, AreNumberedAndComeInOrder) {
  EventHub hub("s");
  auto place = hub.place("");
  EXPECT_EQ(all(hub, place), "id: s-0\n\n");  // where a listener is before anything happens
  hub.publish("a", "{}");
  hub.publish("b", "[1]");
  EXPECT_EQ(all(hub, place), "id: s-1\nevent: a\ndata: {}\n\nid: s-2\nevent: b\ndata: [1]\n\n");
  EXPECT_EQ(hub.next(place, milliseconds(1)), "");
}

TEST(Events, GoOnWhereAListenerLeft) {
  EventHub hub("s");
  for (int i = 1; i <= 5; ++i) hub.publish("a", std::to_string(i));
  auto place = hub.place("s-3");
  const auto text = all(hub, place);
  EXPECT_THAT(text, HasSubstr("data: 4\n\n"));
  EXPECT_THAT(text, HasSubstr("data: 5\n\n"));
  EXPECT_EQ(text.find("data: 3"), std::string::npos);
  EXPECT_EQ(text.find("gap"), std::string::npos);
}

TEST(Events, SayWhatTheyLeftOut) {
  EventHub hub("s", 4);
  auto slow = hub.place("");
  all(hub, slow);
  for (int i = 1; i <= 10; ++i) hub.publish("a", std::to_string(i));
  const auto text = all(hub, slow);
  EXPECT_EQ(text, "id: s-10\nevent: gap\ndata: {\"reason\":\"too_slow\"}\n\n");
  hub.publish("a", "11");
  EXPECT_EQ(all(hub, slow), "id: s-11\nevent: a\ndata: 11\n\n");
  for (const auto& [id, reason] : {std::pair{"s-2", "too_old"},
                                   {"t-9", "restarted"},
                                   {"s-99", "restarted"},
                                   {"nonsense", "restarted"},
                                   {"s-", "restarted"},
                                   {"s--1", "restarted"}}) {
    auto place = hub.place(id);
    EXPECT_THAT(all(hub, place), HasSubstr(reason)) << id;
  }
}

TEST(Events, WakeWhoWaitsAndEndWithTheHub) {
  EventHub hub("s");
  std::atomic<int> got{0};
  std::vector<std::thread> listeners;
  for (int i = 0; i < 8; ++i)
    listeners.emplace_back([&] {
      auto place = hub.place("");
      while (const auto text = hub.next(place, milliseconds(10'000)))
        for (std::size_t at = 0; (at = text->find("event:", at)) != std::string::npos; ++at) ++got;
    });
  std::this_thread::sleep_for(milliseconds(50));
  for (int i = 0; i < 100; ++i) hub.publish("a", "{}");
  while (got < 800) std::this_thread::yield();
  hub.close();
  for (auto& listener : listeners) listener.join();
  hub.publish("a", "{}");  // nobody hears it
  EXPECT_EQ(got, 800);
}

}  // namespace
}  // namespace provenit::server
