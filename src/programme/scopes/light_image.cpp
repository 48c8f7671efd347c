#include <tbb/blocked_range.h>
#include <tbb/parallel_for.h>

#include "kernel/decoder.h"
#include "kernel/sampling.h"
#include "provenit/programme/pixel.h"
#include "provenit/programme/scopes.h"

namespace provenit::programme {

Result<LightImage> light_image(const Picture& picture) {
  if (auto checked = check_picture(picture); !checked) return tl::unexpected(checked.error());
  const kernel::Decoder decoder(picture.format);
  LightImage image{.format = picture.format,
                   .width = picture.format.width,
                   .height = picture.format.height,
                   .index = picture.index,
                   .time_s = picture.time_s,
                   .to_xyz = decoder.to_xyz()};
  const std::size_t pixels = static_cast<std::size_t>(image.width) * static_cast<std::size_t>(image.height);
  image.signal.resize(pixels), image.light.resize(pixels);
  tbb::parallel_for(tbb::blocked_range<int>(0, image.height, 8), [&](const tbb::blocked_range<int>& rows) {
    for (int y = rows.begin(); y < rows.end(); ++y)
      for (int x = 0; x < image.width; ++x) {
        const auto s = decoder.signal(kernel::samples_at(picture, x, y));
        const auto l = decoder.light(s);
        const std::size_t i = image.at(x, y);
        image.signal[i] = {static_cast<float>(s.r), static_cast<float>(s.g), static_cast<float>(s.b)};
        image.light[i] = {static_cast<float>(l.r), static_cast<float>(l.g), static_cast<float>(l.b)};
      }
  });
  return image;
}

}  // namespace provenit::programme
