#pragma once
// Two displays on the same moments. A statement is made only where the intervals say so.
#include <span>
#include <string>
#include <vector>

#include "provenit/forecast/frame.h"
#include "provenit/forecast/title.h"

namespace provenit::forecast {

enum class Nearer { first, second, not_shown };  ///< to what is intended

/// One quantity at one moment, or over several.
struct Compared {
  std::int64_t index = 0;
  double time_s = 0;
  Quantity quantity = Quantity::mean_delta_e;
  Figure first, second;
  Nearer nearer = Nearer::not_shown;
};

/// Intervals of 90 % that do not meet. (That both are right is then likelier than 90 %, as errors that the two
/// displays' forecasts share, as one instrument's, would only draw them together.)
[[nodiscard]] Nearer nearer_of(const Figure& first, const Figure& second);

/// Every quantity of every moment. Errors: invalid_input if the moments are not the same ones in the same order.
[[nodiscard]] Result<std::vector<Compared>> compare(std::span<const FrameForecast> first,
                                                    std::span<const FrameForecast> second);

/// Over a title by the fast path: on how many frames the one is nearer, on how many nothing is shown.
struct TitleComparison {
  std::size_t first = 0, second = 0, not_shown = 0;
  Cause largest_difference = Cause::clip;          ///< the cause whose parts differ most over all frames
  double by_cause_first = 0, by_cause_second = 0;  ///< mean of that cause's part
};
/// Errors: as above.
[[nodiscard]] Result<TitleComparison> compare(std::span<const FrameOutlook> first,
                                              std::span<const FrameOutlook> second);

/// "At 0:12:31.500, halo_cdm2: Tern 32 0.31 (0.24 to 0.41), Curlew 27 0.00 (0.00 to 0.00): Curlew 27 is nearer."
[[nodiscard]] std::string text_of(const Compared& compared, const std::string& first_name,
                                  const std::string& second_name);

}  // namespace provenit::forecast
