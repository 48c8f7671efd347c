// What goes to the page, and what comes back.
#include <fmt/format.h>

#include "provenit/base/text.h"
#include "session.h"

namespace provenit::show {
namespace {

constexpr long long kMostPixels = 64'000'000;
constexpr std::size_t kMostReadBack = 1024;

}  // namespace

Result<std::string> rgba_of(const Frame& frame, signal::RasterSize size) {
  if (size.width < 1 || size.height < 1 || 1LL * size.width * size.height > kMostPixels)
    return fail(ErrorCode::out_of_range,
                fmt::format("a page of {} x {} pixels cannot be served", size.width, size.height));
  const auto rows = frame.draw(size);
  if (!rows) return tl::unexpected(rows.error());
  std::string out;
  out.reserve(4 * static_cast<std::size_t>(size.width) * static_cast<std::size_t>(size.height));
  for (int y = 0; y < size.height; ++y) {
    const auto row = (*rows)(y);
    for (std::size_t i = 0; i + 2 < row.size(); i += 3)
      for (const int code : {int(row[i]), int(row[i + 1]), int(row[i + 2]), 255})
        out.push_back(static_cast<char>(code));
  }
  return out;
}

Result<Answer> answer_from(std::string_view text) {
  const auto json = nlohmann::json::parse(text, nullptr, false);
  const auto bad = [] { return fail(ErrorCode::invalid_input, "this is no answer of the page"); };
  if (!json.is_object()) return bad();
  try {
    Answer a{.page = json.at("page"),
             .number = json.at("number"),
             .size = {json.at("width"), json.at("height")},
             .full_screen = json.at("full_screen"),
             .one_to_one = json.at("one_to_one"),
             .trouble = json.at("trouble")};
    const auto& places = json.at("read_back");
    if (!places.is_array() || places.size() > kMostReadBack) return bad();
    for (const auto& place : places) a.read_back.push_back(place.get<std::array<int, 5>>());
    return a;
  } catch (const nlohmann::json::exception&) {
    return bad();
  }
}

Result<void> check_answer(const Answer& a, const Drawn& drawn, bool full_screen) {
  if (a.size != drawn.size || a.number != drawn.number)
    return fail(ErrorCode::conflict, "the page changed its size while the signal was put up",
                "Leave the window alone.");
  if (full_screen && !a.full_screen)
    return fail(ErrorCode::conflict, "the page is not full screen", "Press Start on the page, which makes it so.");
  if (!a.one_to_one)
    return fail(ErrorCode::conflict, "the pixels of the page are not those of the screen",
                "Set the browser's zoom to 100 %, and the system's scaling of this screen to a whole number.");
  if (a.read_back.empty()) return fail(ErrorCode::io, "the page read nothing back", "Load the page anew.");
  for (const auto& [x, y, r, g, b] : a.read_back) {
    if (x < 0 || y < 0 || x >= drawn.size.width || y >= drawn.size.height)
      return fail(ErrorCode::io, "the page read back a place outside the picture", "Load the page anew.");
    const auto* sent =
        drawn.rgba.data() +
        4 * (static_cast<std::size_t>(y) * static_cast<std::size_t>(drawn.size.width) + static_cast<std::size_t>(x));
    const auto code = [&](int i) { return int(static_cast<unsigned char>(sent[i])); };
    if (code(0) != r || code(1) != g || code(2) != b)
      return fail(ErrorCode::io,
                  fmt::format("the browser changed the codes: {} {} {} sent, {} {} {} drawn at {}, {}", code(0),
                              code(1), code(2), r, g, b, x, y),
                  "Switch off what alters pages (protection against fingerprinting, dark mode, extensions), or use "
                  "another browser.");
  }
  return {};
}

}  // namespace provenit::show
