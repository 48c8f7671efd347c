#include "provenit/procedure/follow_schedule.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "provenit/procedure/estimate.h"
#include "provenit/signal/codes.h"
#include "run_parameters_internal.h"
#include "scripted_internal.h"

namespace provenit::procedure {
namespace {

constexpr double kTopCdm2 = 100, kMarkerAreaPercent = 10;
constexpr double kSymbolMargin = 0.6;  // s: the display's change, and the player's clock over a word
constexpr double kMarkerTiming = 1.1;  // s: how well a marker's place is known
constexpr double kShortest = 0.5;      // s: of any picture
constexpr double kBlackBegin = 5, kBlackEnd = 3;
constexpr double kDark = 0.02;  // cd/m2: what is darker may be darker still, and takes the longest reading
constexpr std::size_t kMostSteps = 20000;

/// Highest luminance of the markers: far from any limiter, and not above what an SDR display has.
double top_cdm2(const Context& context) {
  const double most =
      std::min(context.expected_peak_cdm2,
               context.encoding.transfer == signal::Transfer::pq ? 1e4 : context.encoding.nominal_peak_cdm2);
  return std::min(kTopCdm2, 0.8 * most);
}

class Layout {
 public:
  Layout(Context context, const FollowOptions& options) : context_(std::move(context)), options_(options) {
    schedule_.encoding = context_.encoding;
    schedule_.rate_numerator = options.rate_numerator;
    schedule_.rate_denominator = options.rate_denominator;
    const double symbol = 2 * reading(top_cdm2(context_) / 8).s + kSymbolMargin;
    schedule_.symbol_frames = frames({symbol});
    const Seconds apart = options.block + kMarkerSymbols * schedule_.seconds(schedule_.symbol_frames) + reading(0);
    guard_ = Seconds{options.clock_tolerance * apart.s + kMarkerTiming};
    hold({.signal = black()}, {kBlackBegin});
  }

  Result<void> add(const Procedure& procedure, const nlohmann::json& parameters) {
    Context context = context_;
    context.parameters = parameters;
    context.optional_repeats = false;
    auto merged = merged_parameters(procedure, context);
    if (!merged) return tl::unexpected(merged.error());
    schedule_.runs.push_back({procedure.id(), procedure.version(), stored_parameters(*merged, context)});
    std::vector<store::ReadingRecord> imagined;
    while (imagined.size() < kMostSteps) {
      auto step = procedure.next(context, imagined);
      if (!step) return tl::unexpected(step.error());
      if (!*step) return {};
      if (auto fits = fixed(**step); !fits) return fits;
      if (auto placed = place(procedure.id(), **step); !placed) return placed;
      imagined.push_back(imagine(**step, imagined.size()));
    }
    return fail(ErrorCode::out_of_range, fmt::format("{} takes more than {} readings", procedure.id(), kMostSteps));
  }

  Result<FollowSchedule> finish() {
    if (auto marked = marker(); !marked) return tl::unexpected(marked.error());
    hold({.signal = black()}, {kBlackEnd});
    return std::move(schedule_);
  }

 private:
  [[nodiscard]] signal::Signal black() const {
    return full_field(context_.encoding, signal::black_code(context_.encoding));
  }
  [[nodiscard]] std::int64_t frames(Seconds span) const {
    const double exact = span.s * options_.rate_numerator / options_.rate_denominator;
    return std::max<std::int64_t>(1, std::llround(std::ceil(exact - 1e-9)));
  }
  [[nodiscard]] Seconds reading(double cdm2) const {
    return context_.capabilities.integration.expected({.cdm2 = cdm2 < kDark ? 0 : cdm2});
  }
  /// Displays are darker than they should be as often as brighter.
  [[nodiscard]] Seconds reading(const Step& step) const { return reading(0.7 * step.expected_cdm2); }

  static Result<void> fixed(const Step& step) {
    const char* why = nullptr;
    if (step.placement != instrument::Placement{}) why = "it moves the meter";
    if (step.local_dimming != instrument::LocalDimming::as_found) why = "it switches the display's local dimming";
    if (step.interval.s > 0 || step.stay.s > 0) why = "its readings keep to times of their own";
    return why == nullptr ? Result<void>{} : fail(ErrorCode::unsupported, why, "Take it with `provenit run`.");
  }

  void hold(FollowHold what, Seconds span) {
    what.frames = frames(span);
    now_ += what.frames;
    schedule_.holds.push_back(std::move(what));
  }

  Result<void> marker() {
    if (++number_ > kMostMarkers)
      return fail(ErrorCode::out_of_range, fmt::format("the clip would need more than {} markers", kMostMarkers),
                  "Make a clip of fewer procedures.");
    const auto word = marker_word(number_);
    for (int i = 0; i < kMarkerSymbols; ++i) {
      const double cdm2 = top_cdm2(context_) / (8 >> word[i]);
      const auto code = signal::grey_code(context_.encoding, colour::Luminance<>{.cdm2 = cdm2});
      if (!code) return tl::unexpected(code.error());
      // The reading in flight must end before the first symbol begins.
      if (i == 0) hold({.signal = window(context_.encoding, *code, kMarkerAreaPercent), .marker = number_}, in_flight_);
      hold({.signal = window(context_.encoding, *code, kMarkerAreaPercent), .marker = number_},
           schedule_.seconds(schedule_.symbol_frames));
    }
    in_flight_ = reading(top_cdm2(context_) / 8);
    block_ = now_;
    return {};
  }

