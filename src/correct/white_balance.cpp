#include "provenit/correct/white_balance.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "balance_internal.h"

namespace provenit::correct {
namespace {

using balance::Coordinates;
using balance::Model;

// Common practice, no source, each of these; the tests hold them against 100 displays.
constexpr double kFirstProbe = 0.1;  ///< of the control's range
constexpr double kProbeGrowth = 4;   ///< of a probe that was lost in the noise
constexpr double kFar = 0.4;         ///< of the range: a control that was turned so far and did nothing does nothing
constexpr double kClear = 4;         ///< standard deviations that an effect stands clear of the noise
constexpr double kNoEffect = 0.5;    ///< tolerances over the whole range: less is nothing
constexpr double kEarly = 0.6;       ///< of the error: a proposal that promises this is tried before all is probed
constexpr double kWorthwhile = 0.1;  ///< of the error, by which another setting must promise to lower it
constexpr double kWorthwhileWithin = 0.15;  ///< the same in tolerances, once within tolerance
constexpr double kNoisy = 0.35;             ///< tolerances, standard deviation: more is read again at once
constexpr double kNoisyShare = 0.1;         ///< or of the error, where that is larger
constexpr double kBold = 0.1;               ///< of the model's uncertainty counts where nothing surer promises anything
constexpr int kPatience = 4;                ///< proposals that do not lower the error before the best is taken
constexpr const char* kOpen = "its interval reaches over the tolerance";
constexpr std::size_t kCandidates = 48;  ///< settings that are held against each other by their whole error

bool complete(const BalanceVisit& visit) {
  return std::ranges::all_of(visit.levels, [](const auto& l) { return l.readings > 0; });
}

/// The state of the sitting once the visit under way has been read at every level.
class Sitting {
 public:
  Sitting(const BalanceTask& task, std::span<const BalanceVisit> visits, const colour::Sources& sources,
          std::span<const colour::SourceId> common)
      : task_(task),
        visits_(visits),
        sources_(sources),
        common_(common),
        coordinates_(task, visits),
        now_(figures(visits.back())),
        model_{task, coordinates_, {}, {}, {}} {
    for (const auto& visit : visits) {
      all_.push_back(figures(visit));
      lit_.emplace_back();
      for (const auto& f : all_.back()) lit_.back().push_back(f.has_light);
    }
    find_best();
    model_.centre = visits[best_].settings;
    model_.levels = balance::responses(task, visits, lit_, coordinates_, best_, sources, common);
    for (std::size_t j = 0; j < task.controls.size(); ++j) {
      const Probed turned = probed(j);
      model_.inert.push_back(!turned.clear && turned.exhausted);
    }
  }

  BalanceStep next() {
    const bool full = static_cast<int>(visits_.size()) >= task_.most_settings;
    if (largest(&LevelFigures::upper_ratio) <= 1) return finish(false);
    if (const auto level = too_noisy()) return repeat(*level, "one reading scatters too much");
    if (best_ratio_ <= 1 && at_best())
      if (const auto level = to_repeat(true)) return repeat(*level, kOpen);
    if (!full)
      if (auto step = improve()) return *step;
    if (!at_best() && !full && visits_.back().move != BalanceMove::back)
      return set(visits_[best_].settings, BalanceMove::back, "the best of the settings tried, read again");
    if (const auto level = to_repeat(false)) return repeat(*level, kOpen);
    return finish(full);
  }

 private:
  [[nodiscard]] std::vector<LevelFigures> figures(const BalanceVisit& visit) const {
    std::vector<LevelFigures> out;
    for (std::size_t l = 0; l < task_.levels.size(); ++l)
      out.push_back(level_figures(task_, l, visit.levels[l].light, sources_, common_));
    return out;
  }
  [[nodiscard]] double largest(double LevelFigures::*ratio) const {
    double out = 0;
    for (const auto& f : now_) out = std::max(out, f.*ratio);
    return out;
  }
  /// Error of a visit by its values, finite without light.
  [[nodiscard]] double ratio_of(std::size_t visit) const {
    double out = 0;
    for (const auto& f : all_[visit]) out = std::max(out, f.has_light ? f.ratio : balance::kNoLight);
    return out;
  }

