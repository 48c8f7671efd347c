#include "provenit/correct/proof.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <functional>

#include "provenit/colour/difference.h"
#include "provenit/colour/monte_carlo.h"
#include "provenit/colour/primaries.h"
#include "provenit/colour/spaces.h"

namespace provenit::correct {
namespace {

using Vector = colour::Vector3<>;

constexpr int kDraws = 2000, kFewestOfRegion = 4;
constexpr double kFactor = 1.959963984540054;  // two-sided 95 % of the normal distribution
/// Chroma (length in T, P) below which a colour counts as grey, and above which as saturated; our own choice.
constexpr double kGreyChroma = 0.004, kSaturatedChroma = 0.1;
constexpr double kNearBlack = 1, kDark = 10, kLeastGrey = 0.05;  // cd/m2

Vector vector_of(const colour::AbsoluteXyz<>& c) {
  return {c.X, c.Y, c.Z};
}
colour::AbsoluteXyz<> absolute(const Vector& v) {
  return {.X = v[0], .Y = v[1], .Z = v[2]};
}

/// L with L L^T = m; a negative rest (rounding) counts as 0.
colour::Matrix3<> root_of(const colour::Matrix3<>& m) {
  colour::Matrix3<> l;
  for (int i = 0; i < 3; ++i)
    for (int j = 0; j <= i; ++j) {
      double sum = m(i, j);
      for (int k = 0; k < j; ++k) sum -= l(i, k) * l(j, k);
      if (i == j)
        l(i, i) = std::sqrt(std::max(sum, 0.0));
      else
        l(i, j) = l(j, j) > 0 ? sum / l(j, j) : 0;
    }
  return l;
}

/// Normal numbers by a counter.
class Normals {
 public:
  explicit Normals(std::uint64_t seed) : seed_(seed) {}
  [[nodiscard]] double uniform(std::uint32_t draw, std::uint32_t what) const {
    const auto bits = colour::philox4x32({{draw, what, 0, 0}}, seed_);
    const double value =
        (static_cast<double>(bits.word[0]) * 4294967296.0 + bits.word[1] + 0.5) / 18446744073709551616.0;
    return std::clamp(value, 1e-16, 1 - 1e-16);
  }
  [[nodiscard]] double operator()(std::uint32_t draw, std::uint32_t what) const {
    return colour::normal_quantile(uniform(draw, what));
  }

