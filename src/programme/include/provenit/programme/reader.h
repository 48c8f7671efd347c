#pragma once
// Pictures out of files, sequences of stills and live inputs. A Reader is used from one thread.
#include <cstdint>
#include <functional>
#include <memory>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "provenit/base/error.h"
#include "provenit/programme/picture.h"

namespace provenit::programme {

/// What the user says about a source. A set field wins over the stream; what neither says is refused, not guessed.
struct Interpretation {
  std::optional<Transfer> transfer;
  std::optional<Gamut> gamut;
  std::optional<Matrix> matrix;
  std::optional<colour::Range> range;
  std::optional<Siting> siting;
  std::optional<double> peak_cdm2;  ///< (0, 100000]
};

inline constexpr const char *kTransferNames = "pq, hlg, bt1886, srgb, linear", *kGamutNames = "bt709, p3_d65, bt2020",
                            *kMatrixNames = "bt601, bt709, bt2020_ncl, rgb", *kRangeNames = "narrow, full",
                            *kSitingNames = "left, centre, top_left, top";

/// An interpretation as people type it; empty or 0 means: as the stream says.
struct InterpretationNames {
  std::string transfer, primaries, matrix, range, siting;
  double peak_cdm2 = 0;
};
/// `prefix` stands before a field's name in errors: "--". Errors: invalid_input naming the field and what it takes;
/// out_of_range for a peak outside (0, 100000].
[[nodiscard]] Result<Interpretation> interpretation_of(const InterpretationNames& names, std::string_view prefix = {});

struct ReaderOptions {
  Interpretation interpretation;
  int threads = 0;           ///< decoder threads; 0: one per core
  double frame_rate_hz = 0;  ///< of a sequence of stills; 0: 24
};

struct SourceInfo {
  std::string path;
  std::string container, codec;  ///< as libav or OpenImageIO name them
  PictureFormat format;
  std::int64_t frame_rate_numerator = 0, frame_rate_denominator = 1;  ///< 0 / 1: unknown or variable
  std::optional<std::int64_t> frames;                                 ///< as the container says; may be wrong
  std::optional<double> duration_s;
  StaticMetadata metadata;
  std::vector<std::string> notes;  ///< what a person should know: an override, a contradiction, dynamic metadata
};

class Reader {
 public:
  virtual ~Reader() = default;
  [[nodiscard]] virtual const SourceInfo& info() const = 0;
  /// The next picture in order of display; nullopt at the end. Pictures that the decoder had to mend, and those that
  /// may refer to them, are marked damaged; packets it threw away are told in `troubles` and leave a hole in the
  /// indices. Errors: io, invalid_input with the frame; cancelled.
  [[nodiscard]] virtual Result<std::optional<Picture>> next() = 0;
  /// What went wrong so far, one line each with frame or byte position, repeated kinds counted instead of listed.
  /// Static metadata that only came with the frames is in info() after the first next().
  [[nodiscard]] virtual const std::vector<std::string>& troubles() const = 0;
};

/// Opens a film, a still, or a sequence of stills: a folder, or a name with #### for the frame number. Stills go
/// through OpenImageIO but for AVIF, whose boxes this reads itself, moving pictures through libav. Errors: not_found;
/// invalid_input if nothing here can decode it; unsupported for a format outside check_format; invalid_input naming the
/// missing field (transfer, primaries, matrix, range, siting) and the option that sets it.
[[nodiscard]] Result<std::unique_ptr<Reader>> open_reader(const std::string& path, const ReaderOptions& options = {});

/// Frames of a source without decoding them: where decoding may begin, and when each is shown.
struct FrameIndex {
  std::int64_t first_pts = 0;            ///< time stamp of the first frame, in the stream's own unit; 0 for stills
  std::vector<double> time_s;            ///< of each frame, in order of display, from the first frame
  std::vector<std::int64_t> key_frames;  ///< indices at which decoding may begin, first is 0; every frame of a sequence
  std::string
      fingerprint;  ///< SHA-256 over size, and sizes, times and kinds of all packets (or names and sizes of stills)
};
/// Reads the packets of the whole file; of the options it uses frame_rate_hz. Errors: those of open_reader; unsupported
/// where the source has no times.
[[nodiscard]] Result<FrameIndex> index_frames(const std::string& path, const ReaderOptions& options = {});

/// A reader for the frames [first, last) of the index, first being one of its key frames. The pictures, indices and
/// times are the same, bit for bit, as those that a reader of the whole gives.
[[nodiscard]] Result<std::unique_ptr<Reader>> open_part(const std::string& path, const FrameIndex& index,
                                                        std::int64_t first, std::int64_t last,
                                                        const ReaderOptions& options = {});

}  // namespace provenit::programme
