#include "provenit/server/api.h"

#include <fmt/format.h>

#include <array>
#include <chrono>
#include <random>

#include "parts.h"
#include "provenit/base/text.h"
#include "server_assets.h"

namespace provenit::server {
namespace {

constexpr std::string_view kRoot = "/api/1";

std::string session_id() {
  std::random_device random;
  return fmt::format("{:08x}{:08x}", random(), random());
}

template <class F>
void for_each_route(F visit) {
  for (const auto routes :
       {server_routes(), bench_routes(), describe_routes(), loan_routes(), run_routes(), finding_routes(),
        compare_routes(), file_routes(), programme_routes(), farm_routes(), picture_routes(), correction_routes(),
        signal_routes(), signal_file_routes(), forecast_routes()})
    for (const auto& route : routes) visit(route);
}

struct Match {
  std::vector<store::Id> numbers;
  std::string word;
};

/// A part in braces stands for a number, or for "{set}" a word.
std::optional<Match> match(std::string_view pattern, std::string_view path) {
  const auto wanted = split(pattern, '/'), given = split(path, '/');
  if (wanted.size() != given.size()) return std::nullopt;
  Match out;
  for (std::size_t i = 0; i < wanted.size(); ++i) {
    if (!wanted[i].starts_with('{')) {
      if (wanted[i] != given[i]) return std::nullopt;
    } else if (wanted[i] == "{set}") {
      out.word = given[i];
    } else {
      const auto number = parse_integer(given[i]);
      if (!number || *number < 1) return std::nullopt;
      out.numbers.push_back(*number);
    }
  }
  return out;
}

struct Found {
  const Route* route = nullptr;
  Match match;
  bool other_method = false;  // the path is there, for another method
};

Found find(std::string_view method, std::string_view path) {
  Found found;
  if (!path.starts_with(kRoot)) return found;
  path.remove_prefix(kRoot.size());
  for_each_route([&](const Route& route) {
    if (found.route != nullptr) return;
    auto matched = match(route.path, path);
    if (!matched) return;
    if (method != route.method) {
      found.other_method = true;
      return;
    }
    found.route = &route;
    found.match = std::move(*matched);
  });
  return found;
}

}  // namespace

Api::Parts::Parts(ApiOptions given)
    : options(std::move(given)),
      pool(options.bench),
      hub(session_id()),
      watcher(options.bench, hub),
      programmes(options.programmes),
      survey_job(options.bench, options.software, hub),
      show_job(hub),
      clip_job(options.bench, hub),
      runs(options.bench, options.software, hub, watcher) {}

void Api::Parts::changed(const char* what, store::Id loan) {
  watcher.expect_own();
  hub.publish("changed",
              Json{{"what", what}, {"loan", loan == 0 ? Json(nullptr) : Json(loan)}, {"by", "server"}}.dump());
}

Api::Api(ApiOptions options) : parts_(std::make_unique<Parts>(std::move(options))) {}

Api::~Api() {
  parts_->hub.close();
}

EventHub& Api::events() {
  return parts_->hub;
}

std::vector<std::string> Api::served() {
  std::vector<std::string> out;
  for_each_route([&](const Route& route) { out.push_back(fmt::format("{} {}{}", route.method, kRoot, route.path)); });
  return out;
}

std::optional<BodyKind> Api::body_of(std::string_view method, std::string_view path) {
  const auto found = find(method, path);
  return found.route != nullptr ? found.route->body : std::nullopt;
}

Answer Api::handle(const Request& request) {
  const auto found = find(request.method, request.path);
  if (found.other_method && found.route == nullptr)
    return problem(405, "wrong_method", request.method + " is not served here");
  if (found.route == nullptr) return problem(404, "not_found", "there is no such path");
  try {
    const Call call{*parts_, request, found.match.numbers, found.match.word};
    auto answer = found.route->handler(call);
    if (answer) return std::move(*answer);
    return problem(answer.error(), parts_->options.bench);
  } catch (const std::exception& e) {  // only what ends the request arrives here, such as no memory
    return problem({ErrorCode::io, e.what(), "Try again; what was stored before is kept.", {}}, parts_->options.bench);
  }
}

std::string_view openapi() {
  return find_server_asset("/openapi.json");
}

Answer json_answer(const Json& body, int status) {
  return {.status = status, .body = body.dump(-1, ' ', false, Json::error_handler_t::replace)};
}

Result<OpenLoan> open_loan(const Call& call) {
  auto bench = call.parts.pool.take();
  if (!bench) return tl::unexpected(bench.error());
  auto loan = (*bench)->loan(call.loan());
  if (!loan) return tl::unexpected(loan.error());
  return OpenLoan{std::move(*bench), std::move(*loan)};
}

Result<std::optional<std::int64_t>> query_integer(const Request& request, const std::string& name, std::int64_t least,
                                                  std::int64_t most) {
  const auto given = request.query.find(name);
  if (given == request.query.end()) return std::nullopt;
  const auto value = parse_integer(given->second);
  if (value && *value >= least && *value <= most) return *value;
  return fail(ErrorCode::invalid_input, fmt::format("a whole number from {} to {} is needed here", least, most), {},
              {.field = name});
}

Result<std::optional<double>> query_number(const Request& request, const std::string& name, double above, double most) {
  const auto given = request.query.find(name);
  if (given == request.query.end()) return std::nullopt;
  const auto value = parse_double(given->second);
  if (value && *value > above && *value <= most) return *value;
  return fail(ErrorCode::invalid_input, fmt::format("a number above {} and up to {} is needed here", above, most), {},
              {.field = name});
}

Result<std::string> query_text(const Request& request, const std::string& name, std::size_t longest) {
  const auto given = request.query.find(name);
  if (given == request.query.end()) return std::string();
  const bool whole = given->second.size() <= longest && given->second.find('\0') == std::string::npos;
  if (whole) return given->second;
  return fail(ErrorCode::invalid_input, fmt::format("is longer than {} bytes, or holds a zero byte", longest), {},
              {.field = name});
}

Timestamp machine_time() {
  const auto since_epoch = std::chrono::system_clock::now().time_since_epoch();
  return {std::chrono::duration<double>(since_epoch).count()};
}

}  // namespace provenit::server
