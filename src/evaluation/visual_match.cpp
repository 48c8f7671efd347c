#include "provenit/evaluation/visual_match.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <functional>

#include "provenit/colour/spaces.h"
#include "provenit/colour/spectrum_xyz.h"
#include "traces/figure.h"

namespace provenit::evaluation {
namespace {

using colour::Spectrum;
using Repeats = std::vector<Spectrum>;

constexpr double kBandwidthKnown = 0.1;             // relative standard uncertainty of a data sheet's bandwidth: ours
constexpr double kMiddle_nm = 555, kHalf_nm = 150;  // slope and curvature of the radiance scale are about here

/// dx, dy, x, y.
using Numbers = std::array<double, 4>;

/// What an instrument may have wrong, each in standard uncertainties.
struct Wrong {
  double wavelength = 0, bandwidth = 0, slope = 0, curvature = 0;
};

Spectrum mean_of(const Repeats& repeats, std::size_t without = SIZE_MAX) {
  Spectrum out = repeats.front();
  std::ranges::fill(out.values, 0.0);
  const auto n = static_cast<double>(repeats.size() - (without < repeats.size() ? 1 : 0));
  for (std::size_t k = 0; k < repeats.size(); ++k)
    if (k != without)
      for (std::size_t i = 0; i < out.values.size(); ++i) out.values[i] += repeats[k].values[i] / n;
  return out;
}

/// The spectrum on its own grid, moved up by so many nanometres: straight lines between samples.
Spectrum moved(const Spectrum& s, double by_nm) {
  Spectrum out = s;
  for (int i = 0; i < s.size(); ++i) {
    const double at = std::clamp(i - by_nm / s.step_nm, 0.0, s.size() - 1.0);
    const int low = std::min(static_cast<int>(at), s.size() - 2);
    out.values[i] = s.values[low] + (at - low) * (s.values[low + 1] - s.values[low]);
  }
  return out;
}

/// What the display gives if the instrument is wrong by this much. `scale`: radiance per standard uncertainty.
Spectrum corrected(const Spectrum& read, const ReadSpectra& of, const Wrong& wrong, double scale) {
  Spectrum s = read;
  const Spectrum again = blurred(s, of.bandwidth_nm * (1 + kBandwidthKnown * wrong.bandwidth));
  for (int i = 0; i < s.size(); ++i) s.values[i] = 2 * s.values[i] - again.values[i];
  if (wrong.wavelength != 0) s = moved(s, of.wavelength_nm * wrong.wavelength);
  for (int i = 0; i < s.size(); ++i) {
    const double t = (s.wavelength_nm(i) - kMiddle_nm) / kHalf_nm;
    s.values[i] *= 1 + scale * (wrong.slope * t + wrong.curvature * (t * t - 1. / 3));
  }
  return s;
}

Result<void> check(const Repeats& repeats, const char* what) {
  if (repeats.empty())
    return fail(ErrorCode::invalid_input, fmt::format("there is no spectrum of {}", what),
                "Run the procedure `spectra` with an instrument that reads spectra.");
  for (const auto& s : repeats)
    if (s.size() < 3 || s.step_nm > 5 || s.size() != repeats[0].size() || s.start_nm != repeats[0].start_nm ||
        s.step_nm != repeats[0].step_nm)
      return fail(ErrorCode::invalid_input,
                  fmt::format("the spectra of {} have steps above 5 nm, or not one grid", what),
                  "Read all with one setting of the instrument.");
  return {};
}

Result<void> check(const MatchQuestion& q) {
  if (auto ok = check(q.reference.white, "the reference display's white"); !ok) return ok;
  if (auto ok = check(q.adjusted.white, "the other display's white"); !ok) return ok;
  constexpr std::array names{"the other display's red", "the other display's green", "the other display's blue"};
  for (std::size_t c = 0; c < 3; ++c)
    if (auto ok = check(q.adjusted.primaries[c], names[c]); !ok) return ok;
  return {};
}

class Match {
 public:
  explicit Match(const MatchQuestion& q) : q_(q), white_(mean_of(q.reference.white)) {
    for (std::size_t c = 0; c < 3; ++c) primaries_[c] = mean_of(q.adjusted.primaries[c]);
    scale_ = {scale_of(q.reference, white_), scale_of(q.adjusted, mean_of(q.adjusted.white))};
  }

  [[nodiscard]] Result<MatchOffset> offset(const Spectrum& white, const std::array<Spectrum, 3>& primaries,
                                           const Wrong& reference, const Wrong& adjusted) const {
    std::array<Spectrum, 3> p;
    for (std::size_t c = 0; c < 3; ++c) p[c] = corrected(primaries[c], q_.adjusted, adjusted, scale_[1]);
    return visual_match_offset(corrected(white, q_.reference, reference, scale_[0]), p, q_.observer);
  }
  [[nodiscard]] Result<colour::SpectralXyz> now() const {
    return colour::xyz_from_radiance(corrected(mean_of(q_.adjusted.white), q_.adjusted, {}, 0),
                                     {.summation = colour::Summation::linear});
  }
  [[nodiscard]] Result<MatchOffset> offset() const { return offset(white_, primaries_, {}, {}); }

