#include <algorithm>
#include <cstdint>

// AVX-512, AVX2 and SSE4, or NEON; without any, the plain code.
#ifndef HWY_DISABLED_TARGETS
#define HWY_DISABLED_TARGETS (HWY_AVX3_DL | HWY_SSSE3)
#endif
#undef HWY_TARGET_INCLUDE
#define HWY_TARGET_INCLUDE "frame/vector.cpp"
#include "hwy/foreach_target.h"  // IWYU pragma: keep
//
#include "frame/kernel.h"
#include "hwy/highway.h"
#include "provenit/simd/levels.h"

HWY_BEFORE_NAMESPACE();
namespace provenit::correct::frame {
namespace HWY_NAMESPACE {

#if HWY_TARGET == HWY_SCALAR || HWY_HAVE_SCALABLE

void ApplyStages(const std::vector<FlatStage>& stages, const float* in, float* out, std::size_t pixels) {
  apply_plain(stages, in, out, pixels);
}

#else

namespace hn = hwy::HWY_NAMESPACE;
using D = hn::ScalableTag<float>;
using DI = hn::RebindToSigned<D>;
using Node = hn::FixedTag<float, 4>;
using V = hn::Vec<D>;
using VI = hn::Vec<DI>;
constexpr int kLanes = static_cast<int>(hn::MaxLanes(D()));
static_assert(kTile % kLanes == 0);

/// One tile, channel by channel.
struct Tile {
  HWY_ALIGN float channel[3][kTile];
};

struct Place {
  VI index;
  V fraction;
};
HWY_INLINE Place PlaceOf(V v, int size) {
  const D d;
  const DI di;
  const V held = hn::IfThenElseZero(hn::Gt(v, hn::Zero(d)), hn::Min(v, hn::Set(d, 1.0F)));
  const V x = hn::Mul(held, hn::Set(d, static_cast<float>(size - 1)));
  const VI index = hn::Min(hn::ConvertTo(di, x), hn::Set(di, size - 2));
  return {index, hn::Sub(x, hn::ConvertTo(d, index))};
}

void AffineStage(const FlatStage& s, Tile& tile, int lanes) {
  const D d;
  for (int i = 0; i < lanes; i += kLanes) {
    const V r = hn::Load(d, tile.channel[0] + i), g = hn::Load(d, tile.channel[1] + i),
            b = hn::Load(d, tile.channel[2] + i);
    for (int c = 0; c < 3; ++c) {
      const float* row = s.matrix + 3 * c;
      const V rg = hn::Add(hn::Mul(hn::Set(d, row[0]), r), hn::Mul(hn::Set(d, row[1]), g));
      const V rgb = hn::Add(rg, hn::Mul(hn::Set(d, row[2]), b));
      hn::Store(hn::Add(rgb, hn::Set(d, s.offset[c])), d, tile.channel[c] + i);
    }
  }
}

void CurvesStage(const FlatStage& s, Tile& tile, int lanes) {
  const D d;
  for (int c = 0; c < 3; ++c) {
    const float* curve = s.table.data() + static_cast<std::ptrdiff_t>(c) * s.size;
    for (int i = 0; i < lanes; i += kLanes) {
      const Place at = PlaceOf(hn::Load(d, tile.channel[c] + i), s.size);
      const V low = hn::GatherIndex(d, curve, at.index), high = hn::GatherIndex(d, curve + 1, at.index);
      hn::Store(hn::Add(low, hn::Mul(at.fraction, hn::Sub(high, low))), d, tile.channel[c] + i);
    }
  }
}

/// Corners and weights of the tetrahedra of one vector of pixels.
struct Corners {
  HWY_ALIGN std::int32_t base[kLanes], first[kLanes], second[kLanes];
  HWY_ALIGN float weight[4][kLanes];
};

HWY_INLINE void FindCorners(const FlatStage& s, V r, V g, V b, Corners& corners) {
  const D d;
  const DI di;
  const int step_b = 4, step_g = step_b * s.size, step_r = step_g * s.size;
  const VI of_r = hn::Set(di, step_r), of_g = hn::Set(di, step_g), of_b = hn::Set(di, step_b);
  const Place pr = PlaceOf(r, s.size), pg = PlaceOf(g, s.size), pb = PlaceOf(b, s.size);
  const V fr = pr.fraction, fg = pg.fraction, fb = pb.fraction;
  const V rg_high = hn::Max(fr, fg), rg_low = hn::Min(fr, fg);
  const V high = hn::Max(rg_high, fb), low = hn::Min(rg_low, fb);
  const V middle = hn::Max(rg_low, hn::Min(rg_high, fb));
  const auto is = [&](V f, V which) { return hn::RebindMask(di, hn::Eq(f, which)); };
  const VI first = hn::IfThenElse(is(fr, high), of_r, hn::IfThenElse(is(fg, high), of_g, of_b));
  const VI last = hn::IfThenElse(is(fb, low), of_b, hn::IfThenElse(is(fg, low), of_g, of_r));
  const VI base = hn::Add(hn::Add(hn::Mul(pr.index, of_r), hn::Mul(pg.index, of_g)), hn::Mul(pb.index, of_b));
  hn::Store(base, di, corners.base);
  hn::Store(hn::Add(base, first), di, corners.first);
  hn::Store(hn::Sub(hn::Add(base, hn::Set(di, step_r + step_g + step_b)), last), di, corners.second);
  hn::Store(hn::Sub(hn::Set(d, 1.0F), high), d, corners.weight[0]);
  hn::Store(hn::Sub(high, middle), d, corners.weight[1]);
  hn::Store(hn::Sub(middle, low), d, corners.weight[2]);
  hn::Store(low, d, corners.weight[3]);
}

void LatticeStage(const FlatStage& s, Tile& tile, int lanes) {
  const D d;
  const Node n;
  const float* table = s.table.data();
  const float* far = table + 4 * (s.size * s.size + s.size + 1);
  Corners corners;
  HWY_ALIGN float mixed[4 * kLanes];
  for (int i = 0; i < lanes; i += kLanes) {
    FindCorners(s, hn::Load(d, tile.channel[0] + i), hn::Load(d, tile.channel[1] + i), hn::Load(d, tile.channel[2] + i),
                corners);
    for (int k = 0; k < kLanes; ++k) {
      const auto term = [&](const float* node, int which) {
        return hn::Mul(hn::Set(n, corners.weight[which][k]), hn::LoadU(n, node));
      };
      auto sum = hn::Add(term(table + corners.base[k], 0), term(table + corners.first[k], 1));
      sum = hn::Add(sum, term(table + corners.second[k], 2));
      hn::Store(hn::Add(sum, term(far + corners.base[k], 3)), n, mixed + 4 * k);
    }
    V r, g, b, unused;
    hn::LoadInterleaved4(d, mixed, r, g, b, unused);
    hn::Store(r, d, tile.channel[0] + i);
    hn::Store(g, d, tile.channel[1] + i);
    hn::Store(b, d, tile.channel[2] + i);
  }
}

/// `lanes` is a multiple of kLanes; in and out have room for it.
void RunTile(const std::vector<FlatStage>& stages, const float* in, float* out, int lanes) {
  const D d;
  Tile tile;
  for (int i = 0; i < lanes; i += kLanes) {
    V r, g, b;
    hn::LoadInterleaved3(d, in + 3 * i, r, g, b);
    hn::Store(r, d, tile.channel[0] + i);
    hn::Store(g, d, tile.channel[1] + i);
    hn::Store(b, d, tile.channel[2] + i);
  }
  for (const FlatStage& s : stages) {
    if (s.kind == Kind::affine) AffineStage(s, tile, lanes);
    if (s.kind == Kind::curves) CurvesStage(s, tile, lanes);
    if (s.kind == Kind::lattice) LatticeStage(s, tile, lanes);
  }
  for (int i = 0; i < lanes; i += kLanes)
    hn::StoreInterleaved3(hn::Load(d, tile.channel[0] + i), hn::Load(d, tile.channel[1] + i),
                          hn::Load(d, tile.channel[2] + i), d, out + 3 * i);
}

void ApplyStages(const std::vector<FlatStage>& stages, const float* in, float* out, std::size_t pixels) {
  while (pixels >= kLanes) {
    const int lanes = static_cast<int>(std::min<std::size_t>(pixels, kTile)) / kLanes * kLanes;
    RunTile(stages, in, out, lanes);
    in += 3 * static_cast<std::ptrdiff_t>(lanes);
    out += 3 * static_cast<std::ptrdiff_t>(lanes);
    pixels -= lanes;
  }
  if (pixels == 0) return;
  float rest[3 * kLanes] = {};
  std::copy_n(in, 3 * pixels, rest);
  RunTile(stages, rest, rest, kLanes);
  std::copy_n(rest, 3 * pixels, out);
}

#endif

Apply ThisLevel() {
  return ApplyStages;
}

}  // namespace HWY_NAMESPACE
}  // namespace provenit::correct::frame
HWY_AFTER_NAMESPACE();

#if HWY_ONCE
namespace provenit::correct::frame {
namespace {

HWY_EXPORT(ThisLevel);

}  // namespace

std::vector<std::string> vector_level_names() {
  return simd::level_names(HWY_TARGETS);
}

Apply vector_level(const std::string& name) {
  for (const auto& level : simd::levels(HWY_TARGETS)) {
    if (level.name != name) continue;
#if HWY_IDE || ((HWY_TARGETS & (HWY_TARGETS - 1)) == 0)
    return HWY_STATIC_DISPATCH(ThisLevel)();
#else
    hwy::ChosenTarget chosen;
    chosen.Update(level.target);
    return HWY_DISPATCH_TABLE(ThisLevel)[chosen.GetIndex()]();
#endif
  }
  return nullptr;
}

}  // namespace provenit::correct::frame
#endif
