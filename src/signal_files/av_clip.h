#pragma once
// One clip on its way into a file: libav's encoder and muxer.
#include <memory>
#include <optional>
#include <string>

#include "clip_planes.h"
#include "part_file.h"

namespace provenit::signal {

/// What the file says of light; not there: nothing.
struct ClipLight {
  MasteringDisplay mastering;
  int maxcll_cdm2 = 0, maxfall_cdm2 = 0;
};

/// Video frames go in one after another, then finish(). The file is `file`'s part; it stays a part.
class AvClip {
 public:
  /// container: "mp4", "mov" or "matroska". Errors: unsupported; io with the path.
  [[nodiscard]] static Result<AvClip> open(const FrameSource& source, const ClipFormat& format,
                                           const std::optional<ClipLight>& light, const std::string& container,
                                           const PartFile& file);
  /// Whether it needs no planes of this picture any more: its key frame is kept, to stand for every further one.
  [[nodiscard]] bool knows(int picture) const;
  /// The picture of the coming video frames, one it knows.
  void show(int picture);
  /// The same with a new one's planes.
  [[nodiscard]] Result<void> show(int picture, const ClipPlanes& planes);
  /// One more video frame with that picture.
  [[nodiscard]] Result<void> add_frame(bool key);
  [[nodiscard]] Result<void> finish();

  AvClip(AvClip&&) noexcept;
  AvClip& operator=(AvClip&&) noexcept;
  ~AvClip();

 private:
  struct Impl;
  explicit AvClip(std::unique_ptr<Impl> impl);
  std::unique_ptr<Impl> impl_;
};

/// Whether this machine's encoder takes the layout. Errors: unsupported with what would do.
[[nodiscard]] Result<void> check_encoder(const Encoding& encoding, const ClipFormat& format);

}  // namespace provenit::signal
