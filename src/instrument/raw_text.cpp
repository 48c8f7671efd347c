#include "provenit/instrument/raw_text.h"

#include <fmt/format.h>

namespace provenit::instrument {
namespace {

/// Length of the well-formed sequence at the front, 0 if there is none.
std::size_t sequence_length(std::string_view bytes) {
  const auto at = [&](std::size_t i) { return i < bytes.size() ? static_cast<unsigned char>(bytes[i]) : 0U; };
  const auto tail = [&](std::size_t i) { return (at(i) & 0xC0U) == 0x80U; };
  const unsigned lead = at(0), second = at(1);
  if (lead > 0 && lead < 0x80) return 1;
  if (lead >= 0xC2 && lead <= 0xDF) return tail(1) ? 2 : 0;
  if (lead >= 0xE0 && lead <= 0xEF) {
    const bool overlong = lead == 0xE0 && second < 0xA0, surrogate = lead == 0xED && second >= 0xA0;
    return tail(1) && tail(2) && !overlong && !surrogate ? 3 : 0;
  }
  if (lead >= 0xF0 && lead <= 0xF4) {
    const bool overlong = lead == 0xF0 && second < 0x90, beyond = lead == 0xF4 && second >= 0x90;
    return tail(1) && tail(2) && tail(3) && !overlong && !beyond ? 4 : 0;
  }
  return 0;
}

}  // namespace

std::string escaped(std::string_view bytes) {
  std::string out;
  out.reserve(bytes.size());
  for (const char c : bytes) {
    const auto byte = static_cast<unsigned char>(c);
    if (c == '\n')
      out += "\\n";
    else if (c == '\r')
      out += "\\r";
    else if (c == '\t')
      out += "\\t";
    else if (c == '\\')
      out += "\\\\";
    else if (byte < 0x20 || byte > 0x7e)
      out += fmt::format("\\x{:02X}", byte);
    else
      out += c;
  }
  return out;
}

bool is_utf8(std::string_view bytes) {
  while (!bytes.empty()) {
    const auto length = sequence_length(bytes);
    if (length == 0) return false;
    bytes.remove_prefix(length);
  }
  return true;
}

}  // namespace provenit::instrument
