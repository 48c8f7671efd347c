#include "provenit/colour/uncertainty.h"

#include <Eigen/Cholesky>
#include <algorithm>
#include <map>

namespace provenit::colour {
namespace {

using Terms = Uncertain::Terms;

// Calls visit(i, c_i u_i, sum over j of r_ij c_j u_j) for every source i of a: the sum of the products is the variance.
template <class Visit>
void for_each_contribution(const Uncertain& a, const Sources& sources, Visit visit) {
  const Terms& terms = a.terms();
  for (std::size_t at = 0; at < terms.size();) {
    const CorrelatedGroup* group = sources.group_of(terms[at].source);
    if (group == nullptr) {
      const double c = terms[at].derivative * sources[terms[at].source].standard_uncertainty;
      visit(terms[at].source, c, c);
      ++at;
      continue;
    }
    std::size_t end = at;
    while (end < terms.size() && terms[end].source < group->first + group->count) ++end;
    for (std::size_t i = at; i < end; ++i) {
      const double* row = &group->correlation[(terms[i].source - group->first) * group->count];
      double sum = 0;
      for (std::size_t j = at; j < end; ++j)
        sum +=
            row[terms[j].source - group->first] * terms[j].derivative * sources[terms[j].source].standard_uncertainty;
      visit(terms[i].source, terms[i].derivative * sources[terms[i].source].standard_uncertainty, sum);
    }
    at = end;
  }
}

bool has_one_pool(const CorrelatedGroup& group, const Sources& sources) {
  for (SourceId id = group.first; id < group.first + group.count; ++id)
    if (sources[id].pool != sources[group.first].pool) return false;
  return true;
}

Result<std::vector<double>> factor_of(std::span<const double> correlation, std::size_t n) {
  const auto bad = [](const char* what) {
    return fail(ErrorCode::invalid_input, std::string("the correlation matrix ") + what,
                "Give a symmetric, positive semidefinite matrix with ones on its diagonal.");
  };
  if (correlation.size() != n * n) return bad("has the wrong size");
  const Eigen::Map<const Eigen::Matrix<double, Eigen::Dynamic, Eigen::Dynamic, Eigen::RowMajor>> r(
      correlation.data(), static_cast<Eigen::Index>(n), static_cast<Eigen::Index>(n));
  if (!r.allFinite() || (r - r.transpose()).cwiseAbs().maxCoeff() > 1e-12) return bad("is not symmetric");
  if ((r.diagonal().array() - 1).abs().maxCoeff() > 1e-12) return bad("has a diagonal other than 1");
  // LDLT with pivots takes semidefinite matrices too: r = P^T L D L^T P.
  const Eigen::LDLT<Eigen::MatrixXd> ldlt(r);
  if (ldlt.vectorD().minCoeff() < -1e-9) return bad("is not positive semidefinite");
  const Eigen::MatrixXd l = ldlt.matrixL();
  const Eigen::MatrixXd root =
      ldlt.transpositionsP().transpose() * (l * ldlt.vectorD().cwiseMax(0).cwiseSqrt().asDiagonal().toDenseMatrix());
  std::vector<double> factor(n * n);
  for (std::size_t i = 0; i < n; ++i)
    for (std::size_t j = 0; j < n; ++j)
      factor[i * n + j] = root(static_cast<Eigen::Index>(i), static_cast<Eigen::Index>(j));
  return factor;
}

}  // namespace

PoolId Sources::add_pool(double degrees_of_freedom) {
  pools_.push_back(degrees_of_freedom);
  return static_cast<PoolId>(pools_.size()) - 1;
}

SourceId Sources::add(Source source) {
  sources_.push_back(std::move(source));
  groups_of_.push_back(-1);
  return static_cast<SourceId>(sources_.size() - 1);
}

Result<SourceId> Sources::add_correlated(std::span<const Source> sources, std::span<const double> correlation) {
  if (sources.empty()) return fail(ErrorCode::invalid_input, "no sources to correlate");
  for (const Source& s : sources) {
    if (s.distribution != Distribution::normal)
      return fail(ErrorCode::invalid_input, "'" + s.name + "' is not normal, so a correlation does not define it",
                  "Correlate normal sources only.");
  }
  auto factor = factor_of(correlation, sources.size());
  if (!factor) return tl::unexpected(factor.error());
  const auto first = static_cast<SourceId>(sources_.size());
  sources_.insert(sources_.end(), sources.begin(), sources.end());
  groups_of_.insert(groups_of_.end(), sources.size(), static_cast<std::int32_t>(groups_.size()));
  groups_.push_back({first,
                     static_cast<std::uint32_t>(sources.size()),
                     {correlation.begin(), correlation.end()},
                     std::move(*factor)});
  return first;
}

double Uncertain::derivative(SourceId source) const {
  const auto found = std::ranges::lower_bound(terms_, source, {}, &Term::source);
  return found != terms_.end() && found->source == source ? found->derivative : 0;
}

Uncertain Uncertain::map(double value, double slope, const Uncertain& a) {
  Uncertain out(value);
  out.terms_ = a.terms_;
  for (Term& t : out.terms_) t.derivative *= slope;
  return out;
}

Uncertain Uncertain::combine(double value, double da, const Uncertain& a, double db, const Uncertain& b) {
  if (b.terms_.empty()) return map(value, da, a);
  if (a.terms_.empty()) return map(value, db, b);
  Uncertain out(value);
  out.terms_.reserve(a.terms_.size() + b.terms_.size());
  const auto* i = a.terms_.data();
  const auto* const i_end = i + a.terms_.size();
  const auto* j = b.terms_.data();
  const auto* const j_end = j + b.terms_.size();
  while (i != i_end && j != j_end) {
    if (i->source < j->source) {
      out.terms_.push_back({i->source, da * i->derivative});
      ++i;
    } else if (j->source < i->source) {
      out.terms_.push_back({j->source, db * j->derivative});
      ++j;
    } else {
      out.terms_.push_back({i->source, da * i->derivative + db * j->derivative});
      ++i;
      ++j;
    }
  }
  for (; i != i_end; ++i) out.terms_.push_back({i->source, da * i->derivative});
  for (; j != j_end; ++j) out.terms_.push_back({j->source, db * j->derivative});
  return out;
}

Uncertain exp(const Uncertain& a) {
  const double v = std::exp(a.value());
  return Uncertain::map(v, v, a);
}
Uncertain log(const Uncertain& a) {
  return Uncertain::map(std::log(a.value()), 1 / a.value(), a);
}
Uncertain log2(const Uncertain& a) {
  return Uncertain::map(std::log2(a.value()), 1 / (a.value() * std::log(2.0)), a);
}
Uncertain log10(const Uncertain& a) {
  return Uncertain::map(std::log10(a.value()), 1 / (a.value() * std::log(10.0)), a);
}
Uncertain sqrt(const Uncertain& a) {
  const double v = std::sqrt(a.value());
  return Uncertain::map(v, 0.5 / v, a);
}
Uncertain cbrt(const Uncertain& a) {
  const double v = std::cbrt(a.value());
  return Uncertain::map(v, 1 / (3 * v * v), a);
}
Uncertain pow(const Uncertain& a, double exponent) {
  return Uncertain::map(std::pow(a.value(), exponent), exponent * std::pow(a.value(), exponent - 1), a);
}
Uncertain pow(const Uncertain& a, const Uncertain& exponent) {
  const double v = std::pow(a.value(), exponent.value());
  return Uncertain::combine(v, exponent.value() * std::pow(a.value(), exponent.value() - 1), a, v * std::log(a.value()),
                            exponent);
}
Uncertain pow(double a, const Uncertain& exponent) {
  const double v = std::pow(a, exponent.value());
  return Uncertain::map(v, v * std::log(a), exponent);
}
Uncertain sin(const Uncertain& a) {
  return Uncertain::map(std::sin(a.value()), std::cos(a.value()), a);
}
Uncertain cos(const Uncertain& a) {
  return Uncertain::map(std::cos(a.value()), -std::sin(a.value()), a);
}
Uncertain tan(const Uncertain& a) {
  const double v = std::tan(a.value());
  return Uncertain::map(v, 1 + v * v, a);
}
Uncertain atan(const Uncertain& a) {
  return Uncertain::map(std::atan(a.value()), 1 / (1 + a.value() * a.value()), a);
}
Uncertain atan2(const Uncertain& y, const Uncertain& x) {
  const double r2 = x.value() * x.value() + y.value() * y.value();
  return Uncertain::combine(std::atan2(y.value(), x.value()), x.value() / r2, y, -y.value() / r2, x);
}
Uncertain hypot(const Uncertain& x, const Uncertain& y) {
  const double r = std::hypot(x.value(), y.value());
  return Uncertain::combine(r, x.value() / r, x, y.value() / r, y);
}
Uncertain fabs(const Uncertain& a) {
  return a.value() < 0 ? -a : a;
}

double variance(const Uncertain& a, const Sources& sources) {
  double sum = 0;
  for_each_contribution(a, sources, [&](SourceId, double own, double with_all) { sum += own * with_all; });
  return std::max(sum, 0.0);
}

double standard_uncertainty(const Uncertain& a, const Sources& sources) {
  return std::sqrt(variance(a, sources));
}

double covariance(const Uncertain& a, const Uncertain& b, const Sources& sources) {
  // Polarisation keeps one definition of how correlations enter; scaled so that neither output drowns the other.
  const double va = variance(a, sources), vb = variance(b, sources);
  if (va == 0 || vb == 0) return 0;
  const double sa = std::sqrt(va), sb = std::sqrt(vb);
  const double plus = variance(Uncertain::combine(0, 1 / sa, a, 1 / sb, b), sources);
  const double minus = variance(Uncertain::combine(0, 1 / sa, a, -1 / sb, b), sources);
  return sa * sb * (plus - minus) / 4;
}

double correlation(const Uncertain& a, const Uncertain& b, const Sources& sources) {
  const double va = variance(a, sources), vb = variance(b, sources);
  return va == 0 || vb == 0 ? 0 : covariance(a, b, sources) / std::sqrt(va * vb);
}

std::vector<VarianceShare> variance_shares(const Uncertain& a, const Sources& sources) {
  std::map<std::string, double> by_name;
  double total = 0;
  for_each_contribution(a, sources, [&](SourceId id, double own, double with_all) {
    by_name[sources[id].name] += own * with_all;
    total += own * with_all;
  });
  std::vector<VarianceShare> shares;
  for (const auto& [name, part] : by_name) shares.push_back({name, part, total > 0 ? part / total : 0});
  std::ranges::stable_sort(shares, std::greater{}, &VarianceShare::variance);
  return shares;
}

EffectiveDegreesOfFreedom effective_degrees_of_freedom(const Uncertain& a, const Sources& sources) {
  struct Mixed {  // a group whose members come from several variance estimates
    double variance = 0;
    double smallest = std::numeric_limits<double>::infinity();
  };
  std::map<PoolId, double> by_pool;
  std::map<const CorrelatedGroup*, Mixed> mixed;
  double total = 0;
  for_each_contribution(a, sources, [&](SourceId id, double own, double with_all) {
    total += own * with_all;
    const CorrelatedGroup* group = sources.group_of(id);
    if (group == nullptr || has_one_pool(*group, sources)) {
      by_pool[sources[id].pool] += own * with_all;
    } else {
      Mixed& m = mixed[group];
      m.variance += own * with_all;
      m.smallest = std::min(m.smallest, sources.degrees_of_freedom(sources[id].pool));
    }
  });
  EffectiveDegreesOfFreedom out;
  double sum = 0;
  for (const auto& [pool, part] : by_pool) sum += part * part / sources.degrees_of_freedom(pool);
  for (const auto& [group, m] : mixed) {
    sum += m.variance * m.variance / m.smallest;
    out.approximate = out.approximate || std::isfinite(m.smallest);
  }
  if (total > 0 && sum > 0) out.value = total * total / sum;
  return out;
}

LinearResult linear_result(const Uncertain& a, const Sources& sources, double coverage) {
  LinearResult out;
  out.value = a.value();
  out.standard_uncertainty = standard_uncertainty(a, sources);
  out.degrees_of_freedom = effective_degrees_of_freedom(a, sources);
  out.factor = student_factor(out.degrees_of_freedom.value, coverage);
  const double half = out.factor * out.standard_uncertainty;
  out.interval = {a.value() - half, a.value() + half};
  return out;
}

}  // namespace provenit::colour
