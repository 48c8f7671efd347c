#include "forecast_parts.h"

#include <fmt/format.h>

#include <filesystem>

#include "provenit/base/text.h"

namespace provenit::cli {

Result<programme::ChosenFrames> chosen_frames(const std::string& file, std::span<const std::int64_t> frames,
                                              const InterpretationOptions& meant) {
  const auto interpretation = programme::interpretation_of(meant, "--");
  if (!interpretation) return tl::unexpected(interpretation.error());
  std::vector<programme::FrameChoice> choices;
  for (const auto f : frames) choices.push_back({.frame = f});
  if (choices.empty()) choices.push_back({.frame = 0});
  return programme::choose_frames(file, choices, {.interpretation = *interpretation});
}

Result<FrameOnDisplay> forecast_frame(const forecast::ForecastDisplay& display, const programme::Picture& picture) {
  const auto forecaster = forecast::FrameForecaster::make(display, picture.format);
  if (!forecaster) return tl::unexpected(forecaster.error());
  FrameOnDisplay out;
  const auto frame = forecaster->still(picture, &out.light);
  if (!frame) return tl::unexpected(frame.error());
  out.frame = *frame;
  return out;
}

Result<void> write_sheet(const std::string& folder, const std::string& name,
                         std::span<const programme::SheetEntry> entries, const std::string& source,
                         double source_peak_cdm2) {
  std::error_code ec;
  std::filesystem::create_directories(folder, ec);
  if (ec) return fail(ErrorCode::io, "cannot make the folder: " + ec.message(), {}, {.file = folder});
  const auto note =
      fmt::format("Pictures in SDR by {} from {:g} cd/m\u00b2; differences in Delta E ITP, intervals of 90 %.",
                  name_of(programme::SdrMethod::bt2446_a), source_peak_cdm2);
  const auto bytes =
      programme::png_of(programme::contact_sheet(entries, std::filesystem::path(source).filename().string(), note));
  if (!bytes) return tl::unexpected(bytes.error());
  return write_file(folder + "/" + name, *bytes);
}

}  // namespace provenit::cli
