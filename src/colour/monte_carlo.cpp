#include "provenit/colour/monte_carlo.h"

#include <algorithm>
#include <array>
#include <cmath>

namespace provenit::colour {
namespace {

// One polynomial over another, coefficients from the constant up.
template <std::size_t N>
double ratio_of_polynomials(const std::array<double, N>& top, const std::array<double, N>& bottom, double x) {
  double t = top[N - 1], b = bottom[N - 1];
  for (std::size_t i = N - 1; i-- > 0;) {
    t = t * x + top[i];
    b = b * x + bottom[i];
  }
  return t / b;
}

// Coefficients of AS 241, routine PPND16: central part, near tail, far tail.
constexpr std::array kCentreTop{3.3871328727963666080e0,  1.3314166789178437745e+2, 1.9715909503065514427e+3,
                                1.3731693765509461125e+4, 4.5921953931549871457e+4, 6.7265770927008700853e+4,
                                3.3430575583588128105e+4, 2.5090809287301226727e+3};
constexpr std::array kCentreBottom{1.0,
                                   4.2313330701600911252e+1,
                                   6.8718700749205790830e+2,
                                   5.3941960214247511077e+3,
                                   2.1213794301586595867e+4,
                                   3.9307895800092710610e+4,
                                   2.8729085735721942674e+4,
                                   5.2264952788528545610e+3};
constexpr std::array kNearTop{1.42343711074968357734e0,  4.63033784615654529590e0, 5.76949722146069140550e0,
                              3.64784832476320460504e0,  1.27045825245236838258e0, 2.41780725177450611770e-1,
                              2.27238449892691845833e-2, 7.74545014278341407640e-4};
constexpr std::array kNearBottom{1.0,
                                 2.05319162663775882187e0,
                                 1.67638483018380384940e0,
                                 6.89767334985100004550e-1,
                                 1.48103976427480074590e-1,
                                 1.51986665636164571966e-2,
                                 5.47593808499534494600e-4,
                                 1.05075007164441684324e-9};
constexpr std::array kFarTop{6.65790464350110377720e0,  5.46378491116411436990e0,  1.78482653991729133580e0,
                             2.96560571828504891230e-1, 2.65321895265761230930e-2, 1.24266094738807843860e-3,
                             2.71155556874348757815e-5, 2.01033439929228813265e-7};
constexpr std::array kFarBottom{1.0,
                                5.99832206555887937690e-1,
                                1.36929880922735805310e-1,
                                1.48753612908506148525e-2,
                                7.86869131145613259100e-4,
                                1.84631831751005468180e-5,
                                1.42151175831644588870e-7,
                                2.04426310338993978564e-15};

// What a counter stands for, so that no two uses meet.
enum class Use : std::uint32_t { error = 0, pool = 1 };

// Strictly between 0 and 1, 52 bits: the middle of one of 2^52 equal cells.
double uniform(std::uint32_t high, std::uint32_t low) {
  const std::uint64_t bits = (std::uint64_t{high} << 32 | low) >> 12;
  return (static_cast<double>(bits) + 0.5) * 0x1p-52;
}

Bits128 bits_of(std::uint64_t seed, Use use, std::uint32_t index, std::uint32_t attempt, std::uint64_t draw) {
  return philox4x32({{static_cast<std::uint32_t>(draw), static_cast<std::uint32_t>(draw >> 32), index,
                      static_cast<std::uint32_t>(use) << 30 | attempt}},
                    seed);
}

// Uniform number of one source in one draw. Two neighbouring sources share a block, which `cached` keeps.
struct UniformStream {
  std::uint64_t seed, draw;
  std::uint32_t cached_block = 0xffffffff;
  Bits128 bits{};

