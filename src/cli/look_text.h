#pragma once
// What `provenit look` says of source, frame and pixel: as text and as JSON.
#include <array>
#include <nlohmann/json.hpp>
#include <span>
#include <string>

#include "provenit/programme/figures.h"
#include "provenit/programme/look.h"
#include "provenit/programme/probe.h"

namespace provenit::cli {

[[nodiscard]] std::string source_text(const std::string& name, const programme::ChosenFrames& chosen);
[[nodiscard]] nlohmann::ordered_json source_json(const std::string& name, const programme::ChosenFrames& chosen);
[[nodiscard]] std::string frame_text(const programme::FrameRecord& record);
[[nodiscard]] nlohmann::ordered_json frame_json(const programme::FrameRecord& record);
[[nodiscard]] std::string probe_text(std::span<const programme::ProbeReading> readings);
/// Counts of waveform, parade, vectorscope, chromaticity and histogram, row by row from the lowest y.
[[nodiscard]] nlohmann::ordered_json scopes_json(const programme::LightImage& image);
/// Time and frame; maximum and mean.
[[nodiscard]] std::array<std::string, 2> sheet_lines(const programme::FrameFigures& figures);

}  // namespace provenit::cli
