#pragma once
// Pictures for the meter's tests: every format, and contents that reach the meter's special paths.
#include <random>
#include <string>
#include <vector>

#include "kernel_picture.h"

namespace provenit::programme::testing {

enum class Content { noise, soft, letterbox, near_black, highlights, flat, saturated, calm };
inline constexpr std::array<Content, 8> kContents{Content::noise,      Content::soft,       Content::letterbox,
                                                  Content::near_black, Content::highlights, Content::flat,
                                                  Content::saturated,  Content::calm};

/// Samples drawn with a fixed seed, of codes that may leave the nominal range.
[[nodiscard]] Picture draw(const PictureFormat& format, Content content, unsigned seed, Layout layout = {});

/// Chroma format and siting, bits, range, transfer, gamut: all pairs of chroma, bits and range, with the rest rotating.
[[nodiscard]] std::vector<PictureFormat> all_formats();

}  // namespace provenit::programme::testing
