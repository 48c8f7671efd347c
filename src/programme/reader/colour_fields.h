#pragma once
// From what a file says of its colour (ITU-T H.273 code points) and what the user says, to a PictureFormat. Nothing is
// guessed: docs/reading.md lists every rule.
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "provenit/base/error.h"
#include "provenit/programme/reader.h"

namespace provenit::programme {

/// What one place says. 2 is "unspecified" in H.273 and here.
struct ColourFields {
  std::string where;  ///< "the bitstream", "the container", "the cICP chunk"
  int transfer = 2, primaries = 2, matrix = 2;
  std::optional<colour::Range> range;
  std::optional<int> siting;  ///< H.273 chroma sample location type
};

/// What the decoder delivers, and what its format's own document settles where the file is silent.
struct SampleLayout {
  int width = 0, height = 0, bits = 0;
  bool is_float = false;
  Chroma chroma = Chroma::c420;
  std::optional<Siting> silent_siting;  ///< with its reason, for the notes
  std::string silent_siting_reason;
  std::optional<colour::Range> silent_range;
  std::string silent_range_reason;
};

/// `said` in order of precedence. Notes tell overrides, contradictions and defaults. Errors: invalid_input naming the
/// missing field and its option, unsupported for a code point that has no value here, out_of_range for the peak.
[[nodiscard]] Result<PictureFormat> settle_format(const std::string& path, const SampleLayout& layout,
                                                  std::span<const ColourFields> said, const Interpretation& user,
                                                  std::vector<std::string>& notes);

}  // namespace provenit::programme
