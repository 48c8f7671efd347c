#include "pixels.h"

#include <algorithm>
#include <cmath>

#include "provenit/colour/quantise.h"

// One version for each set of vector instructions, chosen when the program starts. No fused multiplication
// (-ffp-contract=off): all versions give the same numbers, but for the order of sums, which is fixed here.
#if defined(__x86_64__) && defined(__GNUC__) && !defined(__clang__) && !defined(__SANITIZE_ADDRESS__) && \
    !defined(__SANITIZE_THREAD__)
#define PROVENIT_FOR_EACH_CPU __attribute__((target_clones("avx512f", "avx2", "default")))
#else
#define PROVENIT_FOR_EACH_CPU
#endif
#define PROVENIT_INLINE inline __attribute__((always_inline))

namespace provenit::forecast {
namespace {

constexpr int kBlock = 128, kLanes = 16;

/// One number of each pixel of a block. Entry 0 is the pixel before the block, where that is asked for.
struct alignas(64) Lane {
  float v[kBlock];
};

PROVENIT_INLINE int log_entry(float light) {
  const float x = light > log_table::kLeast ? (light < log_table::kMost ? light : log_table::kMost) : log_table::kLeast;
  constexpr int half = 1 << (log_table::kShift - 1);
  return (std::bit_cast<int>(x) - log_table::kFirst + half) >> log_table::kShift;
}

PROVENIT_INLINE int eotf_entry(float e) {
  constexpr float to_nearest = 0.5F;
  return static_cast<int>(e * static_cast<float>(kEotfSteps) + to_nearest);
}

/// Entries first, all at once; then plain loads: one loop for both would do neither well.
struct alignas(64) Entries {
  std::int32_t v[kBlock];
};
PROVENIT_INLINE void load_entries(const float* table, const Entries& entries, Lane& to) {
  for (int j = 0; j < kBlock; ++j) to.v[j] = table[entries.v[j]];
}
PROVENIT_INLINE void look_up(const float* table, Lane& lane) {
  Entries entries;
  for (int j = 0; j < kBlock; ++j) entries.v[j] = log_entry(lane.v[j]);
  load_entries(table, entries, lane);
}
PROVENIT_INLINE void to_light(const float* table, Lane& lane) {
  Entries entries;
  for (int j = 0; j < kBlock; ++j) entries.v[j] = eotf_entry(lane.v[j]);
  load_entries(table, entries, lane);
}

PROVENIT_INLINE float least(float a, float b) {
  return a < b ? a : b;
}

/// Sums along a row, lane by lane, so that their order does not depend on the instruction set.
struct RowLanes {
  Lane delta, one, three, high, high_kept, low, low_kept, dark, excess, shown;
};

PROVENIT_INLINE void add(Lane& sum, const Lane& lane) {
  for (int j = 0; j < kBlock; ++j) sum.v[j] += lane.v[j];
}

double total(const Lane& lane) {
  double sum = 0;
  for (const float v : lane.v) sum += static_cast<double>(v);
  return sum;
}

PROVENIT_INLINE void product(const std::array<float, 9>& m, const Lane& a, const Lane& b, const Lane& c, Lane& x,
                             Lane& y, Lane& z) {
  for (int j = 0; j < kBlock; ++j) {
    x.v[j] = m[0] * a.v[j] + m[1] * b.v[j] + m[2] * c.v[j];
    y.v[j] = m[3] * a.v[j] + m[4] * b.v[j] + m[5] * c.v[j];
    z.v[j] = m[6] * a.v[j] + m[7] * b.v[j] + m[8] * c.v[j];
  }
}

PROVENIT_INLINE void to_pq(const float* table, Lane& a, Lane& b, Lane& c) {
  look_up(table, a);
  look_up(table, b);
  look_up(table, c);
}

/// Copies what there is of a block; the rest repeats 0.
PROVENIT_INLINE void load(const float* from, int n, Lane& to) {
  if (n == kBlock) {
    for (int j = 0; j < kBlock; ++j) to.v[j] = from[j];
    return;
  }
  for (int j = 0; j < kBlock; ++j) to.v[j] = j < n ? from[j] : 0.0F;
}

PROVENIT_INLINE void store(const Lane& from, int n, float* to) {
  for (int j = 0; j < n; ++j) to[j] = from.v[j];
}

/// I, T and P of a block, BT.2124: from L', M', S'.
PROVENIT_INLINE void to_itp(Lane& l, Lane& m, Lane& s) {
  for (int j = 0; j < kBlock; ++j) {
    const float a = l.v[j], b = m.v[j], c = s.v[j];
    l.v[j] = 0.5F * (a + b);
    m.v[j] = (6610.0F * a - 13613.0F * b + 7003.0F * c) * (0.5F / 4096);
    s.v[j] = (17933.0F * a - 17390.0F * b - 543.0F * c) * (1.0F / 4096);
  }
}

struct Before {
  float intended = 0, shown = 0, y = 50;  // neither dark nor bright: no pair with what lies left of the row
};

/// Detail: |difference| of each pixel to the one left of it, of intended light and as far as it is kept.
PROVENIT_INLINE void details(const Lane& intended, const Lane& shown, const Lane& y, const Lane& weight, Before& before,
                             RowLanes& sums) {
  Lane left_i, left_s, left_y, high, high_kept, low, low_kept;
  left_i.v[0] = before.intended;
  left_s.v[0] = before.shown;
  left_y.v[0] = before.y;
  for (int j = 1; j < kBlock; ++j) left_i.v[j] = intended.v[j - 1];
  for (int j = 1; j < kBlock; ++j) left_s.v[j] = shown.v[j - 1];
  for (int j = 1; j < kBlock; ++j) left_y.v[j] = y.v[j - 1];
  for (int j = 0; j < kBlock; ++j) {
    const float asked = std::fabs(intended.v[j] - left_i.v[j]) * weight.v[j];
    const float there = std::fabs(shown.v[j] - left_s.v[j]) * weight.v[j];
    const float kept = least(asked, there), lower = least(y.v[j], left_y.v[j]);
    const float upper = y.v[j] > left_y.v[j] ? y.v[j] : left_y.v[j];
    const float bright = lower > static_cast<float>(kHighlightAbove) ? 1.0F : 0.0F;
    const float dark = upper < static_cast<float>(kShadowBelow) ? 1.0F : 0.0F;
    high.v[j] = bright * asked;
    high_kept.v[j] = bright * kept;
    low.v[j] = dark * asked;
    low_kept.v[j] = dark * kept;
  }
  add(sums.high, high);
  add(sums.high_kept, high_kept);
  add(sums.low, low);
  add(sums.low_kept, low_kept);
  before = {intended.v[kBlock - 1], shown.v[kBlock - 1], y.v[kBlock - 1]};
}

/// A block's pixels as they are meant, which is the same for every display model.
struct Intended {
  Lane r, g, b, i, t, p, y;      // light of R'G'B', cd/m2; ITP; luminance
  Lane backlight, even, weight;  // weight: 1 for a pixel, 0 behind the row's end
};

PROVENIT_INLINE void intend(const PixelModel& m, const RowInput& row, int from, int n, Intended& to) {
  load(row.r + from, n, to.r);
  load(row.g + from, n, to.g);
  load(row.b + from, n, to.b);
  load(row.backlight + from, n, to.backlight);
  load(row.even + from, n, to.even);
  for (int j = 0; j < kBlock; ++j) to.weight.v[j] = j < n ? 1.0F : 0.0F;
  to_light(m.eotf, to.r);
  to_light(m.eotf, to.g);
  to_light(m.eotf, to.b);
  product(m.intended_lms, to.r, to.g, to.b, to.i, to.t, to.p);
  for (int j = 0; j < kBlock; ++j)
    to.y.v[j] = m.intended_y[0] * to.r.v[j] + m.intended_y[1] * to.g.v[j] + m.intended_y[2] * to.b.v[j];
  to_pq(m.pq, to.i, to.t, to.p);
  to_itp(to.i, to.t, to.p);
}

PROVENIT_INLINE void measure_block(const PixelModel& m, const Intended& in, int from, int n, Before& before,
                                   RowLanes& sums, const RowOutput& out) {
  Lane r, g, b, light;
  for (int j = 0; j < kBlock; ++j) {
    r.v[j] = least(in.r.v[j], m.clip);
    g.v[j] = least(in.g.v[j], m.clip);
    b.v[j] = least(in.b.v[j], m.clip);
    light.v[j] = in.backlight.v[j] * m.backlight_gain;
  }
  Lane d_r, d_g, d_b;
  product(m.mixing, r, g, b, d_r, d_g, d_b);
  look_up(m.curve[0], d_r);
  look_up(m.curve[1], d_g);
  look_up(m.curve[2], d_b);
  for (int j = 0; j < kBlock; ++j) {
    const float room = m.room + m.room_per_backlight * light.v[j];
    d_r.v[j] = least(d_r.v[j] * m.dim, room);
    d_g.v[j] = least(d_g.v[j] * m.dim, room);
    d_b.v[j] = least(d_b.v[j] * m.dim, room);
    light.v[j] = light.v[j] * m.leak_gain + m.leak_offset;
  }
  Lane s_l, s_m, s_s, shown_y;
  product(m.shown_lms, d_r, d_g, d_b, s_l, s_m, s_s);
  for (int j = 0; j < kBlock; ++j) {
    s_l.v[j] = in.even.v[j] * (s_l.v[j] + m.leak_lms[0] * light.v[j]);
    s_m.v[j] = in.even.v[j] * (s_m.v[j] + m.leak_lms[1] * light.v[j]);
    s_s.v[j] = in.even.v[j] * (s_s.v[j] + m.leak_lms[2] * light.v[j]);
    shown_y.v[j] = in.even.v[j] * (m.shown_xyz[3] * d_r.v[j] + m.shown_xyz[4] * d_g.v[j] + m.shown_xyz[5] * d_b.v[j] +
                                   m.leak_xyz[1] * light.v[j]);
  }
  if (out.x != nullptr) {
    Lane x, z;
    for (int j = 0; j < kBlock; ++j) {
      x.v[j] = in.even.v[j] * (m.shown_xyz[0] * d_r.v[j] + m.shown_xyz[1] * d_g.v[j] + m.shown_xyz[2] * d_b.v[j] +
                               m.leak_xyz[0] * light.v[j]);
      z.v[j] = in.even.v[j] * (m.shown_xyz[6] * d_r.v[j] + m.shown_xyz[7] * d_g.v[j] + m.shown_xyz[8] * d_b.v[j] +
                               m.leak_xyz[2] * light.v[j]);
    }
    store(x, n, out.x + from);
    store(shown_y, n, out.y + from);
    store(z, n, out.z + from);
  }
  to_pq(m.pq, s_l, s_m, s_s);
  to_itp(s_l, s_m, s_s);

  Lane delta, one, three, dark, excess;
  for (int j = 0; j < kBlock; ++j) {
    const float i = in.i.v[j] - s_l.v[j], t = in.t.v[j] - s_m.v[j], p = in.p.v[j] - s_s.v[j];
    delta.v[j] = in.weight.v[j] * 720.0F * std::sqrt(i * i + t * t + p * p);
  }
  for (int j = 0; j < kBlock; ++j) {
    one.v[j] = delta.v[j] + m.delta_shift > 1.0F ? in.weight.v[j] : 0.0F;
    three.v[j] = delta.v[j] + m.delta_shift > 3.0F ? in.weight.v[j] : 0.0F;
    dark.v[j] = in.y.v[j] < static_cast<float>(kDarkBelow) ? in.weight.v[j] : 0.0F;
    excess.v[j] = dark.v[j] * (shown_y.v[j] - in.y.v[j]);
    shown_y.v[j] *= in.weight.v[j];
  }
  if (out.delta != nullptr) store(delta, n, out.delta + from);
  add(sums.delta, delta);
  add(sums.one, one);
  add(sums.three, three);
  add(sums.dark, dark);
  add(sums.excess, excess);
  add(sums.shown, shown_y);
  details(in.i, s_l, in.y, in.weight, before, sums);
}

/// How samples become numbers: (sample - offset) x scale.
struct Quantum {
  float offset, scale;
};
Quantum luma_quantum(const programme::PictureFormat& f) {
  const auto top = static_cast<float>((1 << f.bits) - 1), unit = static_cast<float>(1 << (f.bits - 8));
  if (f.range == colour::Range::full) return {0, 1 / top};
  return {16 * unit, 1 / (219 * unit)};
}
Quantum chroma_quantum(const programme::PictureFormat& f) {
  const auto top = static_cast<float>((1 << f.bits) - 1), unit = static_cast<float>(1 << (f.bits - 8));
  const float middle = 128 * unit;
  if (f.range == colour::Range::full) return {middle, 1 / top};
  return {middle, 1 / (224 * unit)};
}

template <class T>
PROVENIT_INLINE void samples_of(const std::byte* from, int n, Quantum q, float* to) {
  const auto* p = reinterpret_cast<const T*>(from);
  for (int i = 0; i < n; ++i) to[i] = (static_cast<float>(p[i]) - q.offset) * q.scale;
}

PROVENIT_INLINE void row_of(const programme::Plane& plane, int y, int bits, Quantum q, float* to) {
  const auto* from = plane.data + plane.stride * y;
  if (bits > 8)
    samples_of<std::uint16_t>(from, plane.width, q, to);
  else
    samples_of<std::uint8_t>(from, plane.width, q, to);
}

/// Chroma of every second pixel to that of all: linear.
PROVENIT_INLINE void widen(const float* __restrict half, int halves, float* __restrict full, int width, float shift) {
  // shift: where the first sample lies right of its first pixel, in pixels (0 co-sited, 0.5 between).
  const float even_left = shift > 0 ? 0.25F : 0.0F, odd_right = shift > 0 ? 0.25F : 0.5F;
  for (int i = 1; i + 1 < halves; ++i) {
    full[2 * i] = half[i] + even_left * (half[i - 1] - half[i]);
    full[2 * i + 1] = half[i] + odd_right * (half[i + 1] - half[i]);
  }
  const int last = halves - 1, before = last > 0 ? last - 1 : 0, second = last > 0 ? 1 : 0;
  full[0] = half[0];
  if (width > 1) full[1] = half[0] + odd_right * (half[second] - half[0]);
  full[2 * last] = half[last] + even_left * (half[before] - half[last]);
  if (2 * last + 1 < width) full[2 * last + 1] = half[last];
  if (last == 0) full[0] = half[0];
  if (last == 0 && width > 1) full[1] = half[0];
}

PROVENIT_INLINE float within(float e) {
  return e > 0.0F ? (e < 1.0F ? e : 1.0F) : 0.0F;
}

}  // namespace

PROVENIT_FOR_EACH_CPU void measure_row(std::span<const PixelModel> models, const RowInput& row, const RowOutput& out,
                                       std::span<Sums> to) {
  thread_local std::vector<RowLanes> sums;
  thread_local std::vector<Before> before;
  sums.assign(models.size(), {});
  before.assign(models.size(), {});
  Intended intended;
  for (int from = 0; from < row.pixels; from += kBlock) {
    const int n = std::min(kBlock, row.pixels - from);
    intend(models[0], row, from, n, intended);
    for (std::size_t m = 0; m < models.size(); ++m)
      measure_block(models[m], intended, from, n, before[m], sums[m], m == 0 ? out : RowOutput{});
  }
  for (std::size_t m = 0; m < models.size(); ++m)
    to[m] = {.pixels = static_cast<double>(row.pixels),
             .delta = total(sums[m].delta),
             .above_1 = total(sums[m].one),
             .above_3 = total(sums[m].three),
             .high = total(sums[m].high),
             .high_kept = total(sums[m].high_kept),
             .low = total(sums[m].low),
             .low_kept = total(sums[m].low_kept),
             .dark = total(sums[m].dark),
             .dark_excess = total(sums[m].excess),
             .shown = total(sums[m].shown)};
}

PROVENIT_FOR_EACH_CPU void decode_row(const programme::Picture& picture, int y, float* r, float* g, float* b) {
  const auto& f = picture.format;
  const int width = f.width;
  const Quantum luma = luma_quantum(f);
  if (f.chroma == programme::Chroma::rgb) {
    row_of(picture.planes[0], y, f.bits, luma, r);
    row_of(picture.planes[1], y, f.bits, luma, g);
    row_of(picture.planes[2], y, f.bits, luma, b);
  } else if (f.chroma == programme::Chroma::grey) {
    row_of(picture.planes[0], y, f.bits, luma, r);
    for (int i = 0; i < width; ++i) g[i] = b[i] = r[i];
  } else {
    const Quantum chroma = chroma_quantum(f);
    const bool halved = f.chroma != programme::Chroma::c444;
    const int down = f.chroma == programme::Chroma::c420 ? 2 : 1;
    row_of(picture.planes[0], y, f.bits, luma, g);
    if (halved) {
      thread_local std::vector<float> half;
      half.resize(static_cast<std::size_t>(picture.planes[1].width));
      const bool between = f.siting == programme::Siting::centre || f.siting == programme::Siting::top;
      for (int k = 1; k <= 2; ++k) {
        row_of(picture.planes[static_cast<std::size_t>(k)], y / down, f.bits, chroma, half.data());
        widen(half.data(), picture.planes[static_cast<std::size_t>(k)].width, k == 1 ? b : r, width,
              between ? 0.5F : 0.0F);
      }
    } else {
      row_of(picture.planes[1], y, f.bits, chroma, b);
      row_of(picture.planes[2], y, f.bits, chroma, r);
    }
    // BT.2020 non-constant luminance, BT.709, BT.601: Kr, Kb.
    const float kr = f.matrix == programme::Matrix::bt2020_ncl ? 0.2627F
                     : f.matrix == programme::Matrix::bt709    ? 0.2126F
                                                               : 0.299F;
    const float kb = f.matrix == programme::Matrix::bt2020_ncl ? 0.0593F
                     : f.matrix == programme::Matrix::bt709    ? 0.0722F
                                                               : 0.114F;
    const float kg = 1 - kr - kb, to_r = 2 * (1 - kr), to_b = 2 * (1 - kb);
    for (int i = 0; i < width; ++i) {
      const float l = g[i], cr = r[i], cb = b[i];
      r[i] = l + to_r * cr;
      b[i] = l + to_b * cb;
      g[i] = l - (kr * to_r * cr + kb * to_b * cb) / kg;
    }
  }
  for (int i = 0; i < width; ++i) r[i] = within(r[i]);
  for (int i = 0; i < width; ++i) g[i] = within(g[i]);
  for (int i = 0; i < width; ++i) b[i] = within(b[i]);
}

PROVENIT_FOR_EACH_CPU float largest(const float* r, const float* g, const float* b, int from, int to) {
  float part[kLanes] = {};
  int i = from;
  for (; i + kLanes <= to; i += kLanes)
    for (int l = 0; l < kLanes; ++l) {
      const float a = r[i + l] > g[i + l] ? r[i + l] : g[i + l];
      const float c = a > b[i + l] ? a : b[i + l];
      part[l] = part[l] > c ? part[l] : c;
    }
  float most = 0;
  for (; i < to; ++i) most = std::max({most, r[i], g[i], b[i]});
  for (const float p : part) most = std::max(most, p);
  return most;
}

PROVENIT_FOR_EACH_CPU void expand_row(const float* above, const float* below, float t, int nodes,
                                      const std::int32_t* node, const float* fraction, float* out, int pixels) {
  thread_local std::vector<float> between;
  between.resize(static_cast<std::size_t>(nodes));
  float* row = between.data();
  for (int k = 0; k < nodes; ++k) row[k] = above[k] + t * (below[k] - above[k]);
  for (int i = 0; i < pixels; ++i) {
    const int k = node[i];
    out[i] = row[k] + fraction[i] * (row[k + 1] - row[k]);
  }
}

std::array<float, 3> channels_at(const PixelModel& m, float r, float g, float b) {
  const auto light = [&m](float e) { return least(m.eotf[eotf_entry(e)], m.clip); };
  const float x = light(r), y = light(g), z = light(b);
  std::array<float, 3> out{};
  for (std::size_t c = 0; c < 3; ++c)
    out[c] = m.curve[c][log_entry(m.mixing[3 * c] * x + m.mixing[3 * c + 1] * y + m.mixing[3 * c + 2] * z)];
  return out;
}

}  // namespace provenit::forecast
