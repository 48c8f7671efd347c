#include "provenit/base/text.h"

#include <fmt/format.h>
#include <openssl/evp.h>

#include <array>
#include <cerrno>
#include <charconv>
#include <chrono>
#include <cmath>
#include <cstdio>
#include <cstring>
#include <filesystem>
#include <fstream>
#include <memory>
#include <sstream>

namespace provenit {

std::string_view trim(std::string_view text) {
  constexpr std::string_view blanks = " \t\r\n\f\v";
  const auto first = text.find_first_not_of(blanks);
  if (first == std::string_view::npos) return {};
  return text.substr(first, text.find_last_not_of(blanks) - first + 1);
}

std::optional<double> parse_double(std::string_view text) {
  text = trim(text);
  // from_chars takes no leading plus, but people and instruments write one ("+1.0E+02").
  if (text.size() > 1 && text.front() == '+' && text[1] != '-' && text[1] != '+') text.remove_prefix(1);
  double value = 0;
  const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), value);
  if (error != std::errc{} || end != text.data() + text.size() || !std::isfinite(value)) return std::nullopt;
  return value;
}

std::optional<long long> parse_integer(std::string_view text) {
  text = trim(text);
  long long value = 0;
  const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), value);
  if (text.empty() || error != std::errc{} || end != text.data() + text.size()) return std::nullopt;
  return value;
}

std::string exact_text(double value) {
  std::array<char, 32> buffer{};
  const auto [end, error] = std::to_chars(buffer.data(), buffer.data() + buffer.size(), value);
  return {buffer.data(), end};
}

std::vector<std::string_view> split(std::string_view text, char separator) {
  std::vector<std::string_view> parts;
  for (;;) {
    const auto at = text.find(separator);
    parts.push_back(text.substr(0, at));
    if (at == std::string_view::npos) return parts;
    text.remove_prefix(at + 1);
  }
}

std::string iso8601(Timestamp time) {
  using namespace std::chrono;
  const auto ms = static_cast<long long>(std::floor(time.unix_s * 1000.0 + 0.5));
  const sys_time<milliseconds> point{milliseconds{ms}};
  const auto day = floor<days>(point);
  const year_month_day date{day};
  const hh_mm_ss clock{point - day};
  return fmt::format("{:04d}-{:02d}-{:02d}T{:02d}:{:02d}:{:02d}.{:03d}Z", static_cast<int>(date.year()),
                     static_cast<unsigned>(date.month()), static_cast<unsigned>(date.day()), clock.hours().count(),
                     clock.minutes().count(), clock.seconds().count(), clock.subseconds().count());
}

Result<Timestamp> parse_iso8601(std::string_view text) {
  const auto bad = [&] {
    return fail(ErrorCode::invalid_input, "'" + std::string(text) + "' is not a date and time",
                "Write it as 2026-11-25T09:30:00Z or with an offset such as +01:00.");
  };
  const auto digits = [&](std::size_t at, std::size_t count) -> int {
    if (at + count > text.size()) return -1;
    int value = 0;
    for (std::size_t i = at; i < at + count; ++i) {
      if (text[i] < '0' || text[i] > '9') return -1;
      value = value * 10 + (text[i] - '0');
    }
    return value;
  };
  if (text.size() < 20 || text[4] != '-' || text[7] != '-' || (text[10] != 'T' && text[10] != ' ') || text[13] != ':' ||
      text[16] != ':')
    return bad();
  const int year = digits(0, 4), month = digits(5, 2), day = digits(8, 2);
  const int hour = digits(11, 2), minute = digits(14, 2), second = digits(17, 2);
  if (year < 0 || month < 1 || day < 1 || hour < 0 || hour > 23 || minute < 0 || minute > 59 || second < 0 ||
      second > 60)
    return bad();
  const std::chrono::year_month_day date{std::chrono::year{year}, std::chrono::month{static_cast<unsigned>(month)},
                                         std::chrono::day{static_cast<unsigned>(day)}};
  if (!date.ok()) return bad();
  std::size_t at = 19;
  double fraction = 0;
  if (text[at] == '.') {
    double scale = 0.1;
    for (++at; at < text.size() && text[at] >= '0' && text[at] <= '9'; ++at, scale /= 10)
      fraction += scale * (text[at] - '0');
  }
  double offset_s = 0;
  if (at < text.size() && text[at] == 'Z' && at + 1 == text.size()) {
    offset_s = 0;
  } else if (at + 6 == text.size() && (text[at] == '+' || text[at] == '-') && text[at + 3] == ':') {
    const int h = digits(at + 1, 2), m = digits(at + 4, 2);
    if (h < 0 || h > 14 || m < 0 || m > 59) return bad();
    offset_s = (text[at] == '+' ? 1 : -1) * (h * 3600 + m * 60);
  } else {
    return bad();
  }
  const auto midnight = 86400.0 * static_cast<double>(std::chrono::sys_days{date}.time_since_epoch().count());
  return Timestamp{midnight + hour * 3600 + minute * 60 + second + fraction - offset_s};
}

Result<std::string> read_file(const std::string& path) {
  std::error_code ec;
  if (std::filesystem::is_directory(path, ec))
    return fail(ErrorCode::io, "is a folder, not a file", "Name a file.", {.file = path});
  std::ifstream in(path, std::ios::binary);
  if (!in)
    return fail(ErrorCode::io, std::string("cannot be opened: ") + std::strerror(errno),
                "Check the name and that you may read it.", {.file = path});
  std::ostringstream bytes;
  bytes << in.rdbuf();
  if (in.bad()) return fail(ErrorCode::io, "reading stopped before the end", "Check the disk.", {.file = path});
  return std::move(bytes).str();
}

Result<void> write_file(const std::string& path, std::string_view bytes) {
  const std::string temporary = path + ".part";
  const auto refuse = [&](const std::string& message, const std::string& advice) {
    std::remove(temporary.c_str());
    return fail(ErrorCode::io, message, advice, {.file = path});
  };
  {
    std::ofstream out(temporary, std::ios::binary | std::ios::trunc);
    out.write(bytes.data(), static_cast<std::streamsize>(bytes.size()));
    out.flush();
    if (!out)
      return refuse(std::string("cannot be written: ") + std::strerror(errno),
                    "Check that the folder exists, that you may write there and that the disk has room.");
  }
  if (std::rename(temporary.c_str(), path.c_str()) != 0)
    return refuse(std::string("cannot be put in place: ") + std::strerror(errno), {});
  return {};
}

std::string sha256_hex(std::string_view bytes) {
  std::array<unsigned char, EVP_MAX_MD_SIZE> digest{};
  unsigned size = 0;
  const std::unique_ptr<EVP_MD_CTX, decltype(&EVP_MD_CTX_free)> context(EVP_MD_CTX_new(), &EVP_MD_CTX_free);
  EVP_DigestInit_ex(context.get(), EVP_sha256(), nullptr);
  EVP_DigestUpdate(context.get(), bytes.data(), bytes.size());
  EVP_DigestFinal_ex(context.get(), digest.data(), &size);
  std::string out;
  for (unsigned i = 0; i < size; ++i) out += fmt::format("{:02x}", digest[i]);
  return out;
}

}  // namespace provenit
