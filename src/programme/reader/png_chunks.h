#pragma once
// What a PNG says of its colour: chunks that image libraries of today do not hand on.
// source  W3C, Portable Network Graphics (PNG) Specification (Third Edition), 11.3.2 (colour space information)
#include <optional>
#include <string>
#include <vector>

#include "provenit/base/error.h"
#include "reader/big_endian.h"
#include "reader/colour_fields.h"

namespace provenit::programme {

struct PngFacts {
  std::uint32_t width = 0, height = 0;
  int bits = 0, colour_type = 0;
  std::optional<ColourFields> cicp;
  bool has_srgb = false, has_icc = false;
  std::optional<double> gamma;  ///< as the file has it: 0.45455 for a display gamma of 2.2
  bool has_chromaticities = false;
  std::vector<int> significant_bits;  ///< sBIT
  StaticMetadata metadata;
  std::vector<std::string> problems;  ///< chunks that are broken or contradict each other: not used
};

/// Chunks before the picture data; of the data, that it is whole and agrees with its check sums, so that libpng has
/// nothing to complain of. Errors: invalid_input for bytes that are no PNG, end early or fail a check sum.
[[nodiscard]] Result<PngFacts> read_png_chunks(Bytes file);

/// The colour fields that count: cICP, else sRGB; nothing for iCCP or gAMA alone, with a note why.
[[nodiscard]] std::optional<ColourFields> fields_of(const PngFacts& facts, std::vector<std::string>& notes);

}  // namespace provenit::programme
