#include "provenit/server/server.h"

#include <fmt/format.h>
#include <httplib.h>

#include <atomic>
#include <filesystem>
#include <thread>

#include "page.h"
#include "provenit/server/guards.h"
#include "provenit/store/bench.h"
#include "qr.h"
#include "threads.h"

namespace provenit::server {
namespace {

constexpr std::size_t kMostThreads = 320;
constexpr int kMostStreams = 256;                      // of events at once
constexpr std::chrono::milliseconds kHeartbeat{1000};  // how soon a listener that is gone is noticed
constexpr time_t kRead_s = 10, kWrite_s = 5;           // for a client to send, and to take what it is sent
constexpr std::size_t kLongestPath = 1000;

class Queue final : public httplib::TaskQueue {
 public:
  void enqueue(std::function<void()> work) override { threads_.add(std::move(work)); }
  void shutdown() override { threads_.join(); }

 private:
  Threads threads_{kMostThreads};
};

std::optional<std::string> header(const httplib::Request& request, const char* name) {
  if (!request.has_header(name)) return std::nullopt;
  return request.get_header_value(name);
}

Head head_of(const httplib::Request& request) {
  Head head{.method = request.method, .path = request.path, .target = request.target};
  head.host = header(request, "Host");
  head.hosts = request.get_header_value_count("Host");
  head.origin = header(request, "Origin");
  head.content_type = header(request, "Content-Type");
  head.content_length = header(request, "Content-Length");
  head.transfer_encoding = header(request, "Transfer-Encoding");
  head.cookie = header(request, "Cookie");
  head.authorization = header(request, "Authorization");
  head.fetch_site = header(request, "Sec-Fetch-Site");
  head.mark = header(request, "X-Provenit");
  if (request.has_param("token")) head.token = request.get_param_value("token");
  return head;
}

void send(const Answer& answer, httplib::Response& response) {
  response.status = answer.status;
  if (!answer.save_as.empty())
    response.set_header("Content-Disposition", fmt::format("attachment; filename=\"{}\"", answer.save_as));
  if (!answer.policy.empty()) {
    response.headers.erase("Content-Security-Policy");
    response.set_header("Content-Security-Policy", answer.policy);
    response.headers.erase("X-Frame-Options");
    response.set_header("X-Frame-Options", "SAMEORIGIN");
  }
  response.set_content(answer.body, answer.type);
}

/// A name that a header can hold.
std::string plain(std::string name) {
  for (auto& c : name)
    if (c < 0x20 || c == 0x7f || c == '"' || c == '\\') c = '_';
  return name;
}

}  // namespace

class Server::Impl {
 public:
  explicit Impl(ServerOptions options) : options_(std::move(options)), network_(!is_loopback(options_.address)) {}
  ~Impl() {
    if (api_) api_->events().close();
    http_.stop();
    if (thread_.joinable()) thread_.join();
  }
  Impl(const Impl&) = delete;
  Impl& operator=(const Impl&) = delete;

  Result<void> listen() {
    if (options_.port < 0 || options_.port > 65535)
      return fail(ErrorCode::out_of_range, fmt::format("there is no port {}", options_.port),
                  "Give 1024 to 65535, or 0 for a free one.", {.field = "--port"});
    set_up();
    port_ = options_.port == 0 ? http_.bind_to_any_port(options_.address) : options_.port;
    if (port_ <= 0 || (options_.port != 0 && !http_.bind_to_port(options_.address, options_.port)))
      return fail(ErrorCode::io, fmt::format("port {} of {} cannot be used", options_.port, options_.address),
                  "Another program may hold it: give another with --port, or 0 for a free one.", {.field = "--port"});
    make_entrance();
    api_ = std::make_unique<Api>(ApiOptions{.bench = options_.bench,
                                            .programmes = options_.programmes,
                                            .farms = options_.farms,
                                            .software = options_.software,
                                            .link = link_,
                                            .network = network_});
    thread_ = std::thread([this] { http_.listen_after_bind(); });
    // A server that is told to stop before it has begun would not hear it.
    while (!http_.is_running()) std::this_thread::sleep_for(std::chrono::milliseconds(1));
    return {};
  }

