#pragma once
// Requests in, answers out, as values: what the socket (server.h) and tests call alike. The interface itself is written
// down in openapi.json.
#include <map>
#include <memory>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "provenit/base/clock.h"
#include "provenit/base/error.h"
#include "provenit/server/events.h"

namespace provenit::server {

struct ApiOptions {
  std::string bench;               ///< path of the bench file; it need not be there yet
  std::string programmes;          ///< folder of films and stills that may be looked at; empty: none
  std::vector<std::string> farms;  ///< folders of jobs (farm/job.h) whose progress is told
  std::string software;            ///< "provenit 0.1.0": kept with what is computed
  std::string link;                ///< what other devices open; with the token, where there is one
  bool network = false;            ///< other machines can reach the server
};

struct Request {
  std::string method;  ///< "GET", "POST", "PUT"
  std::string path;    ///< decoded, without the query
  std::map<std::string, std::string> query;
  std::string body;
};

struct Answer {
  int status = 200;
  std::string type = "application/json";
  std::string body;
  std::string save_as;  ///< file name to save it under; empty: shown in place
  std::string policy;   ///< its own content security policy; empty: the page's
};

/// How large a request's body may be.
constexpr std::size_t kLargestBody = 1 << 20;     ///< of JSON
constexpr std::size_t kLargestUpload = 64 << 20;  ///< of a file

/// What a request to this method and path may carry; nullopt: there is no such path, or it takes no body.
enum class BodyKind { json, file };

/// The bench, its one run at a time, and the events of both. Calls may come from any thread at once.
class Api {
 public:
  explicit Api(ApiOptions options);
  ~Api();  ///< a run under way stops after the reading in flight; it can be resumed

  /// Never throws; whatever cannot be done is an answer with a Problem as its body.
  [[nodiscard]] Answer handle(const Request& request);
  [[nodiscard]] static std::optional<BodyKind> body_of(std::string_view method, std::string_view path);
  [[nodiscard]] EventHub& events();

  /// The paths that are served, as in openapi.json: "GET /api/1/loans/{loan}".
  [[nodiscard]] static std::vector<std::string> served();

  struct Parts;  ///< for the routes

 private:
  std::unique_ptr<Parts> parts_;
};

/// An error as application/problem+json: code, message, advice, where; paths in the bench's
/// folder cut to names.
[[nodiscard]] Answer problem(const Error& error, const std::string& bench_path = {});
/// The same for a refusal that has no ErrorCode: "forbidden", "no_token", "wrong_method", "too_large", ...
[[nodiscard]] Answer problem(int status, const std::string& code, const std::string& message,
                             const std::string& advice = {});

/// openapi.json of this build.
[[nodiscard]] std::string_view openapi();

}  // namespace provenit::server
