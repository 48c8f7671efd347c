#include "files/icc.h"

#include <array>
#include <charconv>

#include "provenit/base/text.h"

namespace provenit::correct::icc {
namespace {

constexpr std::size_t kHeaderDate = 24;  ///< dateTimeNumber, ICC.1:2022 7.2.1

/// Year, month, day, hour, minute, second of UTC.
std::array<int, 6> parts_of(Timestamp time) {
  const std::string text = iso8601(time);  // 2026-11-25T09:30:00.123Z
  constexpr std::array<std::size_t, 6> begin{0, 5, 8, 11, 14, 17};
  std::array<int, 6> parts{};
  for (std::size_t i = 0; i < parts.size(); ++i)
    std::from_chars(text.data() + begin[i], text.data() + begin[i] + (i == 0 ? 4 : 2), parts[i]);
  return parts;
}

}  // namespace

Text text_of(const std::string& ascii) {
  Text text(cmsMLUalloc(nullptr, 1));
  cmsMLUsetASCII(text.get(), "en", "US", ascii.c_str());
  return text;
}

std::string string_of(const cmsMLU* text) {
  if (text == nullptr) return {};
  const cmsUInt32Number size = cmsMLUgetASCII(text, "en", "US", nullptr, 0);
  if (size <= 1) return {};
  std::string out(size, '\0');
  cmsMLUgetASCII(text, "en", "US", out.data(), size);
  out.resize(out.find('\0'));
  return out;
}

bool describe(cmsHPROFILE profile, const std::string& title) {
  const Text description = text_of(title.empty() ? "Correction" : title), rights = text_of("No rights reserved");
  return cmsWriteTag(profile, cmsSigProfileDescriptionTag, description.get()) != 0 &&
         cmsWriteTag(profile, cmsSigCopyrightTag, rights.get()) != 0;
}

Result<std::string> bytes_of(cmsHPROFILE profile, Timestamp created) {
  cmsUInt32Number size = 0;
  std::string bytes;
  if (cmsSaveProfileToMem(profile, nullptr, &size) != 0) bytes.resize(size);
  if (bytes.size() < 128 || cmsSaveProfileToMem(profile, bytes.data(), &size) == 0)
    return fail(ErrorCode::invalid_input, "the profile could not be put together", "Write these tables as .clf.");
  const auto parts = parts_of(created);
  for (std::size_t i = 0; i < parts.size(); ++i) {
    bytes[kHeaderDate + 2 * i] = static_cast<char>(parts[i] >> 8);
    bytes[kHeaderDate + 2 * i + 1] = static_cast<char>(parts[i] & 0xFF);
  }
  return bytes;
}

}  // namespace provenit::correct::icc