  /// The visit of the setting with the least error, the mean of all visits to it.
  void find_best() {
    best_ratio_ = std::numeric_limits<double>::infinity();
    for (std::size_t i = 0; i < visits_.size(); ++i) {
      const auto* base = visits_[i].move == BalanceMove::probe ? balance::base_of(visits_[i], visits_) : nullptr;
      if (base != nullptr && !shows(visits_[i], *base)) continue;  // no better for having turned what did nothing
      double sum = 0;
      int n = 0;
      for (std::size_t k = 0; k < visits_.size(); ++k)
        if (visits_[k].settings == visits_[i].settings) sum += ratio_of(k), ++n;
      if (sum / n < best_ratio_) best_ratio_ = sum / n, best_ = i;
    }
  }
  [[nodiscard]] bool at_best() const { return visits_.back().settings == visits_[best_].settings; }
  [[nodiscard]] bool visited(const ControlSettings& settings) const {
    return std::ranges::any_of(visits_, [&](const auto& v) { return v.settings == settings; });
  }

  // Repeats ----------------------------------------------------------------------------------------------------------

  /// A level whose scatter is too large to judge this setting by.
  [[nodiscard]] std::optional<std::size_t> too_noisy() const {
    if (visits_.back().move == BalanceMove::probe) return std::nullopt;
    for (std::size_t l = 0; l < now_.size(); ++l) {
      const double noise = (now_[l].upper_ratio_by_noise - now_[l].ratio) / 2;
      const bool more = now_[l].has_light && visits_.back().levels[l].readings < task_.most_repeats;
      if (more && noise > std::max(kNoisy, kNoisyShare * largest(&LevelFigures::ratio))) return l;
    }
    return std::nullopt;
  }

  /// The level that another reading may decide; `inside`: only where all repeats together would bring it inside.
  [[nodiscard]] std::optional<std::size_t> to_repeat(bool inside) const {
    std::optional<std::size_t> out;
    for (std::size_t l = 0; l < now_.size(); ++l) {
      const auto& f = now_[l];
      const int read = visits_.back().levels[l].readings;
      if (!f.has_light || f.upper_ratio <= 1 || f.lower_ratio > 1 || read >= task_.most_repeats) continue;
      const double all = f.upper_ratio - f.ratio, noise = f.upper_ratio_by_noise - f.ratio;
      const double left =
          std::sqrt(std::max(0.0, all * all - noise * noise) + noise * noise * read / task_.most_repeats);
      if (inside ? f.ratio + left > 1 : noise < 0.4 * all) continue;
      if (!out || read < visits_.back().levels[*out].readings) out = l;
    }
    // One level that cannot be brought inside makes repeats of the others useless.
    if (inside && out)
      for (const auto& f : now_)
        if (f.ratio > 1) return std::nullopt;
    return out;
  }
  [[nodiscard]] BalanceStep repeat(std::size_t level, const char* why) const {
    return {.move = visits_.back().move,
            .settings = visits_.back().settings,
            .level = level,
            .why = fmt::format("reading {}: {}", visits_.back().levels[level].readings + 1, why),
            .outcome = {}};
  }

  // Probes -----------------------------------------------------------------------------------------------------------

  /// Furthest that this control alone was moved, upwards and downwards, and whether that showed.
  struct Probed {
    double up = 0, down = 0;
    bool clear = false, exhausted = false;
  };
  [[nodiscard]] Probed probed(std::size_t control) const {
    Probed out;
    for (const auto& visit : visits_) {
      if (visit.move != BalanceMove::probe) continue;
      const auto* base = balance::base_of(visit, visits_);
      if (base == nullptr || base->settings[control] == visit.settings[control]) continue;
      if (!as_lit(visit) || !as_lit(*base)) continue;
      const double by = visit.settings[control] - base->settings[control];
      out.up = std::max(out.up, by);
      out.down = std::max(out.down, -by);
      out.clear = out.clear || shows(visit, *base);
    }
    const Control& c = task_.controls[control];
    out.exhausted = std::max(out.up, out.down) >= kFar * (c.highest - c.lowest);
    return out;
  }
  /// Every level that has light at the best setting has light here.
  [[nodiscard]] bool as_lit(const BalanceVisit& visit) const {
    const auto& here = lit_[static_cast<std::size_t>(&visit - visits_.data())];
    for (std::size_t l = 0; l < here.size(); ++l)
      if (lit_[best_][l] && !here[l]) return false;
    return true;
  }
  [[nodiscard]] bool shows(const BalanceVisit& a, const BalanceVisit& b) const {
    for (std::size_t l = 0; l < task_.levels.size(); ++l) {
      const auto difference = [&](const colour::Uncertain& p, const colour::Uncertain& q) {
        const auto d = balance::noise_only(p - q, common_);
        return std::fabs(d.value()) > kClear * standard_uncertainty(d, sources_) + 0.002 * std::fabs(q.value());
      };
      const auto &p = a.levels[l].light, &q = b.levels[l].light;
      if (difference(p.X, q.X) || difference(p.Y, q.Y) || difference(p.Z, q.Z)) return true;
    }
    return false;
  }

