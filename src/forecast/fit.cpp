#include "fit.h"

#include <algorithm>
#include <cmath>
#include <map>

#include "least_squares.h"
#include "spot.h"

namespace provenit::forecast {
namespace {

/// How well the form itself may be expected to fit: relative, of lit places and of black beside them. Our own choice.
constexpr double kLitForm = 0.01, kDarkForm = 0.08;

double share_of(double t) {
  return 1 / (1 + std::exp(-t));
}

struct Prior {
  double mean, deviation;
};

/// How a list of free numbers becomes optics.
class Form {
 public:
  explicit Form(Optics base) : base_(std::move(base)) {
    const auto black = Prior{std::log(std::max(base_.leak_cdm2, 1e-6)), base_.zoned() ? 1.5 : 0.7};
    priors_ = {black};
    if (base_.zoned()) {
      base_.load = {0.12, 0.25, 0.5, 0.75, 1};
      // Minimum drive, exponent, share of the largest, of neighbours, core, shares of the wider parts, headroom.
      for (const Prior p : {Prior{std::log(0.004), 1.5},
                            {std::log(0.8), 0.4},
                            {0.8, 1.2},
                            {-0.8, 1.5},
                            {0, 0.4},
                            {std::log(0.15), 1.0},
                            {std::log(0.03), 1.0},
                            {std::log(1.03), 0.04}})
        priors_.push_back(p);
      first_cap_ = priors_.size();
    } else {
      base_.load = {0.02, 0.05, 0.1, 0.25, 0.5, 0.75, 1};                                 // as window_peak reads them
      for (const Prior p : {Prior{0, 0.5}, {0, 0.5}, {-2.5, 1.5}}) priors_.push_back(p);  // weights, dimming of all
      first_cap_ = priors_.size();
    }
    for (std::size_t i = 0; i < base_.load.size(); ++i)
      priors_.push_back(i == 0 ? Prior{0, 0.02}
                               : Prior{base_.zoned() ? -4.5 : -3.0, 2.5});  // falls by this share of what it was
  }

  [[nodiscard]] std::vector<double> start() const {
    std::vector<double> out;
    for (const auto& p : priors_) out.push_back(p.mean);
    return out;
  }
  [[nodiscard]] const std::vector<Prior>& priors() const { return priors_; }
  [[nodiscard]] std::size_t first_cap() const { return first_cap_; }

  [[nodiscard]] Optics optics(std::span<const double> t) const {
    Optics out = base_;
    out.leak_cdm2 = std::exp(t[0]);
    if (out.zoned()) {
      out.minimum_drive = std::min(std::exp(t[1]), 0.5);
      out.exponent = std::exp(t[2]);
      out.largest_share = share_of(t[3]);
      out.neighbour_share = share_of(t[4]);
      out.spread_zones[0] = std::exp(t[5]);
      const double a = std::exp(t[6]), b = std::exp(t[7]);
      out.spread_share = {1 / (1 + a + b), a / (1 + a + b), b / (1 + a + b)};
      out.headroom = std::exp(t[8]);
    } else {
      const double r = std::exp(t[1]), b = std::exp(t[2]);
      out.weight = {r / (1 + r + b), 1 / (1 + r + b), b / (1 + r + b)};
      out.dim = share_of(t[3]);
    }
    double cap = std::exp(t[first_cap_]);
    out.cap = {cap};
    for (std::size_t i = 1; i < out.load.size(); ++i) out.cap.push_back(cap *= 1 - share_of(t[first_cap_ + i]));
    return out;
  }

