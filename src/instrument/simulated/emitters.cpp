#include <cmath>
#include <numbers>

#include "emitters_internal.h"
#include "provenit/colour/observer.h"

namespace provenit::simulated {
namespace {

double peaks_at(const std::vector<Peak>& peaks, double nm) {
  double sum = 0;
  for (const auto& p : peaks) {
    // Both halves together have the stated FWHM.
    const double short_half = p.fwhm_nm / (1 + p.long_side_ratio);
    const double half = nm < p.centre_nm ? short_half : short_half * p.long_side_ratio;
    const double d = (nm - p.centre_nm) / half;
    sum += p.height * std::exp(-std::numbers::ln2 * d * d);
  }
  return sum;
}

double bands_at(const std::vector<Band>& bands, double floor, double nm) {
  double open = 0;
  for (const auto& b : bands)
    open +=
        b.transmission / ((1 + std::exp((b.from_nm - nm) / b.edge_nm)) * (1 + std::exp((nm - b.to_nm) / b.edge_nm)));
  return floor + (1 - floor) * std::min(open, 1.0);
}

double primary_at(const DisplayPhysics& physics, const Primary& primary, double nm) {
  if (physics.backlight.empty()) return peaks_at(primary.emission, nm);
  return peaks_at(physics.backlight, nm) * bands_at(primary.filter, primary.filter_floor, nm);
}

double leak_at(const DisplayPhysics& physics, double nm) {
  if (physics.backlight.empty()) return peaks_at(physics.leakage.emission, nm);
  return peaks_at(physics.backlight, nm) * bands_at(physics.leakage.filter, 0, nm);
}

template <class F>
Samples sampled(F&& at) {
  Samples s{};
  for (int i = 0; i < kSamples; ++i) s[i] = at(kFirstNm + i);
  return s;
}

void scale(Samples& samples, double factor) {
  for (auto& v : samples) v *= factor;
}

void add(Samples& sum, const Samples& samples, double weight) {
  for (int i = 0; i < kSamples; ++i) sum[i] += weight * samples[i];
}

double determinant(const Vector& a, const Vector& b, const Vector& c) {
  return a[0] * (b[1] * c[2] - b[2] * c[1]) - b[0] * (a[1] * c[2] - a[2] * c[1]) + c[0] * (a[1] * b[2] - a[2] * b[1]);
}

}  // namespace

const std::array<Samples, 3>& matching_on_grid() {
  static const auto table = [] {
    std::array<Samples, 3> t{};
    for (int i = 0; i < kSamples; ++i) {
      const auto m = colour::matching_functions(colour::Observer::cie1931_2deg, {.nm = kFirstNm + i});
      t[0][i] = m.x;
      t[1][i] = m.y;
      t[2][i] = m.z;
    }
    return t;
  }();
  return table;
}

Vector xyz_of(const Samples& samples) {
  Vector out{};
  const auto& matching = matching_on_grid();
  for (int c = 0; c < 3; ++c) {
    for (int i = 0; i < kSamples; ++i) out[c] += samples[i] * matching[c][i];
    out[c] *= colour::kMaximumLuminousEfficacy;
  }
  return out;
}

Vector solve3(const std::array<Vector, 3>& columns, const Vector& b) {
  const auto& [p, q, r] = columns;
  const double d = determinant(p, q, r);
  if (d == 0) return {};
  return {determinant(b, q, r) / d, determinant(p, b, r) / d, determinant(p, q, b) / d};
}

Result<Emitters> Emitters::make(const DisplayPhysics& physics) {
  Emitters e;
  std::array<Vector, 3> columns{};
  for (int c = 0; c < 3; ++c) {
    const auto& primary = physics.primaries[c];
    const auto shifted = [&](double shift_nm) {
      return sampled([&](double nm) { return primary_at(physics, primary, nm - shift_nm); });
    };
    e.base_[c].samples = shifted(0);
    e.level_[c].samples = shifted(primary.level_shift_nm);
    e.cold_[c].samples = shifted(-primary.warm_shift_nm);
    add(e.level_[c].samples, e.base_[c].samples, -1);
    add(e.cold_[c].samples, e.base_[c].samples, -1);
    columns[c] = xyz_of(e.base_[c].samples);
  }
  // White is all three at drive 1, where the channels already act on each other.
  const double y = physics.peak_cdm2, scale_xyz = y / physics.white.y;
  const Vector white{physics.white.x * scale_xyz, y, (1 - physics.white.x - physics.white.y) * scale_xyz};
  const Vector gains = solve3(columns, white);
  for (int c = 0; c < 3; ++c) {
    if (!(gains[c] > 0))
      return fail(ErrorCode::out_of_range, "no mixture of these primaries gives the white asked for",
                  "Move the white point inside the triangle of the primaries.", {.field = "light.white"});
    double together = 1;
    for (const double k : physics.interaction[c]) together += k;
    for (auto* basis : {&e.base_[c], &e.level_[c], &e.cold_[c]}) {
      scale(basis->samples, gains[c] / together);
      basis->xyz = xyz_of(basis->samples);
    }
  }
  if (physics.leakage.luminance_cdm2 > 0) {
    e.leak_.samples = sampled([&](double nm) { return leak_at(physics, nm); });
    const double raw = xyz_of(e.leak_.samples)[1];
    if (!(raw > 0))
      return fail(ErrorCode::out_of_range, "a leakage is asked for, but its spectrum is empty",
                  "Give leakage.bands (with a backlight) or leakage.peaks (without).", {.field = "leakage"});
    scale(e.leak_.samples, physics.leakage.luminance_cdm2 / raw);
    e.leak_.xyz = xyz_of(e.leak_.samples);
  }
  return e;
}

colour::AbsoluteXyz<> Emitters::xyz(const Mixture& m) const {
  Vector sum{};
  for (int k = 0; k < 3; ++k) {
    for (int c = 0; c < 3; ++c)
      sum[k] += m.base[c] * base_[c].xyz[k] + m.level[c] * level_[c].xyz[k] + m.cold[c] * cold_[c].xyz[k];
    sum[k] += m.leak * leak_.xyz[k];
  }
  return {.X = sum[0], .Y = sum[1], .Z = sum[2]};
}

Samples Emitters::spectrum(const Mixture& m) const {
  Samples sum{};
  for (int c = 0; c < 3; ++c) {
    add(sum, base_[c].samples, m.base[c]);
    add(sum, level_[c].samples, m.level[c]);
    add(sum, cold_[c].samples, m.cold[c]);
  }
  add(sum, leak_.samples, m.leak);
  return sum;
}

}  // namespace provenit::simulated