  /// At every level its effect is clear of the model's uncertainty, or too small to matter.
  [[nodiscard]] bool known(std::size_t control) const {
    for (std::size_t l = 0; l < task_.levels.size(); ++l) {
      const auto strength = balance::strength_at(model_, control, l, 2);
      if (strength.tolerances >= kNoEffect && strength.deviations <= kClear) return false;
    }
    return true;
  }
  /// The setting that tells what a control does, or nullopt if that is known, or cannot be known.
  [[nodiscard]] std::optional<ControlSettings> probe(std::size_t control) const {
    const Probed before = probed(control);
    if (before.clear || before.exhausted || known(control)) return std::nullopt;
    const Control& c = task_.controls[control];
    const double at = model_.centre[control];
    const double wanted = kProbeGrowth * std::max(before.up, before.down);
    const double size = wanted > 0 ? wanted : kFirstProbe * (c.highest - c.lowest);
    const bool up_first = c.highest - at >= at - c.lowest;
    for (const bool up : {up_first, !up_first}) {
      const double reach = std::min(size, up ? c.highest - at : at - c.lowest);
      const double steps = (at + (up ? reach : -reach) - c.lowest) / c.step;
      const long k = std::clamp(std::lround(steps), 0L, balance::steps_of(c));
      ControlSettings settings = model_.centre;
      settings[control] = balance::value_of(c, k);
      if (settings[control] == at)
        settings[control] = balance::value_of(c, std::clamp(k + (up ? 1L : -1L), 0L, balance::steps_of(c)));
      const double by = std::fabs(settings[control] - at);
      if (by > (up ? before.up : before.down) + c.step / 2 && !visited(settings)) return settings;
    }
    return std::nullopt;
  }

  // Proposals --------------------------------------------------------------------------------------------------------

  struct Promise {
    const ControlSettings* settings = nullptr;
    double error = std::numeric_limits<double>::infinity();
  };
  [[nodiscard]] Promise promise(const balance::Candidates& candidates, bool expected) const {
    Promise out;
    for (const auto& settings : candidates.settings) {
      if (visited(settings)) continue;
      const double error = model_.score(settings, expected);
      if (error < out.error) out = {&settings, error};
    }
    return out;
  }
  /// Proposals since the best setting was found.
  [[nodiscard]] int in_vain() const {
    return static_cast<int>(std::count_if(visits_.begin() + static_cast<std::ptrdiff_t>(best_) + 1, visits_.end(),
                                          [](const auto& v) { return v.move == BalanceMove::proposal; }));
  }
  /// By how much another setting must promise to be better.
  [[nodiscard]] double worthwhile() const {
    const double noise = (largest(&LevelFigures::upper_ratio_by_noise) - largest(&LevelFigures::ratio)) / 2;
    const double share = best_ratio_ > 1 ? kWorthwhile * best_ratio_ : kWorthwhileWithin;
    return std::isfinite(noise) ? std::max(share, noise) : share;
  }

  std::optional<BalanceStep> improve() {
    const auto candidates = balance::best_on_steps(model_, balance::best_real(model_, 0, 1), kCandidates);
    const Promise safe = promise(candidates, true);
    const auto propose = [&](const Promise& p) {
      return set(*p.settings, BalanceMove::proposal,
                 fmt::format("least error by the readings so far: {:.2f} of the tolerance expected", p.error));
    };
    std::optional<std::size_t> unknown;
    ControlSettings to_probe;
    for (std::size_t j = 0; j < task_.controls.size() && !unknown; ++j)
      if (auto settings = probe(j)) unknown = j, to_probe = std::move(*settings);
    if (unknown) {
      const bool again = visits_.back().move == BalanceMove::proposal && !at_best();
      if (!again && safe.error < kEarly * best_ratio_) return propose(safe);
      return set(to_probe, BalanceMove::probe, fmt::format("what does '{}' do?", task_.controls[*unknown].name));
    }
    if (in_vain() >= kPatience) return std::nullopt;
    if (safe.error < best_ratio_ - worthwhile()) return propose(safe);
    // What is least by the mean alone may teach where the model is not sure.
    const auto bolder = balance::best_on_steps(model_, balance::best_real(model_, 0, kBold), kCandidates);
    const Promise bold = promise(bolder, false);
    if (bold.error < best_ratio_ - worthwhile()) return propose(bold);
    return std::nullopt;
  }

