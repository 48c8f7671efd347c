// Draws for one computation, and the parts of a length problem that come from the model.
#include <algorithm>
#include <array>
#include <cmath>

#include "findings_internal.h"

namespace provenit::evaluation {
namespace {

using colour::SourceId;

// Draws that tell the variance of a point's own noise: it only sizes a bias of second order.
constexpr int kNoiseDraws = 200;

std::vector<double> own_noise(const Study& study, const Vectors& vectors) {
  std::vector<SourceId> own;
  for (const auto& ids : vectors.own_sources) own.insert(own.end(), ids.begin(), ids.end());
  const std::size_t n = vectors.points * vectors.dimension;
  std::vector<double> variance(n, 0.0);
  if (own.empty()) return variance;
  const colour::ErrorSampler sampler(study.light.sources, study.input.seed, own);
  std::vector<double> errors(study.light.sources.size()), out(n), sum(n), squares(n);
  for (int i = 0; i < kNoiseDraws; ++i) {
    sampler.draw(static_cast<std::uint64_t>(i), errors);
    vectors.at(errors, out);
    for (std::size_t k = 0; k < n; ++k) sum[k] += out[k], squares[k] += out[k] * out[k];
  }
  for (std::size_t k = 0; k < n; ++k)
    variance[k] = std::max(0.0, squares[k] / kNoiseDraws - std::pow(sum[k] / kNoiseDraws, 2));
  return variance;
}

}  // namespace

Sampling sample_errors(const Study& study, std::span<const colour::Uncertain> inputs, int draws,
                       const std::function<void(std::size_t, std::span<const double>)>& use) {
  std::vector<SourceId> wanted = colour::sources_of(inputs);
  for (const auto& source : study.light.instrument) wanted.push_back(source.id);
  const colour::ErrorSampler sampler(study.light.sources, study.input.seed, wanted);
  std::vector<double> errors(study.light.sources.size());
  Sampling out{.instrument = std::vector<std::vector<double>>(study.light.instrument.size()), .draws = draws};
  for (auto& e : out.instrument) e.reserve(static_cast<std::size_t>(draws));
  for (int i = 0; i < draws; ++i) {
    sampler.draw(static_cast<std::uint64_t>(i), errors);
    for (std::size_t s = 0; s < out.instrument.size(); ++s)
      out.instrument[s].push_back(errors[study.light.instrument[s].id]);
    use(static_cast<std::size_t>(i), errors);
  }
  return out;
}

std::vector<SourceId> repeatability_of(const StepLight& step, const colour::Sources& sources) {
  std::vector<SourceId> own = colour::sources_of(std::array{step.light.X, step.light.Y, step.light.Z});
  std::erase_if(own, [&](SourceId id) { return sources[id].name != kRepeatability; });
  return own;
}

LengthProblem length_problem(const Study& study, const Vectors& vectors, std::span<const colour::Uncertain> inputs) {
  LengthProblem p{.points = vectors.points, .dimension = vectors.dimension};
  const std::size_t n = p.size();
  std::vector<double> errors(study.light.sources.size(), 0.0), out(n);
  p.measured.resize(n);
  vectors.at(errors, p.measured);
  p.noise_variance = own_noise(study, vectors);
  std::vector<SourceId> own;
  for (const auto& ids : vectors.own_sources) own.insert(own.end(), ids.begin(), ids.end());
  std::ranges::sort(own);
  for (SourceId id : colour::sources_of(inputs)) {
    const double u = study.light.sources[id].standard_uncertainty;
    if (!(u > 0) || std::ranges::binary_search(own, id)) continue;
    errors[id] = u;
    vectors.at(errors, out);
    errors[id] = 0;
    for (std::size_t k = 0; k < n; ++k) p.common.push_back(p.measured[k] - out[k]);
  }
  return p;
}

}  // namespace provenit::evaluation
