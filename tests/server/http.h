#pragma once
// Requests byte by byte over a socket, so that wrong ones can be sent too.
#include <string>

namespace provenit::server {

struct Heard {
  int status = 0;    ///< 0: no answer that could be read
  std::string head;  ///< lower case
  std::string body;
};

/// A connection to a port of this machine.
class Wire {
 public:
  explicit Wire(int port);
  Wire(Wire&& other) noexcept;
  Wire& operator=(Wire&& other) noexcept;
  Wire(const Wire&) = delete;
  ~Wire();
  [[nodiscard]] bool open() const { return socket_ >= 0; }
  /// False once the other side has closed it.
  bool send(const std::string& bytes);
  /// What has come by now; waits up to so long for the first of it. Empty: nothing, or the end (see ended()).
  std::string receive(int milliseconds);
  [[nodiscard]] bool ended() const { return ended_; }
  /// Until the other side closes.
  Heard answer(int milliseconds = 20'000);
  void close();

 private:
  int socket_ = -1;
  bool ended_ = false;
};

/// "GET /path HTTP/1.1" with the right Host, these further header lines ("A: b\r\n") and this body.
[[nodiscard]] std::string request(int port, const std::string& method, const std::string& target,
                                  const std::string& headers = {}, const std::string& body = {});
/// One request and its answer. A change is sent as the page sends it.
[[nodiscard]] Heard ask(int port, const std::string& method, const std::string& target, const std::string& body = {},
                        const std::string& headers = {});

}  // namespace provenit::server
