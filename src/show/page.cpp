#include "provenit/show/page.h"

#include <fmt/format.h>
#include <httplib.h>

#include <random>
#include <thread>

#include "provenit/base/text.h"
#include "session.h"
#include "show_assets.h"

namespace provenit::show {
namespace {

constexpr double kHeartbeat_s = 0.25;  // how soon a page that is gone is noticed
constexpr std::size_t kLongestBody = 1 << 16;

std::string random_key() {
  std::random_device random;
  return fmt::format("{:08x}{:08x}{:08x}{:08x}", random(), random(), random(), random());
}

std::optional<int> number_of(const httplib::Request& request, const char* name) {
  const auto value = parse_integer(request.get_param_value(name));
  if (!value || *value < 1 || *value > 1'000'000'000) return std::nullopt;
  return static_cast<int>(*value);
}

}  // namespace

class Page::Server {
 public:
  explicit Server(PageOptions options) : session(std::move(options)) {}
  ~Server() {
    session.close();
    http_.stop();
    if (thread_.joinable()) thread_.join();
  }
  Server(const Server&) = delete;
  Server& operator=(const Server&) = delete;

  Result<void> listen() {
    const int wanted = session.options().port;
    if (wanted < 0 || wanted > 65535)
      return fail(ErrorCode::out_of_range, fmt::format("there is no port {}", wanted), "Give 1024 to 65535, or none.",
                  {.field = "--port"});
    http_.set_tcp_nodelay(true);
    // The library's own choice would let a second program share the port.
    http_.set_socket_options([](socket_t socket) {
      const int yes = 1;
      setsockopt(socket, SOL_SOCKET, SO_REUSEADDR, &yes, sizeof yes);
    });
    http_.set_payload_max_length(kLongestBody);
    route();
    port_ = wanted == 0 ? http_.bind_to_any_port("127.0.0.1") : wanted;
    if (port_ <= 0 || (wanted != 0 && !http_.bind_to_port("127.0.0.1", wanted)))
      return fail(ErrorCode::io, fmt::format("port {} of this machine cannot be used", wanted),
                  "Another program may hold it: give another, or none for a free one.", {.field = "--port"});
    session.set_address(fmt::format("http://127.0.0.1:{}{}", port_, root_));
    thread_ = std::thread([this] { http_.listen_after_bind(); });
    // A server that is told to stop before it has begun would not hear it.
    while (!http_.is_running()) std::this_thread::sleep_for(std::chrono::milliseconds(1));
    return {};
  }

  Session session;

 private:
  /// Only a request that names this machine as host comes from a page served here: a page from elsewhere whose name was
  /// made to point here has another. The same goes for Origin.
  [[nodiscard]] bool from_here(const httplib::Request& request) const {
    const auto host = request.get_header_value("Host");
    if (host != fmt::format("127.0.0.1:{}", port_) && host != fmt::format("localhost:{}", port_)) return false;
    return !request.has_header("Origin") || request.get_header_value("Origin") == "http://" + host;
  }

