#include "provenit/server/guards.h"

#include <arpa/inet.h>
#include <fmt/format.h>
#include <ifaddrs.h>
#include <netinet/in.h>
#include <sys/random.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <stdexcept>

#include "provenit/base/text.h"

namespace provenit::server {
namespace {

bool is_printable(std::string_view text) {
  return std::ranges::none_of(text, [](char c) { return static_cast<unsigned char>(c) < 0x20 || c == 0x7f; });
}

std::string lower(std::string_view text) {
  std::string out(text);
  std::ranges::transform(out, out.begin(), [](char c) { return c >= 'A' && c <= 'Z' ? static_cast<char>(c + 32) : c; });
  return out;
}

Answer forbidden(const std::string& message, const std::string& advice = {}) {
  return problem(403, "forbidden", message, advice);
}

/// "application/json; charset=utf-8" -> "application/json".
std::string media_type(const std::optional<std::string>& content_type) {
  return content_type ? lower(trim(split(*content_type, ';').front())) : std::string();
}

std::optional<Answer> refused_sender(const Head& head, const Entrance& entrance) {
  if (!head.host || head.hosts != 1)
    return problem(400, "invalid_input", "a request names its host once", "Send one header Host.");
  const auto host = lower(*head.host);
  if (!entrance.hosts.contains(host))
    return forbidden("this server has another name", "Open it by the address it printed when it began.");
  if (head.origin && lower(*head.origin) != "http://" + host)
    return forbidden("the request comes from another page", "Open the workbench by the address it printed.");
  if (head.fetch_site && *head.fetch_site != "same-origin" && *head.fetch_site != "none" && head.path != "/")
    return forbidden("the request comes from another page", "Open the workbench by the address it printed.");
  return std::nullopt;
}

bool has_token(const Head& head, const Entrance& entrance) {
  if (entrance.token.empty()) return true;
  if (head.cookie)
    if (const auto value = cookie_value(*head.cookie, kCookie); value && same_text(*value, entrance.token)) return true;
  constexpr std::string_view bearer = "Bearer ";
  return head.authorization && head.authorization->starts_with(bearer) &&
         same_text(std::string_view(*head.authorization).substr(bearer.size()), entrance.token);
}

/// Of every interface, IPv6 in brackets.
std::vector<std::string> addresses() {
  std::vector<std::string> out;
  ifaddrs* interfaces = nullptr;
  if (::getifaddrs(&interfaces) != 0) return out;
  for (const auto* i = interfaces; i != nullptr; i = i->ifa_next) {
    if (i->ifa_addr == nullptr) continue;
    std::array<char, INET6_ADDRSTRLEN> text{};
    if (i->ifa_addr->sa_family == AF_INET) {
      const auto* v4 = reinterpret_cast<const sockaddr_in*>(i->ifa_addr);
      if (::inet_ntop(AF_INET, &v4->sin_addr, text.data(), text.size()) != nullptr) out.emplace_back(text.data());
    } else if (i->ifa_addr->sa_family == AF_INET6) {
      const auto* v6 = reinterpret_cast<const sockaddr_in6*>(i->ifa_addr);
      if (::inet_ntop(AF_INET6, &v6->sin6_addr, text.data(), text.size()) != nullptr)
        out.push_back(fmt::format("[{}]", text.data()));
    }
  }
  ::freeifaddrs(interfaces);
  return out;
}

std::optional<Answer> refused_body(const Head& head) {
  const bool change = head.method == "POST" || head.method == "PUT";
  if (head.transfer_encoding)
    return problem(411, "too_large", "the body's length is not stated", "Send Content-Length.");
  std::size_t length = 0;
  if (head.content_length) {
    const auto value = parse_integer(*head.content_length);
    if (!value || *value < 0) return problem(400, "invalid_input", "Content-Length is no length");
    length = static_cast<std::size_t>(*value);
  }
  const auto kind = Api::body_of(head.method, head.path);
  const std::size_t most = !change ? 0 : kind == BodyKind::file ? kLargestUpload : kLargestBody;
  if (length > most)
    return problem(413, "too_large", fmt::format("the body has {} bytes; {} are taken here", length, most));
  if (!change) return std::nullopt;
  if (!head.mark) return forbidden("a request that changes something names itself", "Send the header X-Provenit: 1.");
  const auto type = media_type(head.content_type);
  if (kind == BodyKind::json && length > 0 && type != "application/json")
    return problem(415, "wrong_type", "the body is not JSON", "Send Content-Type: application/json.");
  if (kind == BodyKind::file && (type.starts_with("multipart/") || type == "application/x-www-form-urlencoded"))
    return problem(415, "wrong_type", "the body is a form", "Send the file itself, as application/octet-stream.");
  return std::nullopt;
}

}  // namespace

std::optional<Answer> refused(const Head& head, const Entrance& entrance) {
  if (head.target.size() > kLongestTarget) return problem(414, "too_large", "the address is too long");
  if (!is_printable(head.path)) return problem(400, "invalid_input", "the path holds control characters");
  if (auto sender = refused_sender(head, entrance)) return sender;
  if (!has_token(head, entrance) && !brings_token(head, entrance))
    return problem(401, "no_token", "the link's token is missing",
                   "Open the link that was printed when the server began, or read its code.");
  static constexpr std::array methods{"GET", "HEAD", "POST", "PUT"};
  if (std::ranges::find(methods, head.method) == methods.end())
    return problem(405, "wrong_method", "this method is not served");
  return refused_body(head);
}

bool brings_token(const Head& head, const Entrance& entrance) {
  return !entrance.token.empty() && head.method == "GET" && head.path == "/" && head.token &&
         same_text(*head.token, entrance.token);
}

bool same_text(std::string_view a, std::string_view b) {
  unsigned difference = a.size() == b.size() ? 0 : 1;
  for (std::size_t i = 0; i < std::min(a.size(), b.size()); ++i)
    difference |= static_cast<unsigned char>(a[i]) ^ static_cast<unsigned char>(b[i]);
  return difference == 0;
}

std::optional<std::string> cookie_value(std::string_view cookies, std::string_view name) {
  for (const auto part : split(cookies, ';')) {
    const auto cookie = trim(part);
    const auto equals = cookie.find('=');
    if (equals != std::string_view::npos && trim(cookie.substr(0, equals)) == name)
      return std::string(trim(cookie.substr(equals + 1)));
  }
  return std::nullopt;
}

std::string random_token() {
  std::array<unsigned char, 16> bytes{};
  if (::getrandom(bytes.data(), bytes.size(), 0) != static_cast<ssize_t>(bytes.size()))
    throw std::runtime_error("this machine gives no random numbers");
  std::string out;
  for (const auto byte : bytes) out += fmt::format("{:02x}", byte);
  return out;
}

std::set<std::string> hosts_of_machine(int port) {
  std::set<std::string> names{"127.0.0.1", "localhost", "[::1]"};
  std::array<char, 256> name{};
  if (::gethostname(name.data(), name.size() - 1) == 0 && name[0] != '\0') {
    names.insert(lower(name.data()));
    names.insert(lower(name.data()) + ".local");
  }
  for (auto& address : addresses()) names.insert(std::move(address));
  std::set<std::string> out;
  for (const auto& n : names) {
    out.insert(fmt::format("{}:{}", n, port));
    if (port == 80) out.insert(n);
  }
  return out;
}

std::string reachable_address() {
  for (auto& address : addresses())
    if (!is_loopback(address) && !address.starts_with('[')) return address;
  return "127.0.0.1";
}

bool is_loopback(std::string_view address) {
  if (address == "localhost" || address == "::1") return true;
  in_addr v4{};
  return ::inet_pton(AF_INET, std::string(address).c_str(), &v4) == 1 && (ntohl(v4.s_addr) >> 24) == 127;
}

}  // namespace provenit::server
