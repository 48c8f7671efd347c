#pragma once
// Bytes from outside as text that is safe to print and to store.
#include <string>
#include <string_view>

namespace provenit::instrument {

/// Printable ASCII as it is, a backslash doubled, everything else as \n, \r, \t or \xNN: nothing of the bytes is lost.
[[nodiscard]] std::string escaped(std::string_view bytes);
/// Well-formed UTF-8 (Unicode 15, table 3-7: no overlong forms, surrogates or values above U+10FFFF) without NUL.
[[nodiscard]] bool is_utf8(std::string_view bytes);

}  // namespace provenit::instrument
