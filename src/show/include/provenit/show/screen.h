#pragma once
// A screen that shows frames exact to the code value and says when they are up: a page in a browser, or an output of
// this machine. docs/on-screen.md says what each can do.
#include <cstdint>
#include <functional>
#include <optional>
#include <string>
#include <vector>

#include "provenit/base/clock.h"
#include "provenit/base/error.h"
#include "provenit/instrument/instrument.h"
#include "provenit/signal/raster.h"
#include "provenit/signal/signal.h"
#include "provenit/signal/test_picture.h"

namespace provenit::show {

/// Rows of a picture: R', G', B' of each pixel, code values of the encoding's bit depth.
using Rows = std::function<std::vector<std::uint16_t>(int y)>;

/// One picture, drawn when the screen's size is known.
struct Frame {
  signal::Encoding encoding;
  std::string title;                                          ///< for people and screen readers
  std::function<Result<Rows>(signal::RasterSize size)> draw;  ///< may be called from another thread, more than once
};
[[nodiscard]] Frame frame_of(const signal::Signal& signal);
/// Frame `frame` of a test picture that is made anew for the screen's size; request.size does not matter.
[[nodiscard]] Frame frame_of(const signal::PictureRequest& request, int frame);
/// Non-linear signal 0 everywhere.
[[nodiscard]] Frame black_frame(const signal::Encoding& encoding);

enum class Wish { next, previous, leave };

/// Calls are made from one thread.
class Screen {
 public:
  virtual ~Screen() = default;
  /// Whether frames of this encoding can be sent exactly. Errors: unsupported, with what can.
  [[nodiscard]] virtual Result<void> accepts(const signal::Encoding& encoding) const = 0;
  /// Returns when the frame is up. Frames follow each other no faster than signal::kCalmHold_s unless flashing was
  /// confirmed when the screen was opened.
  /// Errors: those of accepts and of drawing; timeout and io with what to do; cancelled if the viewer left.
  [[nodiscard]] virtual Result<void> show(const Frame& frame) = 0;
  /// What the viewer asked for at the screen itself, waiting for it so long; none where it has no keys.
  [[nodiscard]] virtual std::optional<Wish> wish(Seconds wait) = 0;
};

/// Shows the signals of a run. The meter and the modes of the display are somebody else's.
class ScreenPresenter final : public instrument::Presenter {
 public:
  explicit ScreenPresenter(Screen& screen) : screen_(screen) {}
  [[nodiscard]] Result<void> show(const signal::Signal& signal) override { return screen_.show(frame_of(signal)); }

 private:
  Screen& screen_;
};

}  // namespace provenit::show
