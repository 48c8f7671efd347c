#pragma once
// Who may ask what: decisions about a request's head, before anything of it is used. Pure.
#include <cstddef>
#include <optional>
#include <set>
#include <string>
#include <string_view>
#include <vector>

#include "provenit/server/api.h"

namespace provenit::server {

/// What a server lets in.
struct Entrance {
  std::set<std::string> hosts;  ///< values of Host that name this server, with the port: "127.0.0.1:8420"
  std::string token;            ///< needed by every request; empty: none is
};

/// The head of a request.
struct Head {
  std::string method;
  std::string path;    ///< decoded
  std::string target;  ///< as sent
  std::optional<std::string> host, origin, content_type, content_length, transfer_encoding, cookie, authorization,
      fetch_site, mark;              ///< mark: the header X-Provenit
  std::optional<std::string> token;  ///< of the query
  std::size_t hosts = 1;             ///< how often the header Host is there
};

/// Longest target of a request.
constexpr std::size_t kLongestTarget = 8000;
/// The cookie that holds the token.
inline constexpr std::string_view kCookie = "provenit_token";

/// Nothing: it may come in. Otherwise why not, as a Problem. In this order:
///   400  no Host or several, a path with control characters, a body's length that is no number
///   403  a Host that is not this server's, so that no name made to point here is answered; an Origin other than that
///        Host, and whatever a browser says comes from another site
///   401  no token where one is needed, or another
///   405  a method other than GET, HEAD, POST, PUT
///   411  a body without its length; 413: one longer than its path takes
///   403  a change without the header X-Provenit: no form of another site can send it
///   415  a change whose body is not JSON, unless its path takes files
[[nodiscard]] std::optional<Answer> refused(const Head& head, const Entrance& entrance);

/// The token of a link that was followed: the page answers by setting the cookie and going on without it in the
/// address.
[[nodiscard]] bool brings_token(const Head& head, const Entrance& entrance);

/// Takes the same time wherever the texts differ.
[[nodiscard]] bool same_text(std::string_view a, std::string_view b);
/// The value of a cookie; nullopt if it is not among them.
[[nodiscard]] std::optional<std::string> cookie_value(std::string_view cookies, std::string_view name);
/// 128 random bits, hexadecimal.
[[nodiscard]] std::string random_token();

/// Every Host under which this machine can be meant: its names and addresses, IPv6 in brackets, each with the port.
[[nodiscard]] std::set<std::string> hosts_of_machine(int port);
/// An address of this machine that others can reach, IPv6 in brackets; 127.0.0.1 where it has none.
[[nodiscard]] std::string reachable_address();
/// Whether this address reaches no further than this machine: 127.0.0.0/8, ::1, localhost.
[[nodiscard]] bool is_loopback(std::string_view address);

}  // namespace provenit::server
