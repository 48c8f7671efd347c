#pragma once
// The measurement of one frame: every figure of figures.h from the decoded code values, with SIMD chosen at run time.
#include <memory>
#include <string>
#include <string_view>
#include <vector>

#include "provenit/base/error.h"
#include "provenit/programme/figures.h"
#include "provenit/programme/picture.h"

namespace provenit::programme {

/// Instruction sets this build has and this machine runs, best first, e.g. {"avx3", "avx2", "sse4", ...}.
[[nodiscard]] std::vector<std::string> simd_levels();

/// Prepared for one format. measure may run at once in several threads.
class FrameMeter {
 public:
  /// `simd_level` is one of simd_levels(), or empty for the best. Errors: those of check_format; unsupported for a
  /// level that this machine does not run.
  [[nodiscard]] static Result<FrameMeter> make(const PictureFormat& format, std::string_view simd_level = {});
  /// All figures but temporal_difference, which needs the frame before (title.h). Maxima and minima are those of
  /// pixel_at to the last bit; means within 1e-6 relative of its plain double sum; percentiles within 0.5 %. The result
  /// depends on the picture and the SIMD level alone. Errors: those of check_picture; invalid_input if its format is
  /// not that of make.
  [[nodiscard]] Result<FrameRecord> measure(const Picture& picture) const;
  [[nodiscard]] const PictureFormat& format() const;
  [[nodiscard]] const std::string& simd_level() const;

  FrameMeter(FrameMeter&&) noexcept;
  FrameMeter& operator=(FrameMeter&&) noexcept;
  ~FrameMeter();

 private:
  struct Impl;
  explicit FrameMeter(std::unique_ptr<Impl> impl);
  std::unique_ptr<Impl> impl_;
};

}  // namespace provenit::programme
