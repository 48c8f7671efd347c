#include <algorithm>
#include <cmath>

#include "drift_internal.h"
#include "provenit/evaluation/measurement_model.h"

namespace provenit::evaluation {
namespace {

using colour::Uncertain;

// With two references nothing shows curvature. A settling display's exponential bends off its chord by 12 % of the
// whole change over one time constant and 23 % over two; a quarter of it, triangular, covers that.
double unseen_curvature(const Uncertain& first, const Uncertain& last) {
  return colour::triangular_uncertainty(0.25 * std::fabs(last.value() / first.value() - 1));
}

// Relative standard uncertainty of the luminance interpolated between two references. Each inner reference is compared
// with the chord over its neighbours; what exceeds its noise is curvature, four times what it is over half the
// distance.
double curvature(const std::vector<DriftCurve::Reference>& r, const colour::Sources& sources) {
  if (r.size() < 2) return 0;
  if (r.size() == 2) return unseen_curvature(r[0].xyz.Y, r[1].xyz.Y);
  double excess = 0;
  for (std::size_t i = 1; i + 1 < r.size(); ++i) {
    const double span = r[i + 1].time_s - r[i - 1].time_s;
    const double w = span > 0 ? (r[i].time_s - r[i - 1].time_s) / span : 0.5;
    const Uncertain off = r[i].xyz.Y / ((1 - w) * r[i - 1].xyz.Y + w * r[i + 1].xyz.Y) - 1.0;
    excess += off.value() * off.value() - colour::variance(off, sources);
  }
  return std::sqrt(std::max(0.0, excess / static_cast<double>(r.size() - 2))) / 4;
}

}  // namespace

DriftCurve::DriftCurve(std::vector<Reference> references, colour::Sources* sources)
    : references_(std::move(references)) {
  if (sources == nullptr || references_.size() < 2) return;
  const double u = curvature(references_, *sources);
  if (u > 0)
    for (std::size_t i = 0; i + 1 < references_.size(); ++i)
      between_.push_back(sources->add({.name = kDriftBetween, .standard_uncertainty = u}));
}

std::pair<std::size_t, double> DriftCurve::place(double time_s) const {
  const auto next = std::ranges::upper_bound(references_, time_s, {}, &Reference::time_s);
  const auto i = static_cast<std::size_t>(next - references_.begin()) - 1;
  if (i + 1 == references_.size()) return {i, 0};
  return {i, (time_s - references_[i].time_s) / (references_[i + 1].time_s - references_[i].time_s)};
}

std::vector<double> DriftCurve::weights(double time_s) const {
  std::vector<double> out(references_.size());
  if (references_.size() < 2 || time_s <= references_.front().time_s) return out;
  const auto [i, w] = place(time_s);
  out[0] -= 1;
  out[i] += 1 - w;
  if (w > 0) out[i + 1] += w;
  return out;
}

std::array<Uncertain, 3> DriftCurve::at(double time_s, bool grey) const {
  if (references_.size() < 2 || time_s <= references_.front().time_s) return {1.0, 1.0, 1.0};
  const auto [i, w] = place(time_s);
  const auto ratio = [&](auto channel) {
    const auto value = [&](std::size_t k) -> const Uncertain& { return references_[k].xyz.*channel; };
    Uncertain r = w > 0 ? (1 - w) * value(i) + w * value(i + 1) : value(i);
    r /= value(0);
    // Largest half-way, nothing at the references: a parabola.
    if (!between_.empty() && w > 0) r *= 1.0 + 4 * w * (1 - w) * Uncertain(0, between_[i]);
    return r;
  };
  using Xyz = colour::AbsoluteXyz<Uncertain>;
  const Uncertain y = ratio(&Xyz::Y);
  if (!grey) return {y, y, y};
  return {ratio(&Xyz::X), y, ratio(&Xyz::Z)};
}

}  // namespace provenit::evaluation
