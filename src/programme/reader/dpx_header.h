#pragma once
// What a DPX header promises, held against the length of the file: image libraries fill in for what is missing.
// source  SMPTE ST 268-1 (file information and image element headers)
#include "provenit/base/error.h"
#include "reader/big_endian.h"

namespace provenit::programme {

/// Errors: invalid_input if the file is shorter than it says itself, or than its first image element needs.
[[nodiscard]] Result<void> check_dpx_length(Bytes header, std::uint64_t file_size);

/// Bytes of the header that check_dpx_length looks at.
inline constexpr std::size_t kDpxHeader = 2048;

}  // namespace provenit::programme
