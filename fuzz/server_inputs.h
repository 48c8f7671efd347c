#pragma once
// One request as the fuzz target and the corpus have it: "METHOD path?query" on the first line, the body after it.
#include <cstdlib>
#include <string>
#include <string_view>

#include "provenit/server/api.h"

namespace provenit::fuzz {

inline server::Request request_of(std::string_view input) {
  const auto end = std::min(input.find('\n'), input.size());
  const auto line = input.substr(0, end);
  const auto blank = std::min(line.find(' '), line.size());
  auto target = line.substr(std::min(blank + 1, line.size()));
  server::Request request{.method = std::string(line.substr(0, blank))};
  const auto mark = std::min(target.find('?'), target.size());
  request.path = "/api/1" + std::string(target.substr(0, mark));
  target.remove_prefix(std::min(mark + 1, target.size()));
  while (!target.empty()) {
    const auto part = target.substr(0, std::min(target.find('&'), target.size()));
    const auto equals = std::min(part.find('='), part.size());
    request.query[std::string(part.substr(0, equals))] = std::string(part.substr(std::min(equals + 1, part.size())));
    target.remove_prefix(std::min(part.size() + 1, target.size()));
  }
  request.body = std::string(input.substr(std::min(end + 1, input.size())));
  return request;
}

/// Any request gets an answer of 2xx or 4xx with a body.
inline void answers(server::Api& api, const server::Request& request) {
  // A run would go on for minutes; how it is begun is tested elsewhere.
  const bool begins = request.path.ends_with("/run") || request.path.ends_with("/correction");
  if (begins && request.method == "POST" && request.body.find("true") != std::string::npos) return;
  const auto answer = api.handle(request);
  const bool fine = (answer.status >= 200 && answer.status < 300) || (answer.status >= 400 && answer.status < 500);
  if (!fine || answer.body.empty()) std::abort();
}

/// A bench with a simulated display, its meter, a room, a loan and a question.
inline void describe(server::Api& api) {
  for (const char* input :
       {"POST /bench\n{\"title\":\"T\",\"evaluator\":\"E\"}",
        "POST /displays\n{\"name\":\"D\",\"details\":{\"simulated\":\"tern-32\"}}",
        "POST /instruments\n{\"name\":\"M\",\"kind\":\"simulated\"}", "POST /rooms\n{\"name\":\"R\"}",
        "POST /loans\n{\"display\":1,\"instrument\":1,\"room\":1,\"hours\":1}",
        "POST /loans/1/questions\n{\"toml\":\"id = 'a'\\ntitle = 'b'\\nsource = 'c'\\nmark = "
        "'claim'\\n[[question]]\\nquantity = 'peak_luminance'\\nconditions = {window_percent = 10}\\nat_least = "
        "1000\\nunit = 'cd/m2'\"}"})
    if (api.handle(request_of(input)).status != 201) std::abort();
}

}  // namespace provenit::fuzz
