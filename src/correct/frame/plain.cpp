#include <algorithm>

#include "frame/kernel.h"

namespace provenit::correct::frame {
namespace {

struct Place {
  int index = 0;
  float fraction = 0;
};
Place place_of(float v, int size) {
  const float x = (v > 0 ? std::min(v, 1.0F) : 0.0F) * static_cast<float>(size - 1);
  const int index = std::min(static_cast<int>(x), size - 2);
  return {.index = index, .fraction = x - static_cast<float>(index)};
}

void affine(const FlatStage& s, float* v) {
  float result[3];
  for (int i = 0; i < 3; ++i) {
    const float* row = s.matrix + std::ptrdiff_t{3} * i;
    result[i] = ((row[0] * v[0] + row[1] * v[1]) + row[2] * v[2]) + s.offset[i];
  }
  std::copy_n(result, 3, v);
}

void curves(const FlatStage& s, float* v) {
  for (int c = 0; c < 3; ++c) {
    const Place at = place_of(v[c], s.size);
    const float* entry = s.table.data() + std::ptrdiff_t{c} * s.size + at.index;
    v[c] = entry[0] + at.fraction * (entry[1] - entry[0]);
  }
}

void lattice(const FlatStage& s, float* v) {
  const Place r = place_of(v[0], s.size), g = place_of(v[1], s.size), b = place_of(v[2], s.size);
  const int step_b = 4, step_g = step_b * s.size, step_r = step_g * s.size;
  const float high = std::max(std::max(r.fraction, g.fraction), b.fraction);
  const float low = std::min(std::min(r.fraction, g.fraction), b.fraction);
  const float middle =
      std::max(std::min(r.fraction, g.fraction), std::min(std::max(r.fraction, g.fraction), b.fraction));
  const int first = r.fraction == high ? step_r : g.fraction == high ? step_g : step_b;
  const int last = b.fraction == low ? step_b : g.fraction == low ? step_g : step_r;
  const int all = step_r + step_g + step_b;
  const float* node = s.table.data() + r.index * step_r + g.index * step_g + b.index * step_b;
  const float weight[4] = {1.0F - high, high - middle, middle - low, low};
  for (int c = 0; c < 3; ++c)
    v[c] = ((weight[0] * node[c] + weight[1] * node[first + c]) + weight[2] * node[all - last + c]) +
           weight[3] * node[all + c];
}

}  // namespace

void apply_plain(const std::vector<FlatStage>& stages, const float* in, float* out, std::size_t pixels) {
  for (std::size_t i = 0; i < pixels; ++i) {
    float v[3];
    std::copy_n(in + 3 * i, 3, v);
    for (const FlatStage& s : stages) {
      if (s.kind == Kind::affine) affine(s, v);
      if (s.kind == Kind::curves) curves(s, v);
      if (s.kind == Kind::lattice) lattice(s, v);
    }
    std::copy_n(v, 3, out + 3 * i);
  }
}

}  // namespace provenit::correct::frame
