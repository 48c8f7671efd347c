// provenit serve: the workbench, a page over the same bench file that the commands use.
#include <fmt/format.h>

#include <CLI/CLI.hpp>
#include <memory>
#include <thread>

#include "provenit/server/server.h"
#include "verbs.h"

namespace provenit::cli {
namespace {

int serve(const Output& output, const server::ServerOptions& o) {
  stop_on_signals();
  const auto server = server::Server::open(o);
  if (!server) return output.fail(server.error());
  const auto& s = **server;
  std::string text = fmt::format("The workbench: {}\n", s.link());
  if (s.on_network())
    text += fmt::format(
        "It can be reached from the network, over an unencrypted connection: use it where you trust that network.\n"
        "Whoever has this link can do everything that the commands can. Its code, for a telephone or tablet:\n\n{}\n",
        s.link_code());
  text += "Ctrl-C ends it; a run under way stops after its reading and can be resumed.\n";
  output.say(text, {{"link", s.link()}, {"port", s.port()}, {"network", s.on_network()}, {"bench", o.bench}});
  std::fflush(stdout);
  while (!stop_requested()) std::this_thread::sleep_for(std::chrono::milliseconds(100));
  return kDone;
}

}  // namespace

void add_serve(Command& command) {
  const auto o = std::make_shared<server::ServerOptions>();
  o->software = kSoftware;
  auto* verb = add_verb(command, "serve", "the workbench: a local page over the bench, beside the commands",
                        "provenit serve tern.bench\n"
                        "provenit serve tern.bench --address 0.0.0.0    (for a tablet: prints a link and its code)");
  verb->add_option("bench", o->bench, "bench file; the page makes it if it is not there")->required();
  verb->add_option("--port", o->port, "to listen on; 0: a free one")
      ->check(CLI::Range(0, 65535))
      ->capture_default_str();
  verb->add_option("--address", o->address, "to listen on; any but a loopback address opens it to the network")
      ->capture_default_str();
  verb->add_option("--programmes", o->programmes, "folder of films and stills to look at")
      ->check(CLI::ExistingDirectory);
  verb->add_option("--farm", o->farms, "folder of a job of `provenit farm`, to see how far it is; may be repeated")
      ->allow_extra_args(false)
      ->check(CLI::ExistingDirectory);
  verb->callback([&command, o] { command.action = [&command, o] { return serve(command.output, *o); }; });
}

}  // namespace provenit::cli
