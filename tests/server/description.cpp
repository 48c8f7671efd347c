#include "description.h"

#include <algorithm>
#include <map>
#include <memory>
#include <sstream>
#include <valijson/adapters/nlohmann_json_adapter.hpp>
#include <valijson/schema.hpp>
#include <valijson/schema_parser.hpp>
#include <valijson/validation_results.hpp>
#include <valijson/validator.hpp>

#include "provenit/base/text.h"
#include "provenit/server/api.h"

namespace provenit::server {
namespace {

using nlohmann::json;

const json& document() {
  static const json parsed = json::parse(openapi());
  return parsed;
}

std::string upper(std::string text) {
  std::ranges::transform(text, text.begin(),
                         [](char c) { return c >= 'a' && c <= 'z' ? static_cast<char>(c - 32) : c; });
  return text;
}

/// The described operation that a request's path means.
const json* operation(const std::string& method, const std::string& path) {
  const auto given = split(path, '/');
  for (const auto& [pattern, methods] : document().at("paths").items()) {
    const auto wanted = split(pattern, '/');
    bool same = wanted.size() == given.size();
    for (std::size_t i = 0; same && i < wanted.size(); ++i)
      same = wanted[i].starts_with('{') ? !given[i].empty() : wanted[i] == given[i];
    if (!same) continue;
    for (const auto& [name, described] : methods.items())
      if (upper(name) == method) return &described;
  }
  return nullptr;
}

const valijson::Schema& schema_of(json schema) {
  static std::map<std::string, std::unique_ptr<valijson::Schema>> known;
  auto& found = known[schema.dump()];
  if (!found) {
    schema["components"] = document().at("components");
    found = std::make_unique<valijson::Schema>();
    valijson::SchemaParser parser(valijson::SchemaParser::kDraft7);
    parser.populateSchema(valijson::adapters::NlohmannJsonAdapter(schema), *found);
  }
  return *found;
}

std::string against(const json& schema, const json& body) {
  valijson::Validator validator;
  valijson::ValidationResults results;
  if (validator.validate(schema_of(schema), valijson::adapters::NlohmannJsonAdapter(body), &results)) return {};
  std::ostringstream out;
  for (valijson::ValidationResults::Error error; results.popError(error);) {
    for (const auto& part : error.context) out << part;
    out << ": " << error.description << '\n';
  }
  return out.str() + body.dump().substr(0, 300);
}

}  // namespace

std::string against_description(const std::string& method, const std::string& path, int status, const json& body) {
  const auto* op = operation(method, path);
  if (op == nullptr) return method + " " + path + " is not described";
  const auto& responses = op->at("responses");
  const auto found = responses.find(std::to_string(status));
  if (found == responses.end()) return against(json{{"$ref", "#/components/schemas/Problem"}}, body);
  const auto content = found->find("content");
  if (content == found->end()) return "status " + std::to_string(status) + " has no content in the description";
  const auto& media = content->begin().value();
  return media.contains("schema") ? against(media.at("schema"), body) : std::string();
}

std::string against_event(const std::string& name, const json& data) {
  const auto& events = document().at("components").at("schemas").at("Event").at("properties");
  const auto found = events.find(name);
  return found == events.end() ? "event " + name + " is not described" : against(*found, data);
}

std::string against_request(const std::string& method, const std::string& path, const json& body) {
  const auto* op = operation(method, path);
  if (op == nullptr || !op->contains("requestBody")) return method + " " + path + " takes no body";
  return against(op->at("requestBody").at("content").at("application/json").at("schema"), body);
}

std::vector<std::string> described() {
  std::vector<std::string> out;
  for (const auto& [path, methods] : document().at("paths").items())
    for (const auto& [method, operation] : methods.items()) out.push_back(upper(method) + ' ' + path);
  return out;
}

}  // namespace provenit::server
