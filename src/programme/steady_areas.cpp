// The active picture over time, by a look ahead of a few seconds.
#include <algorithm>
#include <deque>

#include "provenit/programme/title.h"

namespace provenit::programme {
namespace {

constexpr double kLookAhead_s = 5;
constexpr double kSpan = 0.99;       // of the width or height counts as all of it
constexpr double kLeastArea = 0.40;  // of the frame, for a rectangle with bars on all sides

// Smallest value over a moving window of frames.
class WindowMinimum {
 public:
  void push(std::size_t position, std::int32_t value) {
    while (!queue_.empty() && queue_.back().second >= value) queue_.pop_back();
    queue_.emplace_back(position, value);
  }
  void drop_before(std::size_t position) {
    while (!queue_.empty() && queue_.front().first < position) queue_.pop_front();
  }
  [[nodiscard]] bool empty() const { return queue_.empty(); }
  [[nodiscard]] std::int32_t value() const { return queue_.front().second; }

 private:
  std::deque<std::pair<std::size_t, std::int32_t>> queue_;
};

bool is_picture_shape(const ActiveArea& a, int width, int height) {
  const double across = static_cast<double>(a.width) / width, down = static_cast<double>(a.height) / height;
  return across >= kSpan || down >= kSpan || across * down >= kLeastArea;
}

bool holds(const ActiveArea& outer, const ActiveArea& inner) {
  return inner.width == 0 ||
         (inner.left >= outer.left && inner.top >= outer.top && inner.left + inner.width <= outer.left + outer.width &&
          inner.top + inner.height <= outer.top + outer.height);
}

}  // namespace

std::vector<ActiveArea> steady_areas(std::span<const FrameLight> frames, int width, int height) {
  const ActiveArea whole{.left = 0, .top = 0, .width = width, .height = height};
  std::vector<ActiveArea> out;
  out.reserve(frames.size());
  WindowMinimum left, top, right, bottom;  // right and bottom as distance from that edge
  std::size_t end = 0;
  ActiveArea steady = whole;
  for (std::size_t i = 0; i < frames.size(); ++i) {
    for (; end < frames.size() && (end <= i || frames[end].time_s <= frames[i].time_s + kLookAhead_s); ++end) {
      const ActiveArea& a = frames[end].active;
      if (a.width == 0) continue;
      left.push(end, a.left);
      top.push(end, a.top);
      right.push(end, width - a.left - a.width);
      bottom.push(end, height - a.top - a.height);
    }
    for (WindowMinimum* edge : {&left, &top, &right, &bottom}) edge->drop_before(i);
    if (!left.empty()) {
      const ActiveArea coming{.left = left.value(),
                              .top = top.value(),
                              .width = width - left.value() - right.value(),
                              .height = height - top.value() - bottom.value()};
      if (is_picture_shape(coming, width, height))
        steady = coming;
      else if (!holds(steady, frames[i].active))
        steady = whole;
    }
    out.push_back(steady);
  }
  return out;
}

}  // namespace provenit::programme