 private:
  Optics base_;
  std::vector<Prior> priors_;
  std::size_t first_cap_ = 0;
};

struct Observed {
  Spot spot;
  double read = 0, u = 0;
  bool lit = false;
};

/// Reading against forecast, in standard deviations. Ratios where the reading stands well above its noise.
double residual(const Observed& o, double forecast) {
  const double form = o.lit ? kLitForm : kDarkForm;
  if (o.read > 10 * o.u) return std::log(std::max(forecast, 1e-9) / o.read) / std::hypot(form, o.u / o.read);
  return (forecast - o.read) / std::hypot(std::max(o.u, 1e-6), form * std::max(o.read, 0.0));
}

/// The colour of what leaks, from black beside light: the mean, weighted by light.
colour::AbsoluteXyz<> leak_colour(const std::vector<SpotReading>& spots, const std::vector<Observed>& observed) {
  colour::AbsoluteXyz<> sum{0, 0, 0};
  for (std::size_t i = 0; i < spots.size(); ++i)
    if (!observed[i].lit && spots[i].light.Y > 20 * spots[i].standard_uncertainty_cdm2)
      sum = {.X = sum.X + spots[i].light.X, .Y = sum.Y + spots[i].light.Y, .Z = sum.Z + spots[i].light.Z};
  if (!(sum.Y > 0)) return {.X = 0.9505, .Y = 1, .Z = 1.089};
  return {.X = sum.X / sum.Y, .Y = 1, .Z = sum.Z / sum.Y};
}

}  // namespace

Unevenness unevenness_of(const std::vector<SpotReading>& spots) {
  // Fields of one signal, as ratios to the centre; the centre's own light is one more number to find.
  struct Point {
    double u, v, log;
  };
  std::map<std::string, std::vector<Point>> fields;
  for (const auto& s : spots)
    if (s.signal.geometry.shape == signal::Shape::full_field && s.light.Y > 1)
      fields[signal::describe(s.signal)].push_back({2 * s.x - 1, 2 * s.y - 1, std::log(s.light.Y)});
  const std::vector<Point>* best = nullptr;
  for (const auto& [name, points] : fields)
    if (best == nullptr || points.size() > best->size()) best = &points;
  Unevenness out;
  if (best == nullptr || best->size() < 5) return out;
  const auto residuals = [&](std::span<const double> t) {
    std::vector<double> r;
    for (const auto& p : *best)
      r.push_back((t[5] + t[0] * p.u + t[1] * p.v + t[2] * p.u * p.u + t[3] * p.u * p.v + t[4] * p.v * p.v - p.log) /
                  0.005);
    for (std::size_t i = 0; i < 5; ++i) r.push_back(t[i] / 0.1);
    return r;
  };
  const auto found = least_squares(residuals, {0, 0, 0, 0, 0, best->front().log});
  std::copy_n(found.at.begin(), 5, out.c.begin());
  return out;
}

OpticsFit optics_of(const Channels& channels, const Unevenness& unevenness, const Optics& grid,
                    const std::vector<SpotReading>& spots) {
  std::vector<Observed> observed;
  double black = 0;
  for (const auto& s : spots) {
    Observed o{.spot = spot_of(channels, grid, s.signal, s.x, s.y),
               .read = s.light.Y,
               .u = s.standard_uncertainty_cdm2,
               .lit = false};
    const auto& f = o.spot.on_patch ? o.spot.patch : o.spot.surround;
    o.lit = channels.light(1, 0) * f[0] + channels.light(1, 1) * f[1] + channels.light(1, 2) * f[2] >= 1;
    if (!o.lit && s.signal.geometry.shape == signal::Shape::full_field) black = s.light.Y;
    observed.push_back(std::move(o));
  }
  Optics base = grid;
  base.leak_colour = leak_colour(spots, observed);
  base.leak_cdm2 = grid.zoned() ? channels.light(1, 0) + channels.light(1, 1) + channels.light(1, 2) : black;
  if (grid.zoned()) base.leak_cdm2 /= 1000;  // where the search begins: a contrast of 1000 to 1 of the panel itself
  const Form form(base);
  const auto residuals = [&](std::span<const double> t) {
    const Optics optics = form.optics(t);
    std::vector<double> r;
    for (const auto& o : observed) r.push_back(residual(o, light_at(channels, optics, unevenness, o.spot).xyz.Y));
    for (std::size_t i = 0; i < t.size(); ++i) r.push_back((t[i] - form.priors()[i].mean) / form.priors()[i].deviation);
    return r;
  };
  auto best = least_squares(residuals, form.start());
  if (grid.zoned())
    for (const double exponent : {0.5, 1.2}) {
      auto start = form.start();
      start[2] = std::log(exponent);
      start[4] = 0.5;  // neighbours much
      if (auto found = least_squares(residuals, start); found.cost < best.cost) best = std::move(found);
    }
  OpticsFit out{.optics = form.optics(best.at)};
  const double freedom = std::max(1.0, static_cast<double>(observed.size()) - 3);
  const double inflate = std::max(1.0, std::sqrt(best.cost / freedom));
  out.black_deviation = grid.zoned() ? 0.05 : best.deviation[0] * inflate;
  if (grid.zoned()) out.headroom_deviation = best.deviation[8] * inflate;
  double sum = 0;
  for (std::size_t i = 1; i < out.optics.load.size(); ++i) {
    const double fall = share_of(best.at[form.first_cap() + i]);
    sum += std::pow(best.deviation[form.first_cap() + i] * fall, 2);  // d ln(1 - share)
  }
  out.cap_deviation = std::clamp(std::sqrt(sum / static_cast<double>(out.optics.load.size())) * inflate, 0.002, 0.2);
  return out;
}

}  // namespace provenit::forecast
