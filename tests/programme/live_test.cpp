// Live inputs: a stream sent by another process over loopback, cut off and resumed. Times only bound how long a test
// may wait; none decides it.
#include "provenit/programme/live.h"

#include <arpa/inet.h>
#include <gmock/gmock.h>
#include <signal.h>
#include <sys/socket.h>
#include <sys/wait.h>
#include <unistd.h>

#include <atomic>
#include <chrono>
#include <set>
#include <thread>

#include "live_sender.h"
#include "reader_clips.h"

namespace provenit::programme::testing {
namespace {

using std::chrono::milliseconds;
using ::testing::Contains;
using ::testing::HasSubstr;

// Hashes of the pictures that a sender may send.
std::set<std::string> known_pictures() {
  const TempFolder folder;
  run_ffmpeg("-f lavfi -i testsrc2=s=64x36:r=25:d=200 -pix_fmt yuv420p -f rawvideo " + folder / "raw.yuv");
  const std::string raw = bytes_of_file(folder / "raw.yuv");
  std::set<std::string> hashes;
  const std::size_t size = 64 * 36 * 3 / 2;
  for (std::size_t at = 0; at + size <= raw.size(); at += size) hashes.insert(sha256_hex(raw.substr(at, size)));
  return hashes;
}

struct Follower {
  explicit Follower(LiveReader& r) : reader(r) {}
  // The next picture, which must be one of those sent and later than the last.
  bool take() {
    auto picture = reader.next();
    EXPECT_TRUE(picture) << picture.error().text();
    if (!picture || !*picture) return false;
    const Seen s = seen(**picture);
    EXPECT_GT(s.index, last_index);
    EXPECT_GT(s.time_s, last_time);
    EXPECT_TRUE(s.damaged || known.contains(s.hash)) << s.index;
    good += s.damaged ? 0 : 1;
    last_index = s.index;
    last_time = s.time_s;
    return true;
  }
  LiveReader& reader;
  std::set<std::string> known = known_pictures();
  std::int64_t last_index = -1;
  double last_time = -1;
  int good = 0;
};

LiveOptions patient(std::atomic<bool>& stop) {
  LiveOptions options;
  options.reading.threads = 1;
  options.open_timeout_s = 60;
  options.silence_timeout_s = 1.5;
  options.queue = 8;
  options.stop = [&stop] { return stop.load(); };
  return options;
}

void follow_a_cut_stream(const std::string& send_to, const std::string& listen_at) {
  std::atomic<bool> stop{false};
  auto first = std::make_unique<Sender>(send_to);
  auto reader = open_live(listen_at, patient(stop));
  ASSERT_TRUE(reader) << reader.error().text();
  EXPECT_THAT(describe((*reader)->info().format),
              HasSubstr("64x36 8-bit 420 narrow, transfer bt1886, primaries bt709"));
  EXPECT_TRUE((*reader)->state().connected);
  Follower follower(**reader);
  for (int i = 0; i < 12; ++i) ASSERT_TRUE(follower.take());
  EXPECT_GT(follower.good, 0);
  const int before_cut = (*reader)->state().interruptions;  // 0, unless this machine stood still for a while

  first.reset();  // killed in the middle of whatever it was sending
  std::unique_ptr<Sender> second;
  std::thread resumer([&] {
    while ((*reader)->state().connected) std::this_thread::sleep_for(milliseconds(20));
    second = std::make_unique<Sender>(send_to);
  });
  while (follower.take() && (*reader)->state().interruptions == before_cut) {
  }
  resumer.join();
  EXPECT_GT((*reader)->state().interruptions, before_cut);
  follower.good = 0;
  for (int i = 0; i < 12; ++i) ASSERT_TRUE(follower.take());
  EXPECT_GT(follower.good, 0);

  // A caller that does not come: the oldest are dropped, and the indices tell.
  const std::int64_t received = (*reader)->state().received, last = follower.last_index;
  while ((*reader)->state().received < received + 20) std::this_thread::sleep_for(milliseconds(20));
  EXPECT_GE((*reader)->state().dropped, 12);
  ASSERT_TRUE(follower.take());
  EXPECT_GT(follower.last_index, last + 1);

  stop = true;
  const auto end = (*reader)->next();
  ASSERT_TRUE(end);
  EXPECT_FALSE(end->has_value());
}

TEST(Live, TransportStreamOverUdpIsFollowedThroughACut) {
  const std::string url = "udp://127.0.0.1:" + std::to_string(free_port(SOCK_DGRAM));
  follow_a_cut_stream(url + "?pkt_size=1316", url);
}

TEST(Live, ConnectionThatBreaksIsOpenedAgain) {
  const std::string url = "tcp://127.0.0.1:" + std::to_string(free_port(SOCK_STREAM));
  follow_a_cut_stream(url + "?listen=1", url);
}

TEST(Live, GivesUpAfterTheTimeItWasGiven) {
  const std::string url = "udp://127.0.0.1:" + std::to_string(free_port(SOCK_DGRAM));
  std::atomic<bool> stop{false};
  auto sender = std::make_unique<Sender>(url + "?pkt_size=1316");
  LiveOptions options = patient(stop);
  options.give_up_s = 0.3;
  auto reader = open_live(url, options);
  ASSERT_TRUE(reader) << reader.error().text();
  sender.reset();
  for (;;) {
    const auto picture = (*reader)->next();
    ASSERT_TRUE(picture);
    if (!*picture) break;
  }
  EXPECT_FALSE((*reader)->state().connected);
  EXPECT_THAT((*reader)->troubles(), Contains(HasSubstr("given up")));
}

TEST(Live, WithoutASenderIsATimeout) {
  LiveOptions options;
  options.open_timeout_s = 0.2;
  for (const char* scheme : {"udp", "tcp"}) {
    const auto reader = open_live(
        std::string(scheme) + "://127.0.0.1:" + std::to_string(free_port(scheme[0] == 'u' ? SOCK_DGRAM : SOCK_STREAM)),
        options);
    ASSERT_FALSE(reader);
    EXPECT_EQ(reader.error().code, ErrorCode::timeout) << reader.error().text();
  }
  options.open_timeout_s = 60;
  options.stop = [] { return true; };
  EXPECT_EQ(open_live("udp://127.0.0.1:" + std::to_string(free_port(SOCK_DGRAM)), options).error().code,
            ErrorCode::cancelled);
}

TEST(Live, RefusesWhatTheStreamDoesNotSay) {
  const std::string url = "udp://127.0.0.1:" + std::to_string(free_port(SOCK_DGRAM));
  const Sender sender(url + "?pkt_size=1316");
  std::atomic<bool> stop{false};
  LiveOptions options = patient(stop);
  options.reading.interpretation.transfer = Transfer::linear;  // and no peak
  const auto reader = open_live(url, options);
  ASSERT_FALSE(reader);
  EXPECT_EQ(reader.error().where.field, "peak");
}

TEST(Live, KnowsItsAddresses) {
  EXPECT_TRUE(is_live_address("v4l2:/dev/video0"));
  EXPECT_TRUE(is_live_address("udp://239.0.0.1:5000"));
  EXPECT_TRUE(is_live_address("srt://127.0.0.1:9000"));
  EXPECT_TRUE(is_live_address("rtp://127.0.0.1:9000"));
  EXPECT_FALSE(is_live_address("film.mp4"));
  EXPECT_FALSE(is_live_address("http://127.0.0.1/film.mp4"));
  EXPECT_EQ(open_live("film.mp4").error().code, ErrorCode::invalid_input);
  EXPECT_EQ(open_live("v4l2:/dev/no_such_camera").error().code, ErrorCode::unsupported);
}

}  // namespace
}  // namespace provenit::programme::testing
