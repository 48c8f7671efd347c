#pragma once
// A test picture on a screen, frame after frame, until somebody leaves or its time is over.
#include <functional>
#include <optional>
#include <string>

#include "provenit/show/screen.h"
#include "provenit/signal/showing.h"
#include "provenit/signal/test_picture.h"

namespace provenit::show {

struct ShowPlan {
  int first = 0;         ///< frame to begin with
  double longest_s = 0;  ///< that one frame stays; 0: until somebody asks
  bool onward = false;   ///< after that time the next frame follows; else black
};
struct ShowHooks {
  /// What somebody wishes, waiting for it at most so long (0: for ever). nullopt: the time is over, or it is to stop.
  std::function<std::optional<Wish>(double longest_s)> next_wish;
  std::function<bool()> stop;
  std::function<void(int frame)> up;  ///< this frame is on the screen
};
struct Shown {
  int frames = 0;
  bool time_over = false;  ///< else somebody left, or it was stopped
};
/// Ends on black unless the viewer left. Errors: those of Screen::show but cancelled.
[[nodiscard]] Result<Shown> carry_on(Screen& screen, const signal::TestPicture& picture, const ShowPlan& plan,
                                     const ShowHooks& hooks);

/// How long one frame may stay if nobody says: what the caution on bright stays allows; 0: as long as one likes.
[[nodiscard]] double longest_stay_s(const signal::ShowingCautions& cautions);

}  // namespace provenit::show
