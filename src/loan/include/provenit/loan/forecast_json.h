#pragma once
// What `provenit forecast`, the server and the report say of a forecast.
#include <nlohmann/json_fwd.hpp>
#include <span>
#include <string>

#include "provenit/forecast/columns.h"
#include "provenit/forecast/frame.h"
#include "provenit/forecast/title.h"
#include "provenit/loan/forecast.h"

namespace provenit::loan {

/// The display as the forecast sees it, what is assumed and missing, and the eye check.
[[nodiscard]] nlohmann::ordered_json to_json(const LoanForecast& forecast);

/// Every quantity of a frame with its interval of 90 %.
[[nodiscard]] nlohmann::ordered_json to_json(const forecast::FrameForecast& frame);

/// A moment with the part that each cause has in it.
[[nodiscard]] nlohmann::ordered_json to_json(const forecast::Moment& moment);

/// The document of `provenit forecast title`: moments of a title of so many frames. `by_lead`: each is told with the
/// part that leads in it, in place of the cause it was looked for by.
[[nodiscard]] nlohmann::ordered_json moments_document(const std::string& title, std::size_t frames,
                                                      std::span<const forecast::Moment> moments, bool by_lead);

/// What one will not see of a title on the display: its summary, the course in columns, and the moments that depart
/// most, over all and by each cause.
[[nodiscard]] nlohmann::ordered_json title_json(std::span<const forecast::FrameOutlook> frames, std::size_t columns,
                                                std::size_t moments);
[[nodiscard]] nlohmann::ordered_json to_json(const forecast::OutlookColumns& columns);

}  // namespace provenit::loan
