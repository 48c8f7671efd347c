#include "provenit/base/error.h"

namespace provenit {

std::string Error::text() const {
  std::string out = where.file;
  if (where.line > 0) out += (out.empty() ? "line " : ":") + std::to_string(where.line);
  const auto add = [&out](const std::string& part) { out += (out.empty() ? "" : " ") + part; };
  if (where.frame >= 0) add("frame " + std::to_string(where.frame));
  if (where.reading >= 0) add("reading " + std::to_string(where.reading));
  if (!where.field.empty()) add("(" + where.field + ")");
  if (!out.empty()) out += ": ";
  out += message;
  if (!advice.empty()) {
    if (!out.empty() && out.back() != '.' && out.back() != '?') out += '.';
    out += ' ' + advice;
  }
  return out;
}

const char* name_of(ErrorCode code) {
  switch (code) {
    case ErrorCode::invalid_input:
      return "invalid_input";
    case ErrorCode::out_of_range:
      return "out_of_range";
    case ErrorCode::not_found:
      return "not_found";
    case ErrorCode::conflict:
      return "conflict";
    case ErrorCode::io:
      return "io";
    case ErrorCode::timeout:
      return "timeout";
    case ErrorCode::instrument:
      return "instrument";
    case ErrorCode::unsupported:
      return "unsupported";
    case ErrorCode::cancelled:
      return "cancelled";
  }
  return "unknown";
}

}  // namespace provenit
