#pragma once
// A link as a code that a telephone reads: QR, ISO/IEC 18004, made by libqrencode.
#include <string>
#include <string_view>
#include <vector>

#include "provenit/base/error.h"

namespace provenit::server {

struct QrCode {
  int width = 0;
  std::vector<bool> dark;  ///< row by row, without the quiet zone
};
/// Errors: out_of_range if the text is longer than a code holds.
[[nodiscard]] Result<QrCode> qr_code(std::string_view text);
/// Black on white, with the quiet zone of four modules.
[[nodiscard]] std::string qr_svg(const QrCode& code);
/// For a terminal: two rows of modules a line, light modules as blocks, with the quiet zone.
[[nodiscard]] std::string qr_text(const QrCode& code);

}  // namespace provenit::server