  void route() {
    http_.set_pre_routing_handler([this](const httplib::Request& request, httplib::Response& response) {
      response.set_header("Cache-Control", "no-store");
      response.set_header("X-Content-Type-Options", "nosniff");
      response.set_header("Referrer-Policy", "no-referrer");
      response.set_header("Cross-Origin-Resource-Policy", "same-origin");
      response.set_header("Content-Security-Policy",
                          "default-src 'none'; script-src 'self'; style-src 'self'; "
                          "connect-src 'self'; frame-ancestors 'none'; base-uri 'none'");
      if (from_here(request)) return httplib::Server::HandlerResponse::Unhandled;
      response.status = 403;
      response.set_content("This page is served to this machine alone.\n", "text/plain");
      return httplib::Server::HandlerResponse::Handled;
    });
    const auto file = [this](const char* at, const char* name, const char* type) {
      http_.Get(root_ + at, [name, type](const httplib::Request&, httplib::Response& response) {
        response.set_content(std::string(find_show_asset(name)), type);
      });
    };
    file("", "/page.html", "text/html; charset=utf-8");
    file("page.css", "/page.css", "text/css");
    file("page.js", "/page.js", "text/javascript");
    http_.Get(root_ + "cautions", [this](const httplib::Request&, httplib::Response& response) {
      response.set_content(nlohmann::json(session.options().cautions).dump(), "application/json");
    });
    http_.Get(root_ + "events", [this](const auto& request, auto& response) { events(request, response); });
    http_.Get(root_ + "frame", [this](const auto& request, auto& response) { frame(request, response); });
    http_.Post(root_ + "up", [this](const auto& request, auto& response) {
      const auto answer = answer_from(request.body);
      if (answer) session.answer(*answer);
      response.status = answer ? 204 : 400;
    });
    const auto told = [this](const char* what, auto tell) {
      http_.Post(root_ + what, [this, tell](const httplib::Request& request, httplib::Response& response) {
        tell(session, request.get_param_value("page"));
        response.status = 204;
      });
    };
    told("start", [](Session& s, const std::string& page) { s.start(page); });
    told("leave", [](Session& s, const std::string& page) { s.leave(page); });
    told("closed", [](Session& s, const std::string& page) { s.disconnect(page); });
    told("next", [](Session& s, const std::string& page) { s.ask(page, Wish::next); });
    told("previous", [](Session& s, const std::string& page) { s.ask(page, Wish::previous); });
  }

  void events(const httplib::Request& request, httplib::Response& response) {
    const auto page = request.get_param_value("page");
    if (page.empty() || page.size() > 64) {
      response.status = 400;
      return;
    }
    session.connect(page);
    response.set_chunked_content_provider(
        "text/event-stream",
        [this, page, known = std::uint64_t{0}](std::size_t, httplib::DataSink& sink) mutable {
          const auto event = session.next_event(page, known, {kHeartbeat_s});
          std::string text = ":\n\n";
          if (!event) text = "event: over\ndata: {}\n\n";
          if (event && !event->is_null()) {
            known = event->at("number");
            text = "data: " + event->dump() + "\n\n";
          }
          if (!sink.write(text.data(), text.size())) return false;
          if (!event) sink.done();
          return true;
        },
        [this, page](bool) { session.disconnect(page); });
  }

  void frame(const httplib::Request& request, httplib::Response& response) {
    const auto number = number_of(request, "number"), width = number_of(request, "width"),
               height = number_of(request, "height");
    if (!number || !width || !height) {
      response.status = 400;
      return;
    }
    const auto drawn = session.drawn(static_cast<std::uint64_t>(*number), {*width, *height});
    if (!drawn) {
      response.status = drawn.error().code == ErrorCode::not_found ? 404 : 500;
      response.set_content(drawn.error().text(), "text/plain");
      return;
    }
    response.set_content((*drawn)->rgba, "application/octet-stream");
  }

  httplib::Server http_;
  const std::string root_ = "/" + random_key() + "/";
  int port_ = 0;
  std::thread thread_;
};

Page::Page(std::unique_ptr<Server> server) : server_(std::move(server)) {}
Page::~Page() = default;

Result<std::unique_ptr<Page>> Page::open(PageOptions options) {
  auto server = std::make_unique<Server>(std::move(options));
  if (auto listens = server->listen(); !listens) return tl::unexpected(listens.error());
  return std::unique_ptr<Page>(new Page(std::move(server)));
}

const std::string& Page::address() const {
  return server_->session.address();
}

void Page::set_stop(std::function<bool()> stop_requested) {
  server_->session.set_stop(std::move(stop_requested));
}

Result<void> Page::accepts(const signal::Encoding& encoding) const {
  if (encoding.transfer == signal::Transfer::bt1886 && encoding.bits == 8 && encoding.range == signal::Range::full)
    return signal::validate(encoding);
  return fail(ErrorCode::unsupported, "a page sends BT.1886 codes of 8 bits, full range, and no others",
              "Give the signal such an encoding (and set the display to full range), or use the direct output, or a "
              "player.");
}

Result<void> Page::show(const Frame& frame) {
  if (auto accepted = accepts(frame.encoding); !accepted) return accepted;
  return server_->session.show(frame);
}

std::optional<Wish> Page::wish(Seconds wait) {
  return server_->session.wish(wait);
}

signal::RasterSize Page::size() const {
  return server_->session.size();
}

}  // namespace provenit::show