 private:
  std::uint64_t seed_;
};

struct Sides {
  double before = 0, after = 0;
};

/// What a pair is, and what the draws make of it.
struct Pair {
  const ProofPair* pair = nullptr;
  colour::Matrix3<> before_root, after_root;
  double chroma = 0;
};

double delta_uv(const colour::AbsoluteXyz<>& a, const colour::AbsoluteXyz<>& b) {
  return colour::delta_uv_prime(colour::uv_prime_from_xyz(a), colour::uv_prime_from_xyz(b));
}
double delta_e(const colour::AbsoluteXyz<>& asked, const colour::AbsoluteXyz<>& read) {
  return colour::itp_difference(asked, read).total;
}

/// Light behind a reading, in one draw.
colour::AbsoluteXyz<> drawn(const colour::AbsoluteXyz<>& read, const colour::Matrix3<>& root, const Vector& gain,
                            const Vector& zero, const Normals& normal, std::uint32_t draw, std::uint32_t what) {
  const Vector noise = root * Vector{normal(draw, what), normal(draw, what + 1), normal(draw, what + 2)};
  const Vector v = vector_of(read);
  Vector out{};
  for (std::size_t k = 0; k < 3; ++k) out[k] = (v[k] + noise[k] - zero[k]) / gain[k];
  return absolute(out);
}

struct Draw {
  std::vector<Sides> delta_e, delta_uv;
};

Draw draw_of(const std::vector<Pair>& pairs, const SharedErrors& shared, const Normals& normal, std::uint32_t draw) {
  // Gains as in evaluation's measurement model: the scale of Y, X and Z against it by the white's chromaticity.
  constexpr double x = colour::d65_video.x, y = colour::d65_video.y, z = 1 - x - y;
  const double scale = 1 + shared.luminance * normal(draw, 1), dx = shared.dx * normal(draw, 2),
               dy = shared.dy * normal(draw, 3);
  const Vector gain{scale * (1 + dx / x - dy / y), scale, scale * (1 - (dx + dy) / z - dy / y)};
  const Vector zero{shared.zero_cdm2 * normal(draw, 4), shared.zero_cdm2 * normal(draw, 5),
                    shared.zero_cdm2 * normal(draw, 6)};
  Draw out;
  std::uint32_t what = 16;
  for (const auto& p : pairs) {
    const auto before = drawn(p.pair->before, p.before_root, gain, zero, normal, draw, what);
    const auto after = drawn(p.pair->after, p.after_root, gain, zero, normal, draw, what + 3);
    what += 6;
    out.delta_e.push_back({delta_e(p.pair->asked, before), delta_e(p.pair->asked, after)});
    out.delta_uv.push_back({delta_uv(p.pair->asked, before), delta_uv(p.pair->asked, after)});
  }
  return out;
}

ProofFigure figure(double value, const std::vector<double>& draws) {
  double mean = 0, squares = 0;
  for (const double d : draws) mean += d / static_cast<double>(draws.size());
  for (const double d : draws) squares += (d - mean) * (d - mean);
  const double u = std::sqrt(squares / static_cast<double>(draws.size() - 1));
  return {.value = value, .standard_uncertainty = u, .lower = value - kFactor * u, .upper = value + kFactor * u};
}

/// A mean of distances.
ProofFigure no_less_than_0(ProofFigure f) {
  f.lower = std::max(f.lower, 0.0);
  return f;
}

double percentile_95(std::vector<double> values) {
  std::ranges::sort(values);
  const double at = 0.95 * static_cast<double>(values.size() - 1);
  const auto low = static_cast<std::size_t>(at);
  const auto high = std::min(low + 1, values.size() - 1);
  return values[low] + (at - static_cast<double>(low)) * (values[high] - values[low]);
}

/// Means over some of the colours, as read and in every draw, the colours drawn with replacement.
struct Means {
  Sides read;
  std::vector<double> before, after, gain;
};
using SidesOf = std::function<const std::vector<Sides>&(const Draw&)>;

Means means_of(const std::vector<std::size_t>& members, const std::vector<Sides>& read, const std::vector<Draw>& draws,
               const SidesOf& values, const Normals& choice) {
  Means out;
  const auto n = static_cast<double>(members.size());
  for (const auto i : members) {
    out.read.before += read[i].before / n;
    out.read.after += read[i].after / n;
  }
  for (std::size_t d = 0; d < draws.size(); ++d) {
    Sides sum;
    for (std::size_t k = 0; k < members.size(); ++k) {
      const double u = choice.uniform(static_cast<std::uint32_t>(d), static_cast<std::uint32_t>(k));
      const auto& v = values(draws[d])[members[static_cast<std::size_t>(u * n)]];
      sum.before += v.before / n;
      sum.after += v.after / n;
    }
    out.before.push_back(sum.before);
    out.after.push_back(sum.after);
    out.gain.push_back(sum.before - sum.after);
  }
  return out;
}

ProofVerdict verdict_of(const ProofFigure& gain) {
  if (gain.lower > 0) return ProofVerdict::better;
  return gain.upper < 0 ? ProofVerdict::worse : ProofVerdict::no_difference_shown;
}

Result<std::vector<Pair>> checked(std::span<const ProofPair> pairs) {
  if (pairs.size() < kFewestPairs)
    return fail(ErrorCode::invalid_input,
                fmt::format("{} colours were read with and without the correction; a proof needs {}", pairs.size(),
                            kFewestPairs),
                "Let the run go on.");
  std::vector<Pair> out;
  for (const auto& p : pairs) {
    for (const auto* c : {&p.asked, &p.before, &p.after})
      for (const double v : vector_of(*c))
        if (!std::isfinite(v))
          return fail(ErrorCode::invalid_input, fmt::format("{}: a number is not finite", p.name),
                      "Read this colour again.", {.field = p.name});
    if (!(p.asked.Y > 0))
      return fail(ErrorCode::invalid_input, fmt::format("{}: black was asked for, which has no colour", p.name),
                  "Leave it out of the proof.", {.field = p.name});
    const auto itp = colour::itp_from_xyz(p.asked);
    out.push_back({.pair = &p,
                   .before_root = root_of(p.before_noise),
                   .after_root = root_of(p.after_noise),
                   .chroma = std::hypot(itp.t, itp.p)});
  }
  return out;
}

}  // namespace

const char* text_of(ProofVerdict verdict) {
  switch (verdict) {
    case ProofVerdict::better:
      return "better";
    case ProofVerdict::worse:
      return "worse";
    case ProofVerdict::no_difference_shown:
      break;
  }
  return "no difference shown";
}

Result<ProofResult> prove(std::span<const ProofPair> input, const SharedErrors& shared, std::uint64_t seed) {
  const auto pairs = checked(input);
  if (!pairs) return tl::unexpected(pairs.error());
  const Normals normal(seed), choice(seed ^ 0x9e3779b97f4a7c15ULL);
  std::vector<Draw> draws;
  draws.reserve(kDraws);
  for (std::uint32_t d = 0; d < kDraws; ++d) draws.push_back(draw_of(*pairs, shared, normal, d));
  std::vector<Sides> read, read_uv;
  for (const auto& p : *pairs) {
    read.push_back({delta_e(p.pair->asked, p.pair->before), delta_e(p.pair->asked, p.pair->after)});
    read_uv.push_back({delta_uv(p.pair->asked, p.pair->before), delta_uv(p.pair->asked, p.pair->after)});
  }

  ProofResult out{.draws = kDraws};
  const auto members = [&](const std::function<bool(const Pair&)>& belongs) {
    std::vector<std::size_t> of;
    for (std::size_t i = 0; i < pairs->size(); ++i)
      if (belongs((*pairs)[i])) of.push_back(i);
    return of;
  };
  const auto add = [&](const char* name, const std::function<bool(const Pair&)>& belongs) {
    const auto of = members(belongs);
    if (static_cast<int>(of.size()) < kFewestOfRegion) return;
    const Means m = means_of(
        of, read, draws, [](const Draw& d) -> const auto& { return d.delta_e; }, choice);
    ProofRegion region{.name = name, .colours = static_cast<int>(of.size())};
    region.before = no_less_than_0(figure(m.read.before, m.before));
    region.after = no_less_than_0(figure(m.read.after, m.after));
    region.gain = figure(m.read.before - m.read.after, m.gain);
    region.verdict = verdict_of(region.gain);
    out.regions.push_back(std::move(region));
  };
  const auto grey = [](const Pair& p) { return p.chroma < kGreyChroma; };
  add("all", [](const Pair&) { return true; });
  add("near black", [](const Pair& p) { return p.pair->asked.Y < kNearBlack; });
  add("dark", [](const Pair& p) { return p.pair->asked.Y >= kNearBlack && p.pair->asked.Y < kDark; });
  add("bright", [](const Pair& p) { return p.pair->asked.Y >= kDark; });
  add("greys", grey);
  add("saturated", [](const Pair& p) { return p.chroma > kSaturatedChroma; });

  std::vector<double> before, after;
  for (const auto& r : read) {
    before.push_back(r.before);
    after.push_back(r.after);
  }
  out.before_p95 = percentile_95(before);
  out.after_p95 = percentile_95(after);
  const auto greys = members([&](const Pair& p) { return grey(p) && p.pair->asked.Y >= kLeastGrey; });
  if (!greys.empty()) {
    const Means m = means_of(
        greys, read_uv, draws, [](const Draw& d) -> const auto& { return d.delta_uv; }, choice);
    out.grey_before = no_less_than_0(figure(m.read.before, m.before));
    out.grey_after = no_less_than_0(figure(m.read.after, m.after));
  }
  return out;
}

}  // namespace provenit::correct