  [[nodiscard]] int port() const { return port_; }
  [[nodiscard]] const std::string& link() const { return link_; }
  [[nodiscard]] bool on_network() const { return network_; }
  [[nodiscard]] Api& api() { return *api_; }

 private:
  void make_entrance() {
    const bool six = options_.address.find(':') != std::string::npos;
    const bool everywhere = options_.address == "0.0.0.0" || options_.address == "::";
    const auto named = fmt::format("{}:{}", six ? '[' + options_.address + ']' : options_.address, port_);
    if (network_) {
      entrance_.hosts = hosts_of_machine(port_);
      entrance_.token = random_token();
    } else {
      for (const char* host : {"127.0.0.1", "localhost", "[::1]"})
        entrance_.hosts.insert(fmt::format("{}:{}", host, port_));
    }
    if (!everywhere) entrance_.hosts.insert(named);
    link_ = fmt::format("http://{}/", everywhere ? fmt::format("{}:{}", reachable_address(), port_) : named);
    if (network_) link_ += "?token=" + entrance_.token;
  }

  void set_up() {
    http_.new_task_queue = [] { return new Queue; };
    http_.set_tcp_nodelay(true);
    // The library's own choice would let a second program share the port.
    http_.set_socket_options([](socket_t socket) {
      const int yes = 1;
      setsockopt(socket, SOL_SOCKET, SO_REUSEADDR, &yes, sizeof yes);
    });
    // One request a connection: what a refused one has sent on can never be read as another.
    http_.set_keep_alive_max_count(1);
    http_.set_read_timeout(kRead_s);
    http_.set_write_timeout(kWrite_s);
    http_.set_payload_max_length(kLargestUpload);
    http_.set_pre_routing_handler([this](const httplib::Request& request, httplib::Response& response) {
      response.set_header("Cache-Control", "no-store");
      response.set_header("X-Content-Type-Options", "nosniff");
      response.set_header("X-Frame-Options", "DENY");
      response.set_header("Referrer-Policy", "no-referrer");
      response.set_header("Cross-Origin-Opener-Policy", "same-origin");
      response.set_header("Cross-Origin-Resource-Policy", "same-origin");
      response.set_header("Content-Security-Policy",
                          "default-src 'self'; img-src 'self' blob: data:; object-src 'none'; frame-ancestors 'none'; "
                          "base-uri 'none'; form-action 'none'");
      if (request.path.size() > kLongestPath) {
        send(problem(414, "too_large", "the path is too long"), response);
        return httplib::Server::HandlerResponse::Handled;
      }
      const auto head = head_of(request);
      const auto no = refused(head, entrance_);
      // A change that is refused is refused once its body has been taken in, or the client would not hear why.
      if (!no || (drains(head) && no->status != 413)) return httplib::Server::HandlerResponse::Unhandled;
      send(*no, response);
      return httplib::Server::HandlerResponse::Handled;
    });
    http_.Get(".*", [this](const auto& request, auto& response) { get(request, response); });
    const auto change = [this](const httplib::Request& request, httplib::Response& response,
                               const httplib::ContentReader& read) { this->change(request, response, read); };
    http_.Post(".*", change);
    http_.Put(".*", change);
    // What the library refuses itself, such as a head it cannot read.
    http_.set_error_handler([](const httplib::Request&, httplib::Response& response) {
      if (response.body.empty())
        send(problem(response.status, "invalid_input", "the request cannot be read"), response);
    });
  }

  static bool drains(const Head& head) {
    return (head.method == "POST" || head.method == "PUT") && head.content_length && !head.transfer_encoding;
  }

