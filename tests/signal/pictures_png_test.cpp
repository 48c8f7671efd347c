// Every picture as a PNG file, read back by a decoder that shares no code with the writer.
#include <stb/stb_image.h>

#include <memory>

#include "pictures_support.h"
#include "provenit/signal/png16.h"

namespace provenit::signal {
namespace {

using namespace testing;

TEST(PicturesAsPng, HaveEveryCodeInTheFile) {
  const RasterSize size{.width = 641, .height = 359};
  const Encoding full12{.bits = 12, .range = Range::full};
  for (const auto& info : test_pictures())
    for (const auto& e : {pq10, full12}) {
      const auto p = picture(info.key, nlohmann::json::object(), e, size);
      const int frame = p.frames() - 1;
      const auto file = png16(e, size, [&](int y) { return p.row(frame, y); }).value();
      int width = 0, height = 0, channels = 0;
      const std::unique_ptr<stbi_us, decltype(&stbi_image_free)> samples(
          stbi_load_16_from_memory(reinterpret_cast<const stbi_uc*>(file.data()), static_cast<int>(file.size()), &width,
                                   &height, &channels, 0),
          &stbi_image_free);
      ASSERT_TRUE(samples) << info.key;
      ASSERT_EQ(std::tuple(width, height, channels), std::tuple(size.width, size.height, 3));
      const auto read = [&](int x, int y, int c) { return samples.get()[3 * (y * width + x) + c] >> (16 - e.bits); };
      for (int y = 0; y < height; ++y) {
        const auto row = p.row(frame, y);
        for (int x = 0; x < width; ++x)
          for (int c = 0; c < 3; ++c)
            ASSERT_EQ(read(x, y, c), row[static_cast<std::size_t>(3 * x + c)]) << info.key << ' ' << x << ' ' << y;
      }
      for (const auto& place : p.places(frame))
        for (int c = 0; c < 3; ++c)
          ASSERT_EQ(read(place.area.left + place.area.width / 2, place.area.top + place.area.height / 2, c),
                    place.code.code[static_cast<std::size_t>(c)])
              << info.key << ' ' << place.name;
    }
}

}  // namespace
}  // namespace provenit::signal
