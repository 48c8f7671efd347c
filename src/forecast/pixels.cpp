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

/// Of a block and the pixel before it.
struct LeftLane {
  static constexpr int kAt = 8;  // of the block's first pixel, so that it is aligned
  alignas(64) float v[kAt + kBlock];
};

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

/// A pixel's I, T and P, BT.2124: from L', M', S'.
struct Itp {
  float i, t, p;
};
PROVENIT_INLINE Itp itp_of(float l, float m, float s) {
  return {0.5F * (l + m), (6610.0F * l - 13613.0F * m + 7003.0F * s) * (0.5F / 4096),
          (17933.0F * l - 17390.0F * m - 543.0F * s) * (1.0F / 4096)};
}

/// A block's pixels as they are meant, which is the same for every display model.
struct Intended {
  Lane r, g, b, t, p;            // light of R'G'B', cd/m2; T and P
  LeftLane i, y;                 // I; luminance
  Lane backlight, even, weight;  // weight: 1 for a pixel, 0 behind the row's end
};

/// No pair with what lies left of the row: neither dark nor bright.
constexpr float kNoPair = 50;

/// The block's last pixel becomes the one before the next block.
PROVENIT_INLINE void step_on(LeftLane& lane) {
  lane.v[LeftLane::kAt - 1] = lane.v[LeftLane::kAt + kBlock - 1];
}

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
  Lane l, s;
  float* y = to.y.v + LeftLane::kAt;
  product(m.intended_lms, to.r, to.g, to.b, l, to.t, s);
  for (int j = 0; j < kBlock; ++j)
    y[j] = m.intended_y[0] * to.r.v[j] + m.intended_y[1] * to.g.v[j] + m.intended_y[2] * to.b.v[j];
  to_pq(m.pq, l, to.t, s);
  float* i = to.i.v + LeftLane::kAt;
  for (int j = 0; j < kBlock; ++j) {
    const Itp itp = itp_of(l.v[j], to.t.v[j], s.v[j]);
    i[j] = itp.i;
    to.t.v[j] = itp.t;
    to.p.v[j] = itp.p;
  }
}

/// Detail: |difference| of each pixel to the one left of it, of intended light and as far as it is kept.
PROVENIT_INLINE void details(const Intended& in, const LeftLane& shown, RowLanes& sums) {
  const float *i = in.i.v + LeftLane::kAt, *s = shown.v + LeftLane::kAt, *y = in.y.v + LeftLane::kAt;
  for (int j = 0; j < kBlock; ++j) {
    const float asked = std::fabs(i[j] - i[j - 1]) * in.weight.v[j];
    const float there = std::fabs(s[j] - s[j - 1]) * in.weight.v[j];
    const float kept = least(asked, there), lower = least(y[j], y[j - 1]);
    const float upper = y[j] > y[j - 1] ? y[j] : y[j - 1];
    const float bright = lower > static_cast<float>(kHighlightAbove) ? 1.0F : 0.0F;
    const float dark = upper < static_cast<float>(kShadowBelow) ? 1.0F : 0.0F;
    sums.high.v[j] += bright * asked;
    sums.high_kept.v[j] += bright * kept;
    sums.low.v[j] += dark * asked;
    sums.low_kept.v[j] += dark * kept;
  }
}

/// Light of the channels, 0 to 1, as far as zones and limiter let it through; and the light that leaks.
struct Drive {
  Lane r, g, b, leak;
};
PROVENIT_INLINE void driven(const PixelModel& m, const Intended& in, Drive& to) {
  for (int j = 0; j < kBlock; ++j) {
    const float r = least(in.r.v[j], m.clip), g = least(in.g.v[j], m.clip), b = least(in.b.v[j], m.clip);
    to.r.v[j] = m.mixing[0] * r + m.mixing[1] * g + m.mixing[2] * b;
    to.g.v[j] = m.mixing[3] * r + m.mixing[4] * g + m.mixing[5] * b;
    to.b.v[j] = m.mixing[6] * r + m.mixing[7] * g + m.mixing[8] * b;
  }
  look_up(m.curve[0], to.r);
  look_up(m.curve[1], to.g);
  look_up(m.curve[2], to.b);
  for (int j = 0; j < kBlock; ++j) {
    const float light = in.backlight.v[j] * m.backlight_gain, room = m.room + m.room_per_backlight * light;
    to.r.v[j] = least(to.r.v[j] * m.dim, room);
    to.g.v[j] = least(to.g.v[j] * m.dim, room);
    to.b.v[j] = least(to.b.v[j] * m.dim, room);
    to.leak.v[j] = light * m.leak_gain + m.leak_offset;
  }
}

