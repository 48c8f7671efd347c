#pragma once
// The workbench on a socket: its page, its interface (api.h) and its events, to this machine alone or, with a token, to
// the network. docs/workbench.md.
#include <memory>
#include <string>

#include "provenit/base/error.h"
#include "provenit/server/api.h"

namespace provenit::server {

struct ServerOptions {
  std::string bench;                  ///< path of the bench file; it need not be there yet
  std::string address = "127.0.0.1";  ///< to listen on; any but a loopback address opens the server to the network
  int port = 8420;                    ///< 0: a free one
  std::string programmes;             ///< folder of films and stills; empty: none
  std::vector<std::string> farms;     ///< folders of jobs whose progress is told
  std::string software;               ///< "provenit 0.1.0"
};

/// Serves while it lives.
class Server {
 public:
  /// Errors: io if the port is taken or the address is none of this machine's; out_of_range for a port outside 0 to
  /// 65535; those of Bench::open if the bench is there and cannot be opened; not_found if its folder is not there.
  [[nodiscard]] static Result<std::unique_ptr<Server>> open(const ServerOptions& options);
  ~Server();

  [[nodiscard]] int port() const;
  /// What to open: "http://127.0.0.1:8420/", on the network with an address others can reach and the token.
  [[nodiscard]] const std::string& link() const;
  [[nodiscard]] bool on_network() const;
  /// The link as a QR code for a terminal; empty if it is too long for one.
  [[nodiscard]] std::string link_code() const;
  [[nodiscard]] Api& api();

 private:
  class Impl;
  explicit Server(std::unique_ptr<Impl> impl);
  std::unique_ptr<Impl> impl_;
};

}  // namespace provenit::server
