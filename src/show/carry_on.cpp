#include "provenit/show/carry_on.h"

namespace provenit::show {

Result<Shown> carry_on(Screen& screen, const signal::TestPicture& picture, const ShowPlan& plan,
                       const ShowHooks& hooks) {
  Shown shown;
  const auto& request = picture.request();
  const int count = picture.frames();
  bool left = false;
  Result<void> up;
  for (int frame = plan.first;;) {
    up = screen.show(frame_of(request, frame));
    if (!up) break;
    ++shown.frames;
    hooks.up(frame);
    const auto wish = hooks.next_wish(plan.longest_s);
    const bool onward = !hooks.stop() && (wish ? *wish != Wish::leave : plan.onward);
    if (!onward) {
      left = wish || hooks.stop();
      shown.time_over = !left;
      break;
    }
    frame = wish == Wish::previous ? (frame + count - 1) % count : (frame + 1) % count;
  }
  if (!up && up.error().code != ErrorCode::cancelled) return tl::unexpected(up.error());
  if (shown.time_over) (void)screen.show(black_frame(request.encoding));
  return shown;
}

double longest_stay_s(const signal::ShowingCautions& cautions) {
  return cautions.stay.caution() ? cautions.stay.allowed.s : 0;
}

}  // namespace provenit::show