/// One of X, Y, Z, or L, M, S, of what is shown.
PROVENIT_INLINE void shown_as(const float* channels, float leak, const Drive& d, const Lane& even, Lane& to) {
  for (int j = 0; j < kBlock; ++j)
    to.v[j] =
        even.v[j] * (channels[0] * d.r.v[j] + channels[1] * d.g.v[j] + channels[2] * d.b.v[j] + leak * d.leak.v[j]);
}

PROVENIT_INLINE void measure_block(const PixelModel& m, const Intended& in, int from, int n, LeftLane& shown_i,
                                   RowLanes& sums, const RowOutput& out) {
  Drive d;
  driven(m, in, d);
  Lane l, mm, s, y;
  shown_as(&m.shown_lms[0], m.leak_lms[0], d, in.even, l);
  shown_as(&m.shown_lms[3], m.leak_lms[1], d, in.even, mm);
  shown_as(&m.shown_lms[6], m.leak_lms[2], d, in.even, s);
  shown_as(&m.shown_xyz[3], m.leak_xyz[1], d, in.even, y);
  if (out.x != nullptr) {
    Lane x, z;
    shown_as(&m.shown_xyz[0], m.leak_xyz[0], d, in.even, x);
    shown_as(&m.shown_xyz[6], m.leak_xyz[2], d, in.even, z);
    store(x, n, out.x + from);
    store(y, n, out.y + from);
    store(z, n, out.z + from);
  }
  to_pq(m.pq, l, mm, s);

  const float *want_i = in.i.v + LeftLane::kAt, *want_y = in.y.v + LeftLane::kAt;
  float* i = shown_i.v + LeftLane::kAt;
  for (int j = 0; j < kBlock; ++j) {
    const Itp itp = itp_of(l.v[j], mm.v[j], s.v[j]);
    i[j] = itp.i;
    const float di = want_i[j] - itp.i, dt = in.t.v[j] - itp.t, dp = in.p.v[j] - itp.p;
    l.v[j] = in.weight.v[j] * 720.0F * std::sqrt(di * di + dt * dt + dp * dp);
  }
  if (out.delta != nullptr) store(l, n, out.delta + from);
  for (int j = 0; j < kBlock; ++j) {
    const float weight = in.weight.v[j], delta = l.v[j], felt = delta + m.delta_shift;
    const float dark = want_y[j] < static_cast<float>(kDarkBelow) ? weight : 0.0F;
    sums.delta.v[j] += delta;
    sums.one.v[j] += felt > 1.0F ? weight : 0.0F;
    sums.three.v[j] += felt > 3.0F ? weight : 0.0F;
    sums.dark.v[j] += dark;
    sums.excess.v[j] += dark * (y.v[j] - want_y[j]);
    sums.shown.v[j] += weight * y.v[j];
  }
  details(in, shown_i, sums);
  step_on(shown_i);
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
  thread_local std::vector<LeftLane> shown_i;
  sums.assign(models.size(), {});
  shown_i.resize(models.size());
  for (auto& lane : shown_i) lane.v[LeftLane::kAt - 1] = 0;
  Intended intended;
  intended.i.v[LeftLane::kAt - 1] = 0;
  intended.y.v[LeftLane::kAt - 1] = kNoPair;
  for (int from = 0; from < row.pixels; from += kBlock) {
    const int n = std::min(kBlock, row.pixels - from);
    intend(models[0], row, from, n, intended);
    for (std::size_t m = 0; m < models.size(); ++m)
      measure_block(models[m], intended, from, n, shown_i[m], sums[m], m == 0 ? out : RowOutput{});
    step_on(intended.i);
    step_on(intended.y);
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
