#pragma once
// The boxes of an AVIF still that say what its picture is.
// source  ISO/IEC 14496-12 (boxes, items), ISO/IEC 23008-12 (HEIF: item properties), AV1 Image File Format 1.1
#include <optional>
#include <string>
#include <vector>

#include "provenit/base/error.h"
#include "reader/big_endian.h"
#include "reader/colour_fields.h"

namespace provenit::programme {

struct AvifFacts {
  std::uint32_t primary_item = 0;
  std::string item_type;  ///< "av01", or "grid" for a picture in tiles
  std::optional<std::uint32_t> width, height;
  std::vector<int> bits;               ///< of each channel (pixi)
  std::optional<ColourFields> colour;  ///< colr nclx
  bool has_icc = false;
  StaticMetadata metadata;                   ///< clli, mdcv
  std::vector<std::string> transformations;  ///< irot, imir, clap, pasp
};

/// Whether the bytes begin as a file of the AVIF still brands ("avif" in ftyp); "avis" alone is a moving picture.
[[nodiscard]] bool is_avif_still(Bytes file);

/// Properties of the primary item. Errors: invalid_input naming the box that is missing or broken.
[[nodiscard]] Result<AvifFacts> read_avif_boxes(Bytes file);

}  // namespace provenit::programme
