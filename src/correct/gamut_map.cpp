#include "provenit/correct/gamut_map.h"

#include <fmt/format.h>

#include <algorithm>
#include <boost/math/tools/toms748_solve.hpp>
#include <cmath>
#include <numbers>

#include "provenit/colour/ictcp.h"

namespace provenit::correct {
namespace {

using colour::AbsoluteRgb;
using colour::Ictcp;
using colour::Itp;

constexpr double kTurn = 2 * std::numbers::pi;
constexpr int kSamplesPerEdge = 512, kHueSteps = 360;
/// Chroma (in T, P) below which a colour has no hue: 720 x this is far below a visible difference.
constexpr double kNoChroma = 1e-9;
/// What counts as inside, in linear light of the target: rounding of the way there and back.
constexpr double kRounding = 1e-12;

/// I, and length and angle in the plane of T and P.
struct Polar {
  double i = 0, chroma = 0, hue = 0;
};
Polar polar_of(const AbsoluteRgb<>& c) {
  const Itp<> p = colour::itp_from_ictcp(colour::ictcp_from_pq_rgb(c));
  return {.i = p.i, .chroma = std::hypot(p.t, p.p), .hue = std::atan2(p.p, p.t)};
}
Ictcp<> ictcp_of(double i, double chroma, double hue) {
  return colour::ictcp_from_itp(Itp<>{.i = i, .t = chroma * std::cos(hue), .p = chroma * std::sin(hue)});
}

double intensity_of_grey(double cdm2) {
  return colour::pq_inverse_eotf(colour::Luminance<>{.cdm2 = cdm2}).value;
}

double smooth_step(double x) {
  const double s = std::clamp(x, 0.0, 1.0);
  return s * s * (3 - 2 * s);
}

/// How far the anchor slides down for a colour this far above the most saturated one: nothing up to kSlideBegins below
/// it, then ever faster to kSlideSlope. Were the anchor of bright colours no lower than theirs, their way to the
/// boundary would run along it, where a small step changes all.
double slide_of(double above) {
  constexpr double kSlideBegins = 0.1, kSlideSlope = 2;
  const double x = (above + kSlideBegins) / (2 * kSlideBegins);
  if (x <= 0) return 0;
  return kSlideSlope * 2 * kSlideBegins * (x < 1 ? x * x / 2 : x - 0.5);
}

tl::unexpected<Error> refuse(const std::string& what) {
  return fail(ErrorCode::out_of_range, what, "Give the target as measured and a knee and reach in their ranges.");
}

Result<void> check(const Target& t, const MappingChoice& c) {
  const auto peak = t.peak.cdm2, black = t.black.cdm2;
  if (!(black >= 0) || !(peak > black) || !(peak <= colour::pq::peak_cdm2))
    return refuse(fmt::format("a target of {} to {} cd/m2 is not within 0 to 10 000", black, peak));
  if (!(c.source_peak.cdm2 > 0) || !(c.source_peak.cdm2 <= colour::pq::peak_cdm2))
    return refuse(fmt::format("a source of {} cd/m2 is not within 0 to 10 000", c.source_peak.cdm2));
  if (!(c.knee > 0) || !(c.knee < 1) || !(c.reach > 1) || !(c.reach <= 3 - 2 * c.knee))
    return refuse(fmt::format("knee {} and reach {} are not 0 < knee < 1 < reach <= 3 - 2 knee", c.knee, c.reach));
  for (const auto& row : colour::xyz_to_rgb_matrix(t.primaries).row)
    for (const double x : row)
      if (!std::isfinite(x)) return refuse("the target's primaries span no gamut");
  return {};
}

/// Where f, above 0 at 0 and below at `end`, passes through 0; on the side above.
template <class F>
double crossing(const F& f, double end, double at_0, double at_end) {
  std::uintmax_t steps = 60;
  return boost::math::tools::toms748_solve(f, 0.0, end, at_0, at_end, boost::math::tools::eps_tolerance<double>(46),
                                           steps)
      .first;
}

}  // namespace

double shoulder(double x, double knee, double reach, double top) {
  if (x <= knee) return x;
  if (x >= reach) return top;
  const double span = reach - knee, t = (x - knee) / span;
  return (2 * t * t * t - 3 * t * t + 1) * knee + (t * t * t - 2 * t * t + t) * span +
         (-2 * t * t * t + 3 * t * t) * top;
}

Result<GamutMap> GamutMap::make(const Target& target, const MappingChoice& choice) {
  if (auto fine = check(target, choice); !fine) return tl::unexpected(fine.error());
  GamutMap map;
  map.target_ = target;
  map.choice_ = choice;
  map.to_target_ = colour::rgb_to_rgb_matrix(colour::bt2020_primaries, target.primaries);
  map.i_black_ = intensity_of_grey(target.black.cdm2);
  map.i_peak_ = intensity_of_grey(target.peak.cdm2);
  map.i_source_ = intensity_of_grey(choice.source_peak.cdm2);
  // The most saturated colours lie on the six edges that join the primaries with their secondaries.
  const auto from_target = colour::rgb_to_rgb_matrix(target.primaries, colour::bt2020_primaries);
  const double span = target.peak.cdm2 - target.black.cdm2;
  for (int edge = 0; edge < 6; ++edge)
    for (int k = 0; k < kSamplesPerEdge; ++k) {
      Triple linear{};
      const double u = static_cast<double>(k) / kSamplesPerEdge, even = intensity_of_grey(u * 100);
      const double rising = std::pow(even / intensity_of_grey(100), 4);  // denser where hue turns fast
      const std::size_t first = edge / 2, second = (first + 1) % 3;
      linear[edge % 2 == 0 ? first : second] = 1;
      linear[edge % 2 == 0 ? second : first] = edge % 2 == 0 ? rising : 1 - rising;
      const auto v = from_target * Triple{target.black.cdm2 + span * linear[0], target.black.cdm2 + span * linear[1],
                                          target.black.cdm2 + span * linear[2]};
      const Polar p = polar_of({.r = v[0], .g = v[1], .b = v[2]});
      map.cusps_.push_back({.hue = p.hue, .i = p.i, .chroma = p.chroma});
    }
  std::ranges::sort(map.cusps_, {}, &Cusp::hue);
  // Near a blue primary the edges fold back in hue: of each step of hue the most saturated sample counts.
  std::vector<Cusp> outer;
  for (const Cusp& c : map.cusps_) {
    const auto step = [](double hue) { return std::floor((hue / kTurn + 0.5) * kHueSteps); };
    if (outer.empty() || step(outer.back().hue) != step(c.hue))
      outer.push_back(c);
    else if (c.chroma > outer.back().chroma)
      outer.back() = c;
  }
  map.cusps_ = std::move(outer);
  Cusp before = map.cusps_.back(), after = map.cusps_.front();
  before.hue -= kTurn;
  after.hue += kTurn;
  map.cusps_.insert(map.cusps_.begin(), before);
  map.cusps_.push_back(after);
  return map;
}

GamutMap::Cusp GamutMap::cusp_at(double hue) const {
  const auto after = std::ranges::upper_bound(cusps_, hue, {}, &Cusp::hue);
  const auto& b = after == cusps_.end() ? cusps_.back() : *after;
  const auto& a = after == cusps_.begin() ? b : *(after - 1);
  const double share = b.hue > a.hue ? (hue - a.hue) / (b.hue - a.hue) : 0;
  return {.hue = hue, .i = a.i + share * (b.i - a.i), .chroma = a.chroma + share * (b.chroma - a.chroma)};
}

double GamutMap::margin(const AbsoluteRgb<>& c) const {
  const auto v = to_target_ * Triple{c.r, c.g, c.b};
  double least = 1;
  for (const double light : v) {
    const double linear = (light - target_.black.cdm2) / (target_.peak.cdm2 - target_.black.cdm2);
    least = std::min({least, linear, 1 - linear});
  }
  return least;
}

double GamutMap::margin_at(double i, double chroma, double hue) const {
  const Ictcp<> c = ictcp_of(i, chroma, hue);
  // Below 0 a cone signal stands for no light at all, and what pq_rgb_from_ictcp clamps it to is another colour.
  const auto cones = colour::detail::lms_from_ictcp_pq * Triple{c.i, c.ct, c.cp};
  const double least = std::min({cones[0], cones[1], cones[2]});
  const double inside = margin(colour::pq_rgb_from_ictcp(c));
  return least < 0 ? std::min(inside, least) : inside;
}

double GamutMap::rolled_off(double i) const {
  if (choice_.mapping == Mapping::hard_clip || i_source_ <= i_peak_) return i;
  const double top = i_peak_ / i_source_;
  return i_source_ * shoulder(i / i_source_, 1.5 * top - 0.5, 1, top);
}

AbsoluteRgb<> GamutMap::moved(double i, double chroma, double hue) const {
  const Cusp cusp = cusp_at(hue);
  const double level = std::clamp(i, i_black_, i_peak_);
  const double slide = smooth_step(chroma / cusp.chroma) * slide_of(level - cusp.i);
  const double anchor = std::max(level - slide, i_black_ + 0.25 * (level - i_black_));
  const auto at = [&](double t) { return std::pair{anchor + t * (i - anchor), t * chroma}; };
  const auto beyond = [&](double t) {
    const auto [ii, cc] = at(t);
    return margin_at(ii, cc, hue);
  };
  // The boundary on the way from the anchor through the colour, in shares of the way to the colour. Looked for as far
  // as the shoulder acts: a colour whose boundary is more than 1 / knee away stays where it is.
  const double furthest = choice_.mapping == Mapping::hard_clip ? 1 : 1 / choice_.knee;
  const double at_anchor = beyond(0), at_end = beyond(furthest);
  if (at_end >= -kRounding) return colour::pq_rgb_from_ictcp(ictcp_of(i, chroma, hue));
  double kept = 0;
  if (at_anchor > 0) {
    const double boundary = crossing(beyond, furthest, at_anchor, at_end);
    const bool soft = choice_.mapping == Mapping::soft_shoulder && boundary > 0;
    kept = soft ? boundary * shoulder(1 / boundary, choice_.knee, choice_.reach, 1) : boundary;
    // Where the way leaves the target and comes back, the shoulder may end in the gap.
    for (double there = beyond(kept); there < -kRounding && kept > 0; there = beyond(kept))
      kept = crossing(beyond, kept, at_anchor, there);
  }
  const auto [ii, cc] = at(kept);
  return colour::pq_rgb_from_ictcp(ictcp_of(ii, cc, hue));
}

AbsoluteRgb<> GamutMap::mapped(const AbsoluteRgb<>& c) const {
  if (std::isnan(c.r) || std::isnan(c.g) || std::isnan(c.b)) return mapped({.r = 0, .g = 0, .b = 0});
  if (choice_.mapping == Mapping::hard_clip && margin(c) >= -kRounding) return c;
  const Polar p = polar_of(c);
  const double i = rolled_off(p.i);
  if (p.chroma < kNoChroma) {
    const double grey = std::clamp(i, i_black_, i_peak_);
    return colour::pq_rgb_from_ictcp(Ictcp<>{.i = grey, .ct = 0, .cp = 0});
  }
  const double scale = p.i > 0 ? std::min(i / p.i, p.i / i) : 1;
  return moved(i, p.chroma * scale, p.hue);
}

}  // namespace provenit::correct
