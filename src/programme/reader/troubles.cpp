#include "reader/troubles.h"

#include <fmt/format.h>

namespace provenit::programme {
namespace {

constexpr std::size_t kMostKinds = 50;  // a broken stream can make up messages without end

bool is_digit(char c) {
  return c >= '0' && c <= '9';
}

bool is_hex(char c) {
  return is_digit(c) || (c >= 'a' && c <= 'f') || (c >= 'A' && c <= 'F');
}

bool is_letter(char c) {
  return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || c == '_';
}

}  // namespace

void Troubles::add(const std::string& kind, const std::string& place) {
  const bool full = kinds_.size() >= kMostKinds && !kinds_.contains(kind);
  const std::string name = full ? "other errors" : kind;
  auto [entry, is_new] = kinds_.try_emplace(name);
  Kind& k = entry->second;
  if (is_new) {
    k.line = lines_.size();
    k.first = place;
    lines_.emplace_back();
  }
  k.last = place;
  ++k.count;
  std::string text = name;
  if (!k.first.empty()) text += " " + k.first;
  if (k.count > 1) text += fmt::format(" ({} times{})", k.count, k.last.empty() ? "" : ", last " + k.last);
  lines_[k.line] = text;
}

std::string kind_of_message(const std::string& message) {
  std::string kind;
  for (std::size_t i = 0; i < message.size() && kind.size() < 120;) {
    const char c = message[i];
    const bool starts_word = i == 0 || !is_letter(message[i - 1]);
    std::size_t end = i;
    while (starts_word && end < message.size() && (is_hex(message[end]) || message[end] == 'x')) ++end;
    bool has_digit = false;
    for (std::size_t j = i; j < end; ++j) has_digit = has_digit || is_digit(message[j]);
    const bool whole_word = end == message.size() || !is_letter(message[end]);
    if (has_digit && whole_word) {
      kind += '#';
      i = end;
    } else {
      if (is_digit(c)) {
        if (kind.empty() || kind.back() != '#') kind += '#';
      } else if (c >= ' ' && c < 127) {
        kind += c;
      } else if (!kind.empty() && kind.back() != ' ') {
        kind += ' ';
      }
      ++i;
    }
  }
  while (!kind.empty() && (kind.back() == ' ' || kind.back() == '.' || kind.back() == '!')) kind.pop_back();
  return kind;
}

}  // namespace provenit::programme