  /// Half of what changes between one standard uncertainty up and down.
  [[nodiscard]] Numbers part(double Wrong::*what, bool in_reference, bool in_adjusted) const {
    Wrong up, down;
    up.*what = 1, down.*what = -1;
    const auto high = offset(white_, primaries_, in_reference ? up : Wrong{}, in_adjusted ? up : Wrong{});
    const auto low = offset(white_, primaries_, in_reference ? down : Wrong{}, in_adjusted ? down : Wrong{});
    Numbers out{};
    if (!high || !low) return out;
    const auto a = numbers(*high), b = numbers(*low);
    for (std::size_t k = 0; k < 4; ++k) out[k] = 0.5 * (a[k] - b[k]);
    return out;
  }

  /// Variance by leaving out one repeat of one patch after the other, with its degrees of freedom
  /// (Welch-Satterthwaite).
  struct Scatter {
    Numbers variance{}, over{};  ///< over: sum of variance^2 / degrees of freedom
    [[nodiscard]] double degrees_of_freedom(std::size_t k) const {
      return over[k] > 0 ? variance[k] * variance[k] / over[k] : 1e9;
    }
  };
  [[nodiscard]] Scatter scatter() const {
    Scatter out;
    add(out, q_.reference.white, [&](const Spectrum& s) { return offset(s, primaries_, {}, {}); });
    for (std::size_t c = 0; c < 3; ++c)
      add(out, q_.adjusted.primaries[c], [&](const Spectrum& s) {
        auto p = primaries_;
        p[c] = s;
        return offset(white_, p, {}, {});
      });
    return out;
  }

  static Numbers numbers(const MatchOffset& m) { return {m.dx, m.dy, m.matched.x, m.matched.y}; }

 private:
  static void add(Scatter& out, const Repeats& repeats, const std::function<Result<MatchOffset>(const Spectrum&)>& at) {
    const auto n = static_cast<double>(repeats.size());
    if (repeats.size() < 2) return;
    std::vector<Numbers> without;
    Numbers mean{};
    for (std::size_t k = 0; k < repeats.size(); ++k) {
      const auto m = at(mean_of(repeats, k));
      if (!m) return;
      without.push_back(numbers(*m));
      for (std::size_t i = 0; i < 4; ++i) mean[i] += without.back()[i] / n;
    }
    for (std::size_t i = 0; i < 4; ++i) {
      double sum = 0;
      for (const auto& w : without) sum += std::pow(w[i] - mean[i], 2);
      const double variance = (n - 1) / n * sum;
      out.variance[i] += variance;
      out.over[i] += variance * variance / (n - 1);
    }
  }

  /// Slope and curvature, equally uncertain, that together make the certificate's uncertainty of x, y at this white.
  static double scale_of(const ReadSpectra& of, const Spectrum& white) {
    const auto xy = [&](const Wrong& wrong) {
      const auto seen =
          colour::xyz_from_radiance(corrected(white, of, wrong, 0.01), {.summation = colour::Summation::linear});
      return seen ? colour::xy_from_xyz(seen->xyz) : colour::Xy<>{};
    };
    const auto none = xy({}), slope = xy({.slope = 1}), curvature = xy({.curvature = 1});
    double sum = 0;
    for (const auto& w : {slope, curvature}) sum += std::pow(w.x - none.x, 2) + std::pow(w.y - none.y, 2);
    return sum > 0 ? 0.01 * std::sqrt((of.x_standard * of.x_standard + of.y_standard * of.y_standard) / sum) : 0;
  }

  const MatchQuestion& q_;
  Spectrum white_;
  std::array<Spectrum, 3> primaries_;
  std::array<double, 2> scale_{};
};

struct NamedMatch {
  const char* name;
  double Wrong::*what;
};
constexpr std::array<NamedMatch, 4> kWrong{{{"wavelength scale", &Wrong::wavelength},
                                            {"bandwidth", &Wrong::bandwidth},
                                            {"scale of radiance, slope", &Wrong::slope},
                                            {"scale of radiance, curvature", &Wrong::curvature}}};

}  // namespace

Result<MatchFigures> match_whites(const MatchQuestion& question) {
  if (auto ok = check(question); !ok) return tl::unexpected(ok.error());
  const Match match(question);
  const auto offset = match.offset();
  if (!offset) return tl::unexpected(offset.error());
  const auto now = match.now();
  if (!now) return tl::unexpected(now.error());
  const auto scatter = match.scatter();
  std::array<std::vector<std::pair<std::string, double>>, 4> parts;
  for (std::size_t k = 0; k < 4; ++k) parts[k].emplace_back("scatter of the repeats", std::sqrt(scatter.variance[k]));
  const auto add = [&](const std::string& name, const Numbers& part) {
    for (std::size_t k = 0; k < 4; ++k) parts[k].emplace_back(name, std::fabs(part[k]));
  };
  for (const auto& [name, what] : kWrong) {
    if (question.same_instrument) {
      add(name, match.part(what, true, true));
    } else {
      add(fmt::format("{}, reference display", name), match.part(what, true, false));
      add(fmt::format("{}, other display", name), match.part(what, false, true));
    }
  }
  const auto value = Match::numbers(*offset);
  const auto figure = [&](std::size_t k) { return figure_of(value[k], parts[k], scatter.degrees_of_freedom(k)); };
  MatchFigures out{.offset = *offset,
                   .now = colour::xy_from_xyz(now->xyz),
                   .dx = figure(0),
                   .dy = figure(1),
                   .x = figure(2),
                   .y = figure(3),
                   .flags = {}};
  const auto once = [](const Repeats& r) { return r.size() < 2; };
  if (once(question.reference.white) || std::ranges::any_of(question.adjusted.primaries, once))
    out.flags.emplace_back("a patch was read once only: its noise is not in the intervals");
  return out;
}

}  // namespace provenit::evaluation