  double of(SourceId source) {
    const std::uint32_t block = source >> 1;
    if (block != cached_block) {
      bits = bits_of(seed, Use::error, block, 0, draw);
      cached_block = block;
    }
    return source & 1 ? uniform(bits.word[2], bits.word[3]) : uniform(bits.word[0], bits.word[1]);
  }
};

// Gamma variate of shape a >= 1, scale 1. Marsaglia and Tsang, ACM Trans. Math. Softw. 26 (2000) 363-372.
double gamma_variate(double a, std::uint64_t seed, std::uint32_t index, std::uint64_t draw) {
  const double d = a - 1.0 / 3.0, c = 1 / std::sqrt(9 * d);
  for (std::uint32_t attempt = 0;; ++attempt) {
    const Bits128 b = bits_of(seed, Use::pool, index, attempt, draw);
    const double x = normal_quantile(uniform(b.word[0], b.word[1]));
    const double v = std::pow(1 + c * x, 3);
    if (v > 0 && std::log(uniform(b.word[2], b.word[3])) < 0.5 * x * x + d - d * v + d * std::log(v)) return d * v;
  }
}

// sqrt(nu / chi-square(nu)): turns a normal error into one of the scaled t-distribution.
double t_scale(double nu, std::uint64_t seed, std::uint32_t index, std::uint64_t draw) {
  double half_chi_square = 0;
  if (nu >= 2) {
    half_chi_square = gamma_variate(nu / 2, seed, index, draw);
  } else {  // gamma(a) = gamma(a + 1) U^(1/a)
    const Bits128 b = bits_of(seed, Use::pool, index, 0x3fffffff, draw);
    half_chi_square = gamma_variate(nu / 2 + 1, seed, index, draw) * std::pow(uniform(b.word[0], b.word[1]), 2 / nu);
  }
  return std::sqrt(nu / (2 * half_chi_square));
}

double standard_variate(Distribution distribution, double u) {
  switch (distribution) {
    case Distribution::rectangular:
      return std::sqrt(12.0) * (u - 0.5);
    case Distribution::triangular:
      return std::sqrt(6.0) * (u < 0.5 ? std::sqrt(2 * u) - 1 : 1 - std::sqrt(2 * (1 - u)));
    case Distribution::normal:
      break;
  }
  return normal_quantile(u);
}

std::vector<SourceId> every_id(const Sources& sources) {
  std::vector<SourceId> ids(sources.size());
  for (SourceId id = 0; id < ids.size(); ++id) ids[id] = id;
  return ids;
}

}  // namespace

double normal_quantile(double p) {
  const double q = p - 0.5;
  if (std::fabs(q) <= 0.425) return q * ratio_of_polynomials(kCentreTop, kCentreBottom, 0.180625 - q * q);
  const double r = std::sqrt(-std::log(q < 0 ? p : 1 - p));
  const double z =
      r <= 5 ? ratio_of_polynomials(kNearTop, kNearBottom, r - 1.6) : ratio_of_polynomials(kFarTop, kFarBottom, r - 5);
  return q < 0 ? -z : z;
}

Bits128 philox4x32(const Bits128& counter, std::uint64_t key) {
  Bits128 c = counter;
  auto k0 = static_cast<std::uint32_t>(key), k1 = static_cast<std::uint32_t>(key >> 32);
  for (int round = 0; round < 10; ++round) {
    const std::uint64_t a = std::uint64_t{0xD2511F53} * c.word[0], b = std::uint64_t{0xCD9E8D57} * c.word[2];
    c = {{static_cast<std::uint32_t>(b >> 32) ^ c.word[1] ^ k0, static_cast<std::uint32_t>(b),
          static_cast<std::uint32_t>(a >> 32) ^ c.word[3] ^ k1, static_cast<std::uint32_t>(a)}};
    k0 += 0x9E3779B9;
    k1 += 0xBB67AE85;
  }
  return c;
}

ErrorSampler::ErrorSampler(const Sources& sources, std::uint64_t seed)
    : ErrorSampler(sources, seed, every_id(sources)) {}

ErrorSampler::ErrorSampler(const Sources& sources, std::uint64_t seed, std::span<const SourceId> wanted)
    : sources_(sources), seed_(seed) {
  for (SourceId id : wanted) {
    if (const CorrelatedGroup* group = sources.group_of(id); group == nullptr) {
      independent_.push_back(id);
    } else {
      groups_.push_back(group);
    }
    if (std::isfinite(sources.degrees_of_freedom(sources[id].pool))) pools_.push_back(sources[id].pool);
  }
  const auto unique = [](auto& v) {
    std::ranges::sort(v);
    v.erase(std::unique(v.begin(), v.end()), v.end());
  };
  unique(independent_);
  unique(groups_);
  for (const CorrelatedGroup* group : groups_)
    for (SourceId id = group->first; id < group->first + group->count; ++id)
      if (std::isfinite(sources.degrees_of_freedom(sources[id].pool))) pools_.push_back(sources[id].pool);
  unique(pools_);
}

void ErrorSampler::draw(std::uint64_t draw, std::span<double> errors) const {
  UniformStream stream{seed_, draw};
  for (SourceId id : independent_) {
    const Source& s = sources_[id];
    errors[id] = s.standard_uncertainty * standard_variate(s.distribution, stream.of(id));
  }
  for (const CorrelatedGroup* group : groups_) {
    const std::size_t n = group->count;
    std::vector<double> z(n);
    for (std::size_t i = 0; i < n; ++i) z[i] = normal_quantile(stream.of(group->first + static_cast<SourceId>(i)));
    for (std::size_t i = 0; i < n; ++i) {
      double sum = 0;
      for (std::size_t j = 0; j < n; ++j) sum += group->factor[i * n + j] * z[j];
      const auto id = group->first + static_cast<SourceId>(i);
      errors[id] = sources_[id].standard_uncertainty * sum;
    }
  }
  if (pools_.empty()) return;
  std::vector<double> scale(pools_.size());
  for (std::size_t i = 0; i < pools_.size(); ++i)
    scale[i] = t_scale(sources_.degrees_of_freedom(pools_[i]), seed_, static_cast<std::uint32_t>(pools_[i]), draw);
  const auto apply = [&](SourceId id) {
    const auto at = std::ranges::lower_bound(pools_, sources_[id].pool);
    if (at != pools_.end() && *at == sources_[id].pool) errors[id] *= scale[at - pools_.begin()];
  };
  for (SourceId id : independent_) apply(id);
  for (const CorrelatedGroup* group : groups_)
    for (SourceId id = group->first; id < group->first + group->count; ++id) apply(id);
}

std::vector<SourceId> sources_of(std::span<const Uncertain> numbers) {
  std::vector<SourceId> ids;
  for (const Uncertain& u : numbers)
    for (const auto& term : u.terms()) ids.push_back(term.source);
  std::ranges::sort(ids);
  ids.erase(std::unique(ids.begin(), ids.end()), ids.end());
  return ids;
}

std::vector<std::vector<double>> propagate(const Sources& sources, const Model& model, std::size_t outputs,
                                           const MonteCarloOptions& options) {
  const ErrorSampler sampler(sources, options.seed);
  const auto n = static_cast<std::size_t>(std::max(options.draws, 0));
  std::vector<std::vector<double>> sample(outputs, std::vector<double>(n));
  std::vector<double> errors(sources.size()), out(outputs);
  for (std::size_t i = 0; i < n; ++i) {
    sampler.draw(i, errors);
    model(errors, out);
    for (std::size_t o = 0; o < outputs; ++o) sample[o][i] = out[o];
  }
  return sample;
}

MonteCarloSummary summarise(std::vector<double> sample, double coverage) {
  std::ranges::sort(sample);
  return {.mean = mean(sample),
          .standard_uncertainty = standard_deviation(sample),
          .symmetric = symmetric_interval(sample, coverage),
          .shortest = shortest_interval(sample, coverage),
          .draws = static_cast<std::int64_t>(sample.size())};
}

}  // namespace provenit::colour
