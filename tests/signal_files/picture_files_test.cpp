// Test pictures in files: what another decoder finds at the centre of each place.
#include <gtest/gtest.h>

#include "provenit/signal/raster.h"
#include "provenit/signal/test_picture.h"
#include "provenit/signal_files/clip.h"
#include "support.h"

namespace provenit::signal {
namespace {

class PictureFile : public Files {};

/// Where a decoder finds the sample of a component: planes Y', Cb, Cr of 4:2:0 in 16-bit words.
std::array<int, 3> codes_at(const std::vector<std::uint16_t>& samples, RasterSize size, int frame, int x, int y) {
  const auto luma = std::size_t(size.width) * size.height;
  const auto* const at = &samples.at(frame * (luma + luma / 2));
  const auto chroma = std::size_t(y / 2) * (size.width / 2) + x / 2;
  return {at[std::size_t(y) * size.width + x], at[luma + chroma], at[luma + luma / 4 + chroma]};
}

constexpr int kSmallest = 8;  ///< the filter of the chroma blurs two pixels along an edge

TEST_F(PictureFile, EachPlaceHoldsItsCodes) {
  const Encoding encodings[] = {
      {}, {.transfer = Transfer::hlg}, {.transfer = Transfer::bt1886, .container = Container::bt709}};
  int places = 0, pictures = 0, asked = 0;
  for (const auto& info : test_pictures()) {
    const auto& encoding = encodings[asked++ % 3];
    const RasterSize size{320, 180};
    const auto picture = TestPicture::make({.key = info.key, .encoding = encoding, .size = size});
    if (!picture) continue;  // a picture of another encoding, or too fine for the raster
    ++pictures;
    auto source = frames_of(*picture);
    source.frames = 1;
    ASSERT_TRUE(write_clip(source, path("a.mkv"), {}));
    const auto clip = decoded<std::uint16_t>(path("a.mkv"), "yuv420p10le");
    for (const auto& place : picture->places(0)) {
      if (place.area.width < kSmallest || place.area.height < kSmallest) continue;
      const int x = place.area.left + place.area.width / 2, y = place.area.top + place.area.height / 2;
      EXPECT_EQ(codes_at(clip, size, 0, x, y), clip_codes(encoding, ClipChroma::c420, place.code))
          << info.key << ' ' << place.name;
      ++places;
    }
  }
  EXPECT_GE(pictures, 25);
  EXPECT_GE(places, 200);
}

TEST_F(PictureFile, ASignalIsAPictureToo) {
  const Signal signal{.encoding = {},
                      .patch = {{723, 600, 100}},
                      .surround = {{64, 64, 64}},
                      .geometry = {.shape = Shape::window, .area_fraction = 0.1}};
  const auto raster = Raster::make(signal, {320, 180}).value();
  ASSERT_TRUE(write_clip(frames_of(raster, {25, 1}, 2), path("a.mp4"), {}));
  const auto samples = decoded<std::uint16_t>(path("a.mp4"), "yuv420p10le");
  ASSERT_EQ(samples.size(), 2U * 320 * 180 * 3 / 2);
  EXPECT_EQ(codes_at(samples, {320, 180}, 1, 160, 90), clip_codes({}, ClipChroma::c420, signal.patch));
  EXPECT_EQ(codes_at(samples, {320, 180}, 1, 4, 4), (std::array{64, 512, 512}));
}

}  // namespace
}  // namespace provenit::signal
