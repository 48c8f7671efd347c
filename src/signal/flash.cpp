// Flashing by ITU-R BT.1702 over places of a picture.
#include "provenit/signal/flash.h"

#include <algorithm>
#include <deque>

namespace provenit::signal {
namespace {

constexpr double kSecond_s = 1;
constexpr double kTogether_s = 0.1;  // changes of different places this close count as one of the picture: our choice

bool is_change(double darker, double lighter) {
  if (darker < kFlashDarkerBelow_cdm2) return lighter - darker >= kFlashChange_cdm2;
  return lighter - darker >= kFlashContrast * (lighter + darker);
}

enum class Way { none, up, down };

struct At {
  double time_s = 0;
  std::size_t position = 0;
};

/// Follows one place from extreme to extreme. A change is told at the frame in which it has become large enough.
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

/// Places changing the same way within kTogether_s, as a share of the picture.
double gather(std::deque<Changes>& recent, double now, double area) {
  if (area > 0) recent.push_back({.time_s = now, .area = area});
  while (!recent.empty() && now - recent.front().time_s > kTogether_s) recent.pop_front();
  double sum = 0;
  for (const auto& c : recent) sum += c.area;
  return sum;
}

}  // namespace

class FlashWatch::State {
 public:
  explicit State(std::vector<double> shares) : shares_(std::move(shares)), blocks_(shares_.size()) {}

  FlashSecond step(double now, std::span<const double> light) {
    const std::size_t position = frames_++;
    double up = 0, down = 0, largest = 0, flashing = 0;
    int most = 0;
    std::size_t from = position;
    for (std::size_t i = 0; i < blocks_.size(); ++i) {
      Block& b = blocks_[i];
      double size = 0;
      const Way way = b.step(light[i], position == 0, size);
      if (way == Way::up) up += shares_[i], b.rises.push_back({now, position});
      if (way == Way::down) down += shares_[i], b.falls.push_back({now, position});
      largest = std::max(largest, size);
      const int flashes = std::max(count_within(b.rises, now), count_within(b.falls, now));
      if (flashes <= kFlashesPerSecond) continue;
      flashing += shares_[i];
      most = std::max(most, flashes);
      from = std::min({from, b.rises.empty() ? position : b.rises.front().position,
                       b.falls.empty() ? position : b.falls.front().position});
    }
    const double ups = gather(recent_up_, now, up), downs = gather(recent_down_, now, down);
    // Where half of the picture rises as the other falls, each place flashes once in two such changes: one of the two
    // is counted, the one that does not follow its own kind.
    const bool both = ups > kFlashArea && downs > kFlashArea;
    const bool rising = way_ != Way::up;
    together(Way::up, rises_, both && !rising ? 0 : ups, now, position);
    together(Way::down, falls_, both && rising ? 0 : downs, now, position);
    largest_.push_back({.time_s = now, .area = largest});
    while (now - largest_.front().time_s >= kSecond_s) largest_.pop_front();
    return judge(now, from, most, flashing);
  }

 private:
  void together(Way way, std::deque<Together>& list, double area, double now, std::size_t position) {
    while (!list.empty() && now - list.front().time_s >= kSecond_s - 1e-9) list.pop_front();
    if (area <= kFlashArea) return;
    if (way_ == way) {  // still the same change, spreading
      if (!list.empty()) list.back().area = std::max(list.back().area, area);
      return;
    }
    way_ = way;
    list.push_back({.way = way, .time_s = now, .area = area, .position = position});
    (way == Way::up ? recent_down_ : recent_up_).clear();
  }

  FlashSecond judge(double now, std::size_t from, int most, double flashing) const {
    FlashSecond second;
    second.from = from;
    const auto& leading = rises_.size() >= falls_.size() ? rises_ : falls_;
    if (!leading.empty()) {
      second.flashes = static_cast<int>(leading.size());
      for (const auto& t : leading) second.area = std::max(second.area, t.area);
      second.from = std::min(from, leading.front().position);
      second.above = second.flashes > kFlashesPerSecond;
    }
    if (flashing > kFlashArea) {
      second.flashes = std::max(second.flashes, most);
      second.area = std::max(second.area, flashing);
      second.above = true;
    }
    for (const auto& l : largest_)
      if (now - l.time_s < kSecond_s) second.change_cdm2 = std::max(second.change_cdm2, l.area);
    return second;
  }

  std::vector<double> shares_;
  std::size_t frames_ = 0;
  std::vector<Block> blocks_;
  std::deque<Changes> recent_up_, recent_down_, largest_;
  std::deque<Together> rises_, falls_;
  Way way_ = Way::none;
};

FlashWatch::FlashWatch(std::vector<double> shares) : state_(std::make_unique<State>(std::move(shares))) {}
FlashWatch::FlashWatch(FlashWatch&&) noexcept = default;
FlashWatch& FlashWatch::operator=(FlashWatch&&) noexcept = default;
FlashWatch::~FlashWatch() = default;

FlashSecond FlashWatch::step(double time_s, std::span<const double> light_cdm2) {
  return state_->step(time_s, light_cdm2);
}

}  // namespace provenit::signal
