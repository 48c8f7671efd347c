// Flashing by ITU-R BT.1702 on the block map.
#include <algorithm>
#include <array>
#include <cmath>
#include <deque>

#include "block_map.h"
#include "provenit/colour/transfer_pq.h"
#include "provenit/programme/scenes.h"

namespace provenit::programme {
namespace {

constexpr double kChange_cdm2 = 20, kDarkerBelow_cdm2 = 160;  // BT.1702-3, second-hand
constexpr double kContrast = 1.0 / 17;                        // from 160 cd/m2 up; from memory
constexpr double kArea = 0.25;
constexpr int kFlashes = 3;
constexpr double kSecond_s = 1;
constexpr double kTogether_s = 0.1;  // changes of different blocks this close count as one of the picture: our choice

bool is_change(double darker, double lighter) {
  if (darker < kDarkerBelow_cdm2) return lighter - darker >= kChange_cdm2;
  return lighter - darker >= kContrast * (lighter + darker);
}

double light_of(std::uint16_t code) {
  static const std::vector<double> table = [] {
    std::vector<double> t(65536);
    for (std::size_t i = 0; i < t.size(); ++i)
      t[i] = colour::pq_eotf(colour::Signal<>{.value = static_cast<double>(i) / 65535}).cdm2;
    return t;
  }();
  return table[code];
}

enum class Way { none, up, down };

struct At {
  double time_s = 0;
  std::size_t position = 0;
};

/// Follows one block from extreme to extreme. A change is told at the frame in which it has become large enough.
struct Block {
  Way way = Way::none;
  double lowest = 0, highest = 0;
  std::deque<At> rises, falls;  ///< the changes of the last second

  Way step(double light, bool first, double& size) {
    if (first) lowest = highest = light;
    lowest = way == Way::up ? lowest : std::min(lowest, light);
    highest = way == Way::down ? highest : std::max(highest, light);
    if (way != Way::up && is_change(lowest, light)) {
      size = light - lowest;
      way = Way::up, highest = light;
      return Way::up;
    }
    if (way != Way::down && is_change(light, highest)) {
      size = highest - light;
      way = Way::down, lowest = light;
      return Way::down;
    }
    return Way::none;
  }
};

/// How many lie within the second that ends now; forgets the older ones.
int count_within(std::deque<At>& times, double now) {
  while (!times.empty() && now - times.front().time_s >= kSecond_s - 1e-9) times.pop_front();
  return static_cast<int>(times.size());
}

/// Change of much of the picture at once.
struct Together {
  Way way = Way::none;
  double time_s = 0, area = 0;
  std::size_t position = 0;
};

struct Changes {
  double time_s = 0, area = 0;
};

/// Blocks changing the same way within kTogether_s, as a share of the picture.
double gather(std::deque<Changes>& recent, double now, double area) {
  if (area > 0) recent.push_back({.time_s = now, .area = area});
  while (!recent.empty() && now - recent.front().time_s > kTogether_s) recent.pop_front();
  double sum = 0;
  for (const auto& c : recent) sum += c.area;
  return sum;
}

struct Frame {
  int flashes = 0;  ///< of the second that ends here
  double area = 0, change_cdm2 = 0;
  std::size_t from = 0;
};

class Watch {
 public:
  explicit Watch(const scenes::Grid& grid) : grid_(grid), blocks_(grid.count()) {}

  Frame step(const FrameRecord& record, std::size_t position) {
    const double now = record.figures.time_s;
    double up = 0, down = 0, largest = 0, flashing = 0;
    int most = 0;
    std::size_t from = position;
    for (std::size_t i = 0; i < blocks_.size(); ++i) {
      Block& b = blocks_[i];
      double size = 0;
      const Way way = b.step(light_of(record.blocks[i]), position == 0, size);
      if (way == Way::up) up += grid_.share[i], b.rises.push_back({now, position});
      if (way == Way::down) down += grid_.share[i], b.falls.push_back({now, position});
      largest = std::max(largest, size);
      const int flashes = std::max(count_within(b.rises, now), count_within(b.falls, now));
      if (flashes <= kFlashes) continue;
      flashing += grid_.share[i];
      most = std::max(most, flashes);
      from = std::min({from, b.rises.empty() ? position : b.rises.front().position,
                       b.falls.empty() ? position : b.falls.front().position});
    }
    together(Way::up, rises_, gather(recent_up_, now, up), now, position);
    together(Way::down, falls_, gather(recent_down_, now, down), now, position);
    largest_.push_back({.time_s = now, .area = largest});
    while (now - largest_.front().time_s >= kSecond_s) largest_.pop_front();
    return judge(now, from, most, flashing);
  }

 private:
  void together(Way way, std::deque<Together>& list, double area, double now, std::size_t position) {
    while (!list.empty() && now - list.front().time_s >= kSecond_s - 1e-9) list.pop_front();
    if (area <= kArea) return;
    if (way_ == way) {  // still the same change, spreading
      if (!list.empty()) list.back().area = std::max(list.back().area, area);
      return;
    }
    way_ = way;
    list.push_back({.way = way, .time_s = now, .area = area, .position = position});
    (way == Way::up ? recent_down_ : recent_up_).clear();
  }

  Frame judge(double now, std::size_t from, int most, double flashing) const {
    Frame frame;
    frame.from = from;
    const auto& leading = rises_.size() >= falls_.size() ? rises_ : falls_;
    if (static_cast<int>(leading.size()) > kFlashes) {
      frame.flashes = static_cast<int>(leading.size());
      for (const auto& t : leading) frame.area = std::max(frame.area, t.area);
      frame.from = std::min(from, leading.front().position);
    }
    if (flashing > kArea) {
      frame.flashes = std::max(frame.flashes, most);
      frame.area = std::max(frame.area, flashing);
    }
    for (const auto& l : largest_)
      if (frame.flashes > 0 && now - l.time_s < kSecond_s) frame.change_cdm2 = std::max(frame.change_cdm2, l.area);
    return frame;
  }

  const scenes::Grid& grid_;
  std::vector<Block> blocks_;
  std::deque<Changes> recent_up_, recent_down_, largest_;
  std::deque<Together> rises_, falls_;
  Way way_ = Way::none;
};

}  // namespace

std::vector<FlashCaution> flash_cautions(std::span<const FrameRecord> frames, int width, int height) {
  const scenes::Grid grid = scenes::grid_of(frames, width, height);
  std::vector<FlashCaution> cautions;
  if (grid.count() == 0) return cautions;
  Watch watch(grid);
  for (std::size_t t = 0; t < frames.size(); ++t) {
    const Frame f = watch.step(frames[t], t);
    if (f.flashes == 0) continue;
    if (cautions.empty() || f.from > cautions.back().last + 1) cautions.push_back({.first = f.from, .last = t});
    FlashCaution& c = cautions.back();
    c.last = t;
    c.flashes = std::max(c.flashes, f.flashes);
    c.area = std::max(c.area, f.area);
    c.change_cdm2 = std::max(c.change_cdm2, f.change_cdm2);
  }
  return cautions;
}

}  // namespace provenit::programme
