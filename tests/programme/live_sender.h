#pragma once
// Another process that sends a stream over loopback.
#include <arpa/inet.h>
#include <signal.h>
#include <sys/socket.h>
#include <sys/wait.h>
#include <unistd.h>

#include <string>
#include <vector>

namespace provenit::programme::testing {

inline int free_port(int type) {
  const int s = ::socket(AF_INET, type, 0);
  sockaddr_in address{};
  address.sin_family = AF_INET;
  address.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
  socklen_t size = sizeof address;
  if (::bind(s, reinterpret_cast<sockaddr*>(&address), size) != 0) return -1;
  ::getsockname(s, reinterpret_cast<sockaddr*>(&address), &size);
  ::close(s);
  return ntohs(address.sin_port);
}

// An ffmpeg that sends a test picture in real time until it is killed. H.264 without loss, so that every picture is
// known.
class Sender {
 public:
  explicit Sender(const std::string& url, int rate_hz = 25) {
    const std::vector<std::string> words{"ffmpeg",
                                         "-nostdin",
                                         "-v",
                                         "quiet",
                                         "-re",
                                         "-f",
                                         "lavfi",
                                         "-i",
                                         "testsrc2=s=64x36:r=" + std::to_string(rate_hz),
                                         "-c:v",
                                         "libx264",
                                         "-preset",
                                         "ultrafast",
                                         "-tune",
                                         "zerolatency",
                                         "-qp",
                                         "0",
                                         "-g",
                                         "5",
                                         "-pix_fmt",
                                         "yuv420p",
                                         "-color_primaries",
                                         "bt709",
                                         "-color_trc",
                                         "bt709",
                                         "-colorspace",
                                         "bt709",
                                         "-color_range",
                                         "tv",
                                         "-f",
                                         "mpegts",
                                         url};
    std::vector<char*> arguments;
    for (const std::string& w : words) arguments.push_back(const_cast<char*>(w.c_str()));
    arguments.push_back(nullptr);
    child_ = ::fork();
    if (child_ == 0) {
      ::execvp("ffmpeg", arguments.data());
      ::_exit(127);
    }
  }
  Sender(const Sender&) = delete;
  Sender& operator=(const Sender&) = delete;
  ~Sender() {
    ::kill(child_, SIGKILL);
    ::waitpid(child_, nullptr, 0);
  }

 private:
  pid_t child_ = -1;
};

}  // namespace provenit::programme::testing