  void get(const httplib::Request& request, httplib::Response& response) {
    const auto head = head_of(request);
    if (brings_token(head, entrance_)) {
      response.set_header("Set-Cookie",
                          fmt::format("{}={}; Path=/; HttpOnly; SameSite=Strict", kCookie, entrance_.token));
      // Not a redirection: a browser that came from elsewhere would follow it without the cookie.
      response.set_content("<!doctype html><meta http-equiv=\"refresh\" content=\"0;url=/\"><title>Provenit</title>",
                           "text/html; charset=utf-8");
      return;
    }
    if (request.path == "/api/1/events" && request.method == "GET") return stream(request, response);
    if (request.path.starts_with("/api/")) {
      auto answer = api_->handle(as_request(request));
      answer.save_as = plain(answer.save_as);
      return send(answer, response);
    }
    const auto file = page_file(request.path);
    if (file) {
      if (file->lasting) {
        response.headers.erase("Cache-Control");
        response.set_header("Cache-Control", "max-age=31536000, immutable");
      }
      response.set_content(std::string(file->bytes), std::string(file->type));
    } else if (request.path == "/") {
      response.set_content(std::string(no_page()), "text/plain; charset=utf-8");
    } else {
      send(problem(404, "not_found", "there is no such path"), response);
    }
  }

  void change(const httplib::Request& request, httplib::Response& response, const httplib::ContentReader& read) {
    auto no = refused(head_of(request), entrance_);
    auto asked = as_request(request);
    asked.body.clear();
    const bool whole = read([&](const char* bytes, std::size_t count) {
      if (!no) asked.body.append(bytes, count);
      return asked.body.size() <= kLargestUpload;
    });
    if (no) return send(*no, response);
    if (!whole) return send(problem(400, "invalid_input", "the body ended early"), response);
    send(api_->handle(asked), response);
  }

  static Request as_request(const httplib::Request& request) {
    Request out{.method = request.method == "HEAD" ? "GET" : request.method, .path = request.path};
    for (const auto& [name, value] : request.params) out.query.emplace(name, value);
    return out;
  }

  void stream(const httplib::Request& request, httplib::Response& response) {
    auto last = header(request, "Last-Event-ID").value_or(request.get_param_value("last"));
    if (last.size() > 64) return send(problem(400, "invalid_input", "this is no event's id"), response);
    if (streams_.fetch_add(1) >= kMostStreams) {
      streams_.fetch_sub(1);
      return send(problem(429, "too_many", "too many pages listen already", "Close some, then try again."), response);
    }
    auto& hub = api_->events();
    response.set_chunked_content_provider(
        "text/event-stream",
        [&hub, place = hub.place(last)](std::size_t, httplib::DataSink& sink) mutable {
          auto text = hub.next(place, kHeartbeat);
          if (!text) {
            sink.done();
            return true;
          }
          if (text->empty()) *text = ":\n\n";
          return sink.write(text->data(), text->size());
        },
        [this](bool) { streams_.fetch_sub(1); });
  }

  const ServerOptions options_;
  const bool network_;
  int port_ = 0;
  std::string link_;
  Entrance entrance_;
  std::unique_ptr<Api> api_;
  std::atomic<int> streams_{0};
  httplib::Server http_;
  std::thread thread_;
};

Server::Server(std::unique_ptr<Impl> impl) : impl_(std::move(impl)) {}
Server::~Server() = default;

Result<std::unique_ptr<Server>> Server::open(const ServerOptions& options) {
  std::error_code ec;
  const std::filesystem::path bench(options.bench), folder = bench.parent_path();
  if (!folder.empty() && !std::filesystem::is_directory(folder, ec))
    return fail(ErrorCode::not_found, "there is no such folder", "Make it first.", {.file = folder.string()});
  if (std::filesystem::exists(bench, ec))
    if (const auto opened = store::Bench::open(options.bench); !opened) return tl::unexpected(opened.error());
  auto impl = std::make_unique<Impl>(options);
  if (auto listens = impl->listen(); !listens) return tl::unexpected(listens.error());
  return std::unique_ptr<Server>(new Server(std::move(impl)));
}

int Server::port() const {
  return impl_->port();
}

const std::string& Server::link() const {
  return impl_->link();
}

bool Server::on_network() const {
  return impl_->on_network();
}

std::string Server::link_code() const {
  const auto code = qr_code(link());
  return code ? qr_text(*code) : std::string();
}

Api& Server::api() {
  return impl_->api();
}

}  // namespace provenit::server
