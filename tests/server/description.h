#pragma once
// openapi.json, and what it says of an answer. By valijson.
#include <nlohmann/json.hpp>
#include <string>

namespace provenit::server {

/// Why the JSON is not what the description promises for this request's answer; empty if it is.
[[nodiscard]] std::string against_description(const std::string& method, const std::string& path, int status,
                                              const nlohmann::json& body);
/// The same for the data of an event.
[[nodiscard]] std::string against_event(const std::string& name, const nlohmann::json& data);
/// The same for a request's body.
[[nodiscard]] std::string against_request(const std::string& method, const std::string& path,
                                          const nlohmann::json& body);
/// "GET /api/1/loans/{loan}" and so on, in the order of the file.
[[nodiscard]] std::vector<std::string> described();

}  // namespace provenit::server
