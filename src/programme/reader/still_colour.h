#pragma once
// What still pictures say of their colour, format by format.
#include <OpenImageIO/imageio.h>

#include "provenit/colour/matrix3.h"
#include "reader/colour_fields.h"
#include "reader/png_chunks.h"
#include "reader/stills.h"

namespace provenit::programme {

struct StillColour {
  std::vector<ColourFields> said;
  std::optional<colour::Matrix3<>> to_gamut;  ///< of the samples, to the primaries in `said`
  bool always_full = false;                   ///< the format's document knows no other range
  const char* full_reason = "";
};

/// What own parsers find before a library sees the file.
struct FileFacts {
  std::optional<PngFacts> png;
};
/// Errors: invalid_input for a PNG or DPX that is broken or cut off.
[[nodiscard]] Result<FileFacts> examine_still(const std::string& path, StillKind kind);

/// Notes and static metadata go into `info`. Errors: those of the parsers.
[[nodiscard]] Result<StillColour> still_colour(const std::string& path, StillKind kind, const FileFacts& facts,
                                               const OIIO::ImageSpec& spec, const Interpretation& user,
                                               SourceInfo& info);

}  // namespace provenit::programme
