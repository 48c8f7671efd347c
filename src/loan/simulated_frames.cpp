#include "simulated_frames.h"

#include <algorithm>
#include <cmath>

#include "provenit/signal/png16.h"
#include "provenit/signal/test_picture.h"
#include "provenit/simulated/processed.h"

namespace provenit::loan {
namespace {

using simulated::Frame;

constexpr signal::RasterSize kShown{1920, 1080}, kSmall{640, 360};

Frame processed(const simulated::DisplayPhysics& physics, const signal::Encoding& encoding, Frame frame) {
  const auto& p = physics.processing;
  if (frame.width < kShown.width) frame = simulated::enlarged(frame, kShown.width, kShown.height, p.scaler);
  if (p.chroma_across || p.chroma_down)
    frame = simulated::with_chroma_halved(std::move(frame), encoding, p.chroma_across, p.chroma_down,
                                          simulated::ChromaFilter::linear);
  frame = simulated::clipped(std::move(frame), encoding,
                             {.peak_cdm2 = physics.decoding.believed_peak_cdm2,
                              .roll_off_start = physics.decoding.roll_off_start,
                              .keeps_hue = p.keeps_hue});
  return simulated::requantised(std::move(frame), encoding, std::min(p.bits, encoding.bits));
}

Result<std::string> png_of(const Frame& frame, const signal::Encoding& encoding) {
  const double highest = std::ldexp(1, encoding.bits) - 1;
  return signal::png16(encoding, {frame.width, frame.height}, [&](int y) {
    std::vector<std::uint16_t> row;
    const auto width = 3 * static_cast<std::size_t>(frame.width), from = width * static_cast<std::size_t>(y);
    for (std::size_t i = from; i < from + width; ++i)
      row.push_back(static_cast<std::uint16_t>(std::clamp(std::round(frame.rgb[i]), 0.0, highest)));
    return row;
  });
}

}  // namespace

std::optional<std::vector<RecordedFile>> simulated_frame(const simulated::DisplayPhysics& physics,
                                                         const signal::Encoding& encoding,
                                                         const procedure::Recording& recording) {
  if (!recording.id.ends_with("_capture")) return std::nullopt;
  const auto& step = recording.steps.front();
  const bool scaled = recording.id == "scaling_capture" || recording.id == "alias_capture";
  const auto size = scaled ? kSmall : kShown;
  RecordedFile file{.step = step.key, .name = recording.id + ".png"};
  if (recording.id == "clip_capture") file.parameters["claimed_cdm2"] = physics.claimed_peak_cdm2;
  auto parameters = step.parameters;
  parameters.update(file.parameters);
  const auto picture =
      signal::TestPicture::make({.key = step.picture, .parameters = parameters, .encoding = encoding, .size = size});
  if (!picture) return std::nullopt;
  const auto png = png_of(processed(physics, encoding, simulated::frame_of(*picture)), encoding);
  if (!png) return std::nullopt;
  file.bytes = *png;
  file.conditions = {{"size", {size.width, size.height}}, {"origin", "simulated"}};
  return std::vector{file};
}

}  // namespace provenit::loan
