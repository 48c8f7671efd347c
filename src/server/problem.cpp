#include <filesystem>

#include "parts.h"

namespace provenit::server {
namespace {

int status_of(ErrorCode code) {
  switch (code) {
    case ErrorCode::invalid_input:
    case ErrorCode::out_of_range:
      return 400;
    case ErrorCode::not_found:
      return 404;
    case ErrorCode::conflict:
    case ErrorCode::cancelled:
      return 409;
    case ErrorCode::unsupported:
      return 422;
    case ErrorCode::timeout:
      return 503;
    case ErrorCode::instrument:
      return 502;
    case ErrorCode::io:
      break;
  }
  return 500;
}

std::string without(std::string text, const std::string& folder) {
  if (folder.empty() || folder == "/") return text;
  for (std::size_t at = text.find(folder + '/'); at != std::string::npos; at = text.find(folder + '/', at))
    text.erase(at, folder.size() + 1);
  return text;
}

}  // namespace

Json problem_json(const Error& error, const std::string& bench_path) {
  const auto folder = std::filesystem::path(bench_path).parent_path().string();
  Json out = {{"code", name_of(error.code)},
              {"message", without(error.message, folder)},
              {"advice", without(error.advice, folder)}};
  Json where = Json::object();
  if (!error.where.file.empty()) where["file"] = std::filesystem::path(error.where.file).filename();
  if (error.where.line > 0) where["line"] = error.where.line;
  if (error.where.frame >= 0) where["frame"] = error.where.frame;
  if (error.where.reading > 0) where["reading"] = error.where.reading;
  if (!error.where.field.empty()) where["field"] = error.where.field;
  if (!where.empty()) out["where"] = std::move(where);
  return out;
}

Answer problem(const Error& error, const std::string& bench_path) {
  // A text in an error may be a piece of a damaged file.
  return {.status = status_of(error.code),
          .type = "application/problem+json",
          .body = problem_json(error, bench_path).dump(-1, ' ', false, Json::error_handler_t::replace)};
}

Answer problem(int status, const std::string& code, const std::string& message, const std::string& advice) {
  const Json body = {{"code", code}, {"message", message}, {"advice", advice}};
  return {.status = status,
          .type = "application/problem+json",
          .body = body.dump(-1, ' ', false, Json::error_handler_t::replace)};
}

}  // namespace provenit::server