  [[nodiscard]] BalanceStep set(ControlSettings settings, BalanceMove move, std::string why) const {
    // The level that is shown already comes first.
    const std::size_t first = visits_.size() % 2 == 0 ? 0 : task_.levels.size() - 1;
    return {.move = move,
            .new_visit = true,
            .settings = std::move(settings),
            .level = first,
            .why = std::move(why),
            .outcome = {}};
  }

  [[nodiscard]] BalanceStep finish(bool capped) const {
    BalanceOutcome out{.settings = visits_.back().settings,
                       .before = figures(visits_.front()),
                       .after = now_,
                       .reasons = {},
                       .effects = balance::effects_of(model_),
                       .visits = static_cast<int>(visits_.size())};
    for (const auto& visit : visits_)
      for (const auto& level : visit.levels) out.readings += level.readings;
    if (largest(&LevelFigures::upper_ratio) <= 1)
      out.verdict = BalanceVerdict::within;
    else
      out.verdict = largest(&LevelFigures::lower_ratio) > 1 ? BalanceVerdict::out : BalanceVerdict::undecided;
    if (out.verdict != BalanceVerdict::within) out.reasons = balance::reasons_for(model_, now_, capped);
    return {.finished = true, .settings = visits_.back().settings, .why = "", .outcome = std::move(out)};
  }

  const BalanceTask& task_;
  std::span<const BalanceVisit> visits_;
  const colour::Sources& sources_;
  std::span<const colour::SourceId> common_;
  Coordinates coordinates_;
  std::vector<LevelFigures> now_;
  std::vector<std::vector<LevelFigures>> all_;
  balance::Lit lit_;
  Model model_;
  std::size_t best_ = 0;
  double best_ratio_ = 0;
};

/// Levels of one visit to and fro, so that one signal change is saved at each setting.
std::optional<std::size_t> level_to_read(const BalanceVisit& visit, std::size_t number) {
  const std::size_t n = visit.levels.size();
  for (std::size_t i = 0; i < n; ++i) {
    const std::size_t level = number % 2 == 0 ? i : n - 1 - i;
    if (visit.levels[level].readings == 0) return level;
  }
  return std::nullopt;
}

}  // namespace

Result<BalanceStep> next_balance_step(const BalanceTask& task, std::span<const BalanceVisit> visits,
                                      const colour::Sources& sources, std::span<const colour::SourceId> common) {
  if (auto fine = balance::check(task); !fine) return tl::unexpected(fine.error());
  for (std::size_t i = 0; i < visits.size(); ++i) {
    if (auto fine = balance::check(task, visits[i], i); !fine) return tl::unexpected(fine.error());
    if (i + 1 < visits.size() && !complete(visits[i]))
      return fail(ErrorCode::invalid_input, fmt::format("setting {} was not read at every level", i + 1),
                  "Read every level before the next setting.");
  }
  if (visits.empty())
    return BalanceStep{.move = BalanceMove::start,
                       .new_visit = true,
                       .settings = task.start,
                       .why = "as the display stands",
                       .outcome = {}};
  const auto& last = visits.back();
  if (const auto level = level_to_read(last, visits.size() - 1))
    return BalanceStep{
        .move = last.move, .settings = last.settings, .level = *level, .why = "the same setting", .outcome = {}};
  const auto dark = [](const BalanceVisit::Level& l) { return !(l.light.Y > 0.0); };
  if (std::ranges::all_of(visits.front().levels, dark))
    return fail(ErrorCode::invalid_input, "the instrument reads no light at any level",
                "Check that the signal is shown and the instrument looks at it, or give brighter levels.");
  return Sitting(task, visits, sources, common).next();
}

}  // namespace provenit::correct