  Result<void> place(const std::string& procedure, const Step& step) {
    const Seconds one = reading(step);
    auto& last = schedule_.holds.back();
    if (step.rest.s <= 0 && last.readings > 0 && last.procedure == procedure && last.step == step.key &&
        last.signal == step.signal) {
      const auto more = frames(one);
      last.frames += more;
      now_ += more;
      ++last.readings;
      return {};
    }
    if (step.rest.s > 0) {
      hold({.signal = black()}, std::max(step.rest, Seconds{kShortest}));
      in_flight_ = reading(0);
    }
    Seconds needed = until_read(step);
    if (number_ == 0 || step.rest.s > 0 || schedule_.seconds(now_ - block_) + needed > options_.block) {
      if (auto marked = marker(); !marked) return marked;
      needed = until_read(step);
    }
    hold({.signal = step.signal,
          .procedure = procedure,
          .step = step.key,
          .why = step.why,
          .readings = 1,
          .settle = step.settle},
         std::max(needed, Seconds{kShortest}));
    in_flight_ = one;
    return {};
  }

  [[nodiscard]] Seconds until_read(const Step& step) const {
    const Seconds begin = std::max(step.settle + guard_, in_flight_);
    return begin + (2 + options_.spare_readings) * reading(step) + guard_;
  }

  [[nodiscard]] store::ReadingRecord imagine(const Step& step, std::size_t index) const {
    const double cdm2 = step.expected_cdm2;
    store::ReadingRecord reading_made{
        .sequence = static_cast<std::int64_t>(index), .step = step.key, .signal = step.signal};
    const Seconds span = reading_time(step, context_.capabilities);
    reading_made.taken = Timestamp{} + (schedule_.seconds(now_) - guard_ - span);
    reading_made.context = {{"placement", instrument::to_json(step.placement)}};
    reading_made.measurement.xyz = {.X = 0.9505 * cdm2, .Y = cdm2, .Z = 1.089 * cdm2};
    reading_made.measurement.integration = span - context_.capabilities.integration.overhead;
    return reading_made;
  }

  Context context_;
  FollowOptions options_;
  FollowSchedule schedule_;
  Seconds guard_{0};
  Seconds in_flight_ = reading(0);  ///< how long a reading may take that began on what is shown last
  std::int64_t now_ = 0, block_ = 0;
  int number_ = 0;
};

Result<void> check(const FollowOptions& o) {
  const auto refuse = [](const char* field, const char* advice) {
    return fail(ErrorCode::out_of_range, fmt::format("{} cannot be used as it is", field), advice, {.field = field});
  };
  if (o.rate_numerator < 1 || o.rate_denominator < 1 || o.rate_numerator < 5 * o.rate_denominator)
    return refuse("rate", "Give 5 video frames per second or more.");
  if (!(o.clock_tolerance > 0 && o.clock_tolerance <= 0.05)) return refuse("clock_tolerance", "Give 0 to 0.05.");
  if (!(o.block.s >= 10 && o.block.s <= 3600)) return refuse("block", "Give 10 to 3600 s.");
  if (o.spare_readings < 0 || o.spare_readings > 20) return refuse("spare_readings", "Give 0 to 20.");
  return {};
}

}  // namespace

MarkerWord marker_word(int number) {
  unsigned crc = 0;
  for (int bit = 9; bit >= 0; --bit) {
    const unsigned in = ((crc >> 7) ^ (static_cast<unsigned>(number) >> bit)) & 1U;
    crc = ((crc << 1) & 0xFFU) ^ (in != 0 ? 0x07U : 0U);
  }
  // Turned by 0x55, so that a shifted word is no word.
  const unsigned bits = (static_cast<unsigned>(number) << 8) | (crc ^ 0x55U);
  MarkerWord word{3, 0};
  for (int i = 0; i < 9; ++i) word[2 + i] = static_cast<int>((bits >> (16 - 2 * i)) & 3U);
  return word;
}

std::int64_t FollowSchedule::frames() const {
  std::int64_t sum = 0;
  for (const auto& h : holds) sum += h.frames;
  return sum;
}

std::vector<FollowSchedule::Marker> FollowSchedule::markers() const {
  std::vector<Marker> out;
  std::int64_t at = 0;
  for (const auto& h : holds) {
    // The word begins with its second picture: the first is the lead-in.
    if (h.marker > 0 && (out.empty() || out.back().number != h.marker))
      out.push_back({h.marker, seconds(at + h.frames)});
    at += h.frames;
  }
  return out;
}

Seconds shortest_hold(const FollowSchedule& schedule) {
  Seconds least = schedule.seconds(schedule.frames());
  for (const auto& h : schedule.holds) least = std::min(least, schedule.seconds(h.frames));
  return least;
}

Result<FollowPlan> make_follow_schedule(const std::vector<FollowRequest>& requests, const Context& context,
                                        const FollowOptions& options) {
  if (auto ok = check(options); !ok) return tl::unexpected(ok.error());
  FollowPlan plan;
  Layout layout(context, options);
  bool any = false;
  for (const auto& request : requests) {
    Layout tried = layout;
    if (auto added = tried.add(*request.procedure, request.parameters); added) {
      any = true;
      layout = std::move(tried);
    } else if (added.error().code == ErrorCode::unsupported) {
      plan.left_out.emplace_back(request.procedure->id(), added.error().message);
    } else {
      return tl::unexpected(added.error());
    }
  }
  if (!any)
    return fail(ErrorCode::out_of_range, "none of the procedures can be put into a follow-along clip",
                "Take them with `provenit run`.", {.field = "procedure"});
  auto schedule = layout.finish();
  if (!schedule) return tl::unexpected(schedule.error());
  plan.schedule = std::move(*schedule);
  return plan;
}

}  // namespace provenit::procedure
