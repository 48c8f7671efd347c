#include "refine.h"

#include <tbb/parallel_for.h>

#include <algorithm>

#include "provenit/correct/patch_choice.h"

namespace provenit::correct::solving {
namespace {

constexpr int kColours = 6000, kFirstColour = 40000, kGreys = 600, kSweeps = 8;
constexpr double kRelaxation = 0.6;
/// A node that is right gives way this much less than one that stands for a colour the display cannot show.
constexpr double kInside = 0.3;
/// What the display falls short of is no example.
constexpr double kReached = 0.1;  // Delta E ITP

struct Example {
  Triple in{}, wanted{};
  bool counts = false;
};

std::vector<Example> examples(const Goal& goal) {
  std::vector<Example> all;
  for (const auto& s : target_signals(goal.goal().input, goal.goal().primaries, goal.peak(), kColours, kFirstColour))
    all.push_back({.in = goal.numbers(s)});
  for (int i = 1; i < kGreys; ++i) {
    const double x = static_cast<double>(i) / kGreys;
    all.push_back({.in = goal.numbers({.r = x, .g = x, .b = x})});
  }
  tbb::parallel_for(std::size_t{0}, all.size(), [&](std::size_t i) {
    const auto node = goal.solved(all[i].in);
    all[i].wanted = node.numbers;
    all[i].counts = !node.mapped && node.delta_e_itp < kReached;
  });
  std::erase_if(all, [](const Example& e) { return !e.counts; });
  return all;
}

}  // namespace

void refine(Lut3d& table, const std::vector<char>& mapped, const Goal& goal) {
  const auto all = examples(goal);
  for (int sweep = 0; sweep < kSweeps; ++sweep)
    for (const auto& e : all) {
      const Tetrahedron at = tetrahedron(table.size, e.in);
      Triple off = e.wanted;
      double weight = 0;
      std::array<double, 4> give{};
      for (std::size_t i = 0; i < 4; ++i) {
        for (std::size_t c = 0; c < 3; ++c) off[c] -= at.share[i] * table.nodes[at.node[i]][c];
        give[i] = at.share[i] * (mapped[at.node[i]] ? 1 : kInside);
        weight += at.share[i] * give[i];
      }
      for (std::size_t i = 0; i < 4; ++i)
        for (std::size_t c = 0; c < 3; ++c)
          table.nodes[at.node[i]][c] =
              std::clamp(table.nodes[at.node[i]][c] + kRelaxation * give[i] / weight * off[c], 0.0, 1.0);
    }
  // Greys rise to their end, also where the node beyond the peak has moved.
  for (int k = 1; k < table.size; ++k)
    for (std::size_t c = 0; c < 3; ++c)
      table.node(k, k, k)[c] = std::max(table.node(k, k, k)[c], table.node(k - 1, k - 1, k - 1)[c]);
}

}  // namespace provenit::correct::solving
