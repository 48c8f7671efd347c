#pragma once
// Bytes as text, for what a page carries inside.
#include <string>
#include <string_view>

namespace provenit::report {

/// RFC 4648, clause 4, with padding.
[[nodiscard]] std::string base64(std::string_view bytes);

}  // namespace provenit::report
