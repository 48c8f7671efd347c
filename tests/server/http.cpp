#include "http.h"

#include <arpa/inet.h>
#include <fmt/format.h>
#include <netinet/in.h>
#include <poll.h>
#include <sys/socket.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <chrono>
#include <utility>

namespace provenit::server {
namespace {

/// "5\r\nhello\r\n0\r\n\r\n" -> "hello".
std::string unchunked(const std::string& body) {
  std::string out;
  for (std::size_t at = 0; at < body.size();) {
    const auto end = body.find("\r\n", at);
    if (end == std::string::npos) break;
    const auto size = std::strtoul(body.substr(at, end - at).c_str(), nullptr, 16);
    if (size == 0) break;
    out += body.substr(end + 2, size);
    at = end + 2 + size + 2;
  }
  return out;
}

}  // namespace

Wire::Wire(int port) : socket_(::socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0)) {
  sockaddr_in address{};
  address.sin_family = AF_INET;
  address.sin_port = htons(static_cast<std::uint16_t>(port));
  address.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
  if (::connect(socket_, reinterpret_cast<const sockaddr*>(&address), sizeof address) != 0) close();
}

Wire::Wire(Wire&& other) noexcept : socket_(std::exchange(other.socket_, -1)), ended_(other.ended_) {}

Wire& Wire::operator=(Wire&& other) noexcept {
  close();
  socket_ = std::exchange(other.socket_, -1);
  ended_ = other.ended_;
  return *this;
}

Wire::~Wire() {
  close();
}

void Wire::close() {
  if (socket_ >= 0) ::close(socket_);
  socket_ = -1;
}

bool Wire::send(const std::string& bytes) {
  for (std::size_t at = 0; at < bytes.size();) {
    const auto sent = ::send(socket_, bytes.data() + at, bytes.size() - at, MSG_NOSIGNAL);
    if (sent <= 0) return false;
    at += static_cast<std::size_t>(sent);
  }
  return true;
}

std::string Wire::receive(int milliseconds) {
  pollfd ready{.fd = socket_, .events = POLLIN, .revents = 0};
  if (socket_ < 0 || ::poll(&ready, 1, milliseconds) <= 0) return {};
  std::array<char, 1 << 16> buffer{};
  const auto got = ::recv(socket_, buffer.data(), buffer.size(), 0);
  if (got <= 0) ended_ = true;
  return got > 0 ? std::string(buffer.data(), static_cast<std::size_t>(got)) : std::string();
}

Heard Wire::answer(int milliseconds) {
  std::string text;
  const auto until = std::chrono::steady_clock::now() + std::chrono::milliseconds(milliseconds);
  while (open() && !ended_ && std::chrono::steady_clock::now() < until) text += receive(100);
  Heard heard;
  const auto end = text.find("\r\n\r\n");
  if (!text.starts_with("HTTP/1.1 ") || end == std::string::npos) return heard;
  heard.status = std::atoi(text.c_str() + 9);
  heard.head = text.substr(0, end + 2);
  std::ranges::transform(heard.head, heard.head.begin(),
                         [](char c) { return c >= 'A' && c <= 'Z' ? static_cast<char>(c + 32) : c; });
  heard.body = text.substr(end + 4);
  if (heard.head.find("transfer-encoding: chunked") != std::string::npos) heard.body = unchunked(heard.body);
  return heard;
}

std::string request(int port, const std::string& method, const std::string& target, const std::string& headers,
                    const std::string& body) {
  return fmt::format("{} {} HTTP/1.1\r\nHost: 127.0.0.1:{}\r\n{}\r\n{}", method, target, port, headers, body);
}

Heard ask(int port, const std::string& method, const std::string& target, const std::string& body,
          const std::string& headers) {
  std::string lines = headers;
  if (method != "GET" && method != "HEAD")
    lines += fmt::format("X-Provenit: 1\r\nContent-Type: application/json\r\nContent-Length: {}\r\n", body.size());
  Wire wire(port);
  if (!wire.open()) return {};
  wire.send(request(port, method, target, lines, body));
  return wire.answer();
}

}  // namespace provenit::server
