// Samples that no container of ffmpeg 5.1 carries: semi-planar and packed frames, filled here byte by byte as the
// formats are laid down (P010 and kin: value in the upper bits; x2rgb10: 2 unused, 10 red, 10 green, 10 blue bits).
#include <gmock/gmock.h>

#include <cstring>

#include "reader/av_format.h"
#include "reader_clips.h"

namespace provenit::programme::testing {
namespace {

constexpr int kWidth = 6, kHeight = 4;

FramePtr frame_of(AVPixelFormat format) {
  FramePtr frame(av_frame_alloc());
  frame->format = format;
  frame->width = kWidth;
  frame->height = kHeight;
  EXPECT_EQ(av_frame_get_buffer(frame.get(), 0), 0);
  return frame;
}

int value(int plane, int x, int y, int bits) {
  return (plane * 5003 + y * 211 + x * 37 + 1) & ((1 << bits) - 1);
}

void put16(std::uint8_t* at, int v, bool big) {
  at[big ? 1 : 0] = static_cast<std::uint8_t>(v & 0xff);
  at[big ? 0 : 1] = static_cast<std::uint8_t>(v >> 8);
}

Picture picture_from(FramePtr frame, Chroma chroma, int bits) {
  const auto layout = layout_of("a frame", *frame);
  EXPECT_TRUE(layout) << layout.error().text();
  EXPECT_EQ(layout->chroma, chroma);
  EXPECT_EQ(layout->bits, bits);
  PictureFormat format;
  format.width = kWidth;
  format.height = kHeight;
  format.bits = layout->bits;
  format.chroma = layout->chroma;
  return picture_of(std::move(frame), format);
}

int sample(const Plane& plane, int x, int y) {
  std::uint16_t v = 0;
  std::memcpy(&v, plane.data + y * plane.stride + 2 * x, 2);
  return v;
}

void expect_values(const Picture& picture, int bits) {
  for (int p = 0; p < 3; ++p) {
    const Plane& plane = picture.planes[static_cast<std::size_t>(p)];
    for (int y = 0; y < plane.height; ++y)
      for (int x = 0; x < plane.width; ++x)
        ASSERT_EQ(sample(plane, x, y), value(p, x, y, bits)) << p << ' ' << x << ' ' << y;
  }
}

void expect_semi_planar(AVPixelFormat pixels, int bits, bool big) {
  FramePtr frame = frame_of(pixels);
  for (int y = 0; y < kHeight; ++y)
    for (int x = 0; x < kWidth; ++x)
      put16(frame->data[0] + y * frame->linesize[0] + 2 * x, value(0, x, y, bits) << (16 - bits), big);
  for (int y = 0; y < kHeight / 2; ++y)
    for (int x = 0; x < kWidth / 2; ++x)
      for (int p = 1; p < 3; ++p)
        put16(frame->data[1] + y * frame->linesize[1] + 4 * x + 2 * (p - 1), value(p, x, y, bits) << (16 - bits), big);
  const Picture picture = picture_from(std::move(frame), Chroma::c420, bits);
  EXPECT_EQ(picture.planes[1].width, kWidth / 2);
  EXPECT_EQ(picture.planes[2].height, kHeight / 2);
  expect_values(picture, bits);
}

TEST(Layout, SemiPlanarIsSortedIntoPlanes) {
  expect_semi_planar(AV_PIX_FMT_P010LE, 10, false);
  expect_semi_planar(AV_PIX_FMT_P010BE, 10, true);
  expect_semi_planar(AV_PIX_FMT_P016LE, 16, false);
  expect_semi_planar(AV_PIX_FMT_P016BE, 16, true);
}

TEST(Layout, PackedTenBitsAreSortedIntoPlanes) {
  FramePtr frame = frame_of(AV_PIX_FMT_X2RGB10LE);
  for (int y = 0; y < kHeight; ++y)
    for (int x = 0; x < kWidth; ++x) {
      const auto word =
          static_cast<std::uint32_t>(value(0, x, y, 10) << 20 | value(1, x, y, 10) << 10 | value(2, x, y, 10));
      for (int b = 0; b < 4; ++b)
        frame->data[0][y * frame->linesize[0] + 4 * x + b] = static_cast<std::uint8_t>(word >> (8 * b));
    }
  expect_values(picture_from(std::move(frame), Chroma::rgb, 10), 10);
}

TEST(Layout, BigEndianPlanesAreTurned) {
  FramePtr frame = frame_of(AV_PIX_FMT_YUV444P12BE);
  for (int p = 0; p < 3; ++p)
    for (int y = 0; y < kHeight; ++y)
      for (int x = 0; x < kWidth; ++x) put16(frame->data[p] + y * frame->linesize[p] + 2 * x, value(p, x, y, 12), true);
  expect_values(picture_from(std::move(frame), Chroma::c444, 12), 12);
}

// Planar RGB of libav is stored G, B, R; a picture has R, G, B.
TEST(Layout, PlanarRgbIsNamedNotNumbered) {
  FramePtr frame = frame_of(AV_PIX_FMT_GBRP10LE);
  const std::array<int, 3> stored{2, 0, 1};
  for (int p = 0; p < 3; ++p)
    for (int y = 0; y < kHeight; ++y)
      for (int x = 0; x < kWidth; ++x)
        put16(frame->data[stored[static_cast<std::size_t>(p)]] + y * frame->linesize[0] + 2 * x, value(p, x, y, 10),
              false);
  const std::uint8_t* const red = frame->data[2];
  const Picture picture = picture_from(std::move(frame), Chroma::rgb, 10);
  EXPECT_EQ(picture.planes[0].data, reinterpret_cast<const std::byte*>(red)) << "planar samples are not copied";
  expect_values(picture, 10);
}

TEST(Layout, RefusesWhatIsNoPicture) {
  for (const AVPixelFormat format : {AV_PIX_FMT_PAL8, AV_PIX_FMT_YUV411P, AV_PIX_FMT_YUV440P, AV_PIX_FMT_RGB565LE,
                                     AV_PIX_FMT_MONOWHITE, AV_PIX_FMT_XYZ12LE, AV_PIX_FMT_BAYER_RGGB8}) {
    FramePtr frame(av_frame_alloc());
    frame->format = format;
    frame->width = frame->height = 8;
    const auto layout = layout_of("a frame", *frame);
    EXPECT_FALSE(layout) << format;
    if (layout) continue;
    EXPECT_EQ(layout.error().code, ErrorCode::unsupported);
  }
}

}  // namespace
}  // namespace provenit::programme::testing
