#include "provenit/forecast/compare.h"

#include <fmt/format.h>

#include <cmath>

#include "provenit/programme/look.h"

namespace provenit::forecast {
namespace {

tl::unexpected<Error> other_moments() {
  return fail(ErrorCode::invalid_input, "the two forecasts are not of the same frames",
              "Forecast the same title, or the same moments of it, for both displays.");
}

}  // namespace

Nearer nearer_of(const Figure& first, const Figure& second) {
  // Dimming and halo may come out below 0: what counts is how far they are from it.
  const auto away = [](const Figure& f) {
    if (f.lower >= 0) return Figure{f.value, f.lower, f.upper};
    const double most = std::max(std::abs(f.lower), std::abs(f.upper));
    return Figure{std::abs(f.value), f.upper < 0 ? -f.upper : 0, most};
  };
  const Figure a = away(first), b = away(second);
  if (a.upper < b.lower) return Nearer::first;
  if (b.upper < a.lower) return Nearer::second;
  return Nearer::not_shown;
}

Result<std::vector<Compared>> compare(std::span<const FrameForecast> first, std::span<const FrameForecast> second) {
  if (first.size() != second.size()) return other_moments();
  std::vector<Compared> out;
  for (std::size_t i = 0; i < first.size(); ++i) {
    if (first[i].index != second[i].index) return other_moments();
    for (std::size_t q = 0; q < kQuantities; ++q)
      out.push_back({.index = first[i].index,
                     .time_s = first[i].time_s,
                     .quantity = static_cast<Quantity>(q),
                     .first = first[i].figures[q],
                     .second = second[i].figures[q],
                     .nearer = nearer_of(first[i].figures[q], second[i].figures[q])});
  }
  return out;
}

Result<TitleComparison> compare(std::span<const FrameOutlook> first, std::span<const FrameOutlook> second) {
  if (first.size() != second.size()) return other_moments();
  TitleComparison out;
  std::array<double, kCauses> a{}, b{};
  for (std::size_t i = 0; i < first.size(); ++i) {
    if (first[i].index != second[i].index) return other_moments();
    const auto nearer = nearer_of(first[i].delta_e, second[i].delta_e);
    (nearer == Nearer::first ? out.first : nearer == Nearer::second ? out.second : out.not_shown) += 1;
    for (std::size_t c = 0; c < kCauses; ++c) {
      a[c] += static_cast<double>(first[i].by_cause[c]) / static_cast<double>(first.size());
      b[c] += static_cast<double>(second[i].by_cause[c]) / static_cast<double>(first.size());
    }
  }
  std::size_t most = 0;
  for (std::size_t c = 1; c < kCauses; ++c)
    if (std::abs(a[c] - b[c]) > std::abs(a[most] - b[most])) most = c;
  out.largest_difference = static_cast<Cause>(most);
  out.by_cause_first = a[most];
  out.by_cause_second = b[most];
  return out;
}

std::string text_of(const Compared& c, const std::string& first_name, const std::string& second_name) {
  const auto figure = [](const Figure& f) {
    return fmt::format("{:.3g} ({:.3g} to {:.3g})", f.value, f.lower, f.upper);
  };
  const std::string said = c.nearer == Nearer::first    ? first_name + " is nearer"
                           : c.nearer == Nearer::second ? second_name + " is nearer"
                                                        : "no difference shown";
  return fmt::format("At {}, {}: {} {}, {} {}: {}.", programme::time_text(c.time_s), name_of(c.quantity), first_name,
                     figure(c.first), second_name, figure(c.second), said);
}

}  // namespace provenit::forecast
