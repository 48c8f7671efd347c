#pragma once
// What all captures share: places of the picture, its scale in the frame, grey of a pixel.
#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <optional>
#include <string>
#include <vector>

#include "provenit/evaluation/captures.h"

namespace provenit::evaluation {

[[nodiscard]] inline double mean_of_channels(const float* p) {
  return (static_cast<double>(p[0]) + static_cast<double>(p[1]) + static_cast<double>(p[2])) / 3;
}

[[nodiscard]] inline std::optional<signal::PixelRectangle> find_place(const std::vector<signal::PicturePlace>& places,
                                                                      const std::string& name) {
  const auto found = std::ranges::find(places, name, &signal::PicturePlace::name);
  return found == places.end() ? std::nullopt : std::optional(found->area);
}

/// Pixels of the frame per pixel of the picture, along the width and down the height.
/// errors  invalid_input for another picture, or scales below `least`
[[nodiscard]] inline Result<std::array<double, 2>> scale_of(const CapturedFrame& frame,
                                                            const signal::TestPicture& picture, const std::string& key,
                                                            double least) {
  if (picture.info().key != key)
    return fail(ErrorCode::invalid_input, "this is read of the picture " + key + ", not of " + picture.info().key);
  const auto size = picture.request().size;
  const std::array<double, 2> scale{1.0 * frame.width / size.width, 1.0 * frame.height / size.height};
  if (scale[0] >= least && scale[1] >= least) return scale;
  return fail(ErrorCode::invalid_input,
              fmt::format("the frame of {} x {} pixels is too small for a picture of {} x {}", frame.width,
                          frame.height, size.width, size.height),
              "Capture the display's whole processed picture, and state the raster that was sent with --size.");
}

/// The frame is the picture pixel for pixel. errors  invalid_input for another picture or size
[[nodiscard]] inline Result<void> check_same_raster(const CapturedFrame& frame, const signal::TestPicture& picture,
                                                    const std::string& key) {
  if (picture.info().key != key)
    return fail(ErrorCode::invalid_input, "this is read of the picture " + key + ", not of " + picture.info().key);
  const auto size = picture.request().size;
  if (frame.width == size.width && frame.height == size.height) return {};
  return fail(ErrorCode::invalid_input,
              fmt::format("the frame has {} x {} pixels, the picture {} x {}", frame.width, frame.height, size.width,
                          size.height),
              "Capture it pixel for pixel, or state the raster that was shown with --size.");
}

}  // namespace provenit::evaluation
