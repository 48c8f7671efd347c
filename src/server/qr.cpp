#include "qr.h"

#include <fmt/format.h>
#include <qrencode.h>

#include <memory>

namespace provenit::server {
namespace {

constexpr int kQuiet = 4;

bool is_dark(const QrCode& code, int x, int y) {
  return x >= 0 && y >= 0 && x < code.width && y < code.width &&
         code.dark[static_cast<std::size_t>(y) * static_cast<std::size_t>(code.width) + static_cast<std::size_t>(x)];
}

}  // namespace

Result<QrCode> qr_code(std::string_view text) {
  const std::unique_ptr<QRcode, decltype(&QRcode_free)> made(
      QRcode_encodeString8bit(std::string(text).c_str(), 0, QR_ECLEVEL_M), &QRcode_free);
  if (!made) return fail(ErrorCode::out_of_range, "the link is too long for a QR code");
  QrCode out{.width = made->width};
  for (int i = 0; i < made->width * made->width; ++i) out.dark.push_back((made->data[i] & 1) != 0);
  return out;
}

std::string qr_svg(const QrCode& code) {
  const int size = code.width + 2 * kQuiet;
  std::string path;
  for (int y = 0; y < code.width; ++y)
    for (int x = 0; x < code.width; ++x)
      if (is_dark(code, x, y)) path += fmt::format("M{} {}h1v1h-1z", x + kQuiet, y + kQuiet);
  return fmt::format(
      "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {0} {0}\" shape-rendering=\"crispEdges\" role=\"img\">"
      "<title>Link to this workbench</title><rect width=\"{0}\" height=\"{0}\" fill=\"#fff\"/><path "
      "d=\"{1}\"/></svg>\n",
      size, path);
}

std::string qr_text(const QrCode& code) {
  std::string out;
  for (int y = -kQuiet; y < code.width + kQuiet; y += 2) {
    for (int x = -kQuiet; x < code.width + kQuiet; ++x) {
      const bool upper = !is_dark(code, x, y), lower = !is_dark(code, x, y + 1);
      out += upper && lower ? "\u2588" : upper ? "\u2580" : lower ? "\u2584" : " ";
    }
    out += '\n';
  }
  return out;
}

}  // namespace provenit::server
