#pragma once
// Still pictures and sequences of them.
#include <string>
#include <vector>

#include "provenit/programme/reader.h"

namespace provenit::programme {

enum class StillKind { none, tiff, png, dpx, openexr, radiance, avif };

/// By the first bytes of the file. none: not one of these, or not readable.
[[nodiscard]] StillKind still_kind_of(const std::string& path);

struct Still {
  SourceInfo info;
  Picture picture;
  std::vector<std::string> remarks;  ///< about the samples of this very picture, e.g. how many are NaN
};

/// TIFF, PNG, DPX, OpenEXR, Radiance by OpenImageIO. Errors: as open_reader.
[[nodiscard]] Result<Still> read_still(const std::string& path, StillKind kind, const ReaderOptions& options);
/// AVIF: boxes by isobmff.h, picture by libav.
[[nodiscard]] Result<Still> read_avif(const std::string& path, const ReaderOptions& options);

/// Files of a sequence, in order. `pattern` is a folder, or a name with #### for the number. Errors: not_found;
/// invalid_input naming a gap, a file without number, or several sequences in one folder.
[[nodiscard]] Result<std::vector<std::string>> sequence_files(const std::string& pattern);
[[nodiscard]] bool is_sequence(const std::string& path);

[[nodiscard]] FrameIndex index_stills(const std::vector<std::string>& files, double rate_hz);

/// Frames [first, last) of these files as pictures, `first` with the index `first`.
[[nodiscard]] Result<std::unique_ptr<Reader>> open_stills(const std::string& path, std::vector<std::string> files,
                                                          std::int64_t first, std::int64_t last,
                                                          const ReaderOptions& options);

}  // namespace provenit::programme
