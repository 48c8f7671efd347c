#include <algorithm>
#include <bit>

#include "provenit/colour/transfer_pq.h"
#include "provenit/programme/scopes.h"

namespace provenit::programme {
namespace {

// 32 numbers per octave: the table's guess is then at most a few parts low.
constexpr int kShift = 18;

}  // namespace

LevelScale::LevelScale(int count) : count_(count) {
  for (int i = 0; i <= count; ++i)
    edges_.push_back(colour::pq_eotf(colour::Signal<>{.value = static_cast<double>(i) / count}).cdm2);
  edges_.front() = 0;
  const auto last = std::bit_cast<std::uint32_t>(10000.0F) >> kShift;
  int part = 0;
  for (std::uint32_t i = 0; i <= last; ++i) {
    const double smallest = std::bit_cast<float>(i << kShift);
    while (part + 1 < count && edges_[static_cast<std::size_t>(part) + 1] <= smallest) ++part;
    start_.push_back(part);
  }
}

int LevelScale::part(double cdm2) const {
  if (!(cdm2 > 0)) return 0;
  if (cdm2 >= edges_.back()) return count_ - 1;
  // A double may lie just under a float of the next group: round towards zero.
  auto bits = std::bit_cast<std::uint32_t>(static_cast<float>(cdm2));
  if (bits > 0 && static_cast<double>(std::bit_cast<float>(bits)) > cdm2) --bits;
  int part = start_[std::min<std::size_t>(bits >> kShift, start_.size() - 1)];
  while (part + 1 < count_ && edges_[static_cast<std::size_t>(part) + 1] <= cdm2) ++part;
  return part;
}

}  // namespace provenit::programme
