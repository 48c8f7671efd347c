#include "provenit/show/screen.h"

#include <memory>

#include "provenit/signal/codes.h"

namespace provenit::show {

Frame frame_of(const signal::Signal& signal) {
  return {.encoding = signal.encoding,
          .title = signal::describe(signal),
          .draw = [signal](signal::RasterSize size) -> Result<Rows> {
            auto raster = signal::Raster::make(signal, size);
            if (!raster) return tl::unexpected(raster.error());
            return Rows([raster = std::move(*raster)](int y) { return raster.row(y); });
          }};
}

Frame frame_of(const signal::PictureRequest& request, int frame) {
  return {.encoding = request.encoding,
          .title = request.key,
          .draw = [request, frame](signal::RasterSize size) -> Result<Rows> {
            auto sized = request;
            sized.size = size;
            auto picture = signal::TestPicture::make(sized);
            if (!picture) return tl::unexpected(picture.error());
            if (frame < 0 || frame >= picture->frames())
              return fail(ErrorCode::out_of_range,
                          "the picture has no frame " + std::to_string(frame) + " at this size", {}, {.frame = frame});
            auto shared = std::make_shared<signal::TestPicture>(std::move(*picture));
            return Rows([shared, frame](int y) { return shared->row(frame, y); });
          }};
}

Frame black_frame(const signal::Encoding& encoding) {
  const auto black = signal::black_code(encoding);
  auto frame = frame_of(signal::Signal{.encoding = encoding, .patch = black, .surround = black});
  frame.title = "black";
  return frame;
}

}  // namespace provenit::show
