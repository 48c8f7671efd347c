#pragma once
// What the verbs of `provenit forecast` share.
#include <span>
#include <string>
#include <vector>

#include "interpretation.h"
#include "provenit/forecast/frame.h"
#include "provenit/loan/forecast.h"
#include "provenit/programme/look.h"

namespace CLI {
class App;
}

namespace provenit::cli {

struct Command;

/// Frames of a film by their numbers, the first one if none is given. Errors: those of interpretation_of and
/// choose_frames.
[[nodiscard]] Result<programme::ChosenFrames> chosen_frames(const std::string& file,
                                                            std::span<const std::int64_t> frames,
                                                            const InterpretationOptions& meant);

struct FrameOnDisplay {
  forecast::FrameForecast frame;
  forecast::ShownLight light;
};
/// Errors: those of FrameForecaster::make and still.
[[nodiscard]] Result<FrameOnDisplay> forecast_frame(const forecast::ForecastDisplay& display,
                                                    const programme::Picture& picture);

/// A contact sheet as a PNG in a folder, which is made. Errors: io.
[[nodiscard]] Result<void> write_sheet(const std::string& folder, const std::string& name,
                                       std::span<const programme::SheetEntry> entries, const std::string& source,
                                       double source_peak_cdm2);

/// The verbs compare and suits.
void add_forecast_compare(Command& command, CLI::App& verb);

}  // namespace provenit::cli
