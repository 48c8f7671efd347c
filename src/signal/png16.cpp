#include "provenit/signal/png16.h"

#include <png.h>

#include <algorithm>
#include <csetjmp>
#include <functional>
#include <new>
#include <vector>

#include "provenit/base/text.h"

namespace provenit::signal {
namespace {

struct Sink {
  std::string bytes;
  std::string error;
};

void keep_error(png_structp png, png_const_charp message) {
  static_cast<Sink*>(png_get_error_ptr(png))->error = message;
  png_longjmp(png, 1);
}
void ignore_warning(png_structp, png_const_charp) {}
void append(png_structp png, png_bytep data, png_size_t size) {
  try {
    static_cast<Sink*>(png_get_io_ptr(png))->bytes.append(reinterpret_cast<const char*>(data), size);
  } catch (const std::bad_alloc&) {
    png_error(png, "out of memory");
  }
}
void no_flush(png_structp) {}

/// What goes into a file, whatever it comes from.
struct Source {
  RasterSize size;
  int bits = 16;  ///< significant ones of each sample
  CodePoints points;
  int filter = PNG_FILTER_UP;
  int level = -1;                                              ///< of zlib; -1: its default
  std::function<void(int y, std::span<std::uint16_t>)> fetch;  ///< R, G, B of each pixel of row y
};

struct Row {
  std::vector<std::uint16_t> samples;
  std::vector<png_byte> bytes;  ///< the same, big-endian
};

void fill_row(const Source& source, int y, Row& row) {
  source.fetch(y, row.samples);
  for (std::size_t i = 0; i < row.samples.size(); ++i) {
    row.bytes[2 * i] = static_cast<png_byte>(row.samples[i] >> 8);
    row.bytes[2 * i + 1] = static_cast<png_byte>(row.samples[i] & 0xff);
  }
}

/// libpng leaves this function by longjmp on an error: nothing with a destructor may be made in it.
bool write_all(png_structp png, png_infop info, const Source& source, Sink& sink, Row& row) {
  if (setjmp(png_jmpbuf(png)) != 0) return false;
  png_set_write_fn(png, &sink, append, no_flush);
  png_set_IHDR(png, info, static_cast<png_uint_32>(source.size.width), static_cast<png_uint_32>(source.size.height), 16,
               PNG_COLOR_TYPE_RGB, PNG_INTERLACE_NONE, PNG_COMPRESSION_TYPE_DEFAULT, PNG_FILTER_TYPE_DEFAULT);
  const auto bits = static_cast<png_byte>(source.bits);
  png_color_8 significant{};
  significant.red = significant.green = significant.blue = bits;
  png_set_sBIT(png, info, &significant);
  png_set_filter(png, PNG_FILTER_TYPE_BASE, source.filter);
  png_set_compression_level(png, source.level);
  png_write_info_before_PLTE(png, info);
  const png_byte cicp[4] = {source.points.primaries, source.points.transfer, source.points.matrix,
                            source.points.full_range};
  png_write_chunk(png, reinterpret_cast<png_const_bytep>("cICP"), cicp, 4);
  png_write_info(png, info);
  for (int y = 0; y < source.size.height; ++y) {
    fill_row(source, y, row);
    png_write_row(png, row.bytes.data());
  }
  png_write_end(png, nullptr);
  return true;
}

Result<std::string> file_of(const Source& source) {
  Sink sink;
  const auto count = 3 * static_cast<std::size_t>(source.size.width);
  Row row{.samples = std::vector<std::uint16_t>(count), .bytes = std::vector<png_byte>(2 * count)};
  png_structp png = png_create_write_struct(PNG_LIBPNG_VER_STRING, &sink, keep_error, ignore_warning);
  png_infop info = png != nullptr ? png_create_info_struct(png) : nullptr;
  const bool written = info != nullptr && write_all(png, info, source, sink, row);
  png_destroy_write_struct(&png, &info);
  if (!written)
    return fail(ErrorCode::io, "the picture cannot be made: " + (sink.error.empty() ? "out of memory" : sink.error),
                "Give a smaller raster.");
  return std::move(sink.bytes);
}

}  // namespace

std::uint16_t png_sample(int code, int bits, Range range) {
  const int shifted = code << (16 - bits);
  return static_cast<std::uint16_t>(range == Range::narrow ? shifted : shifted | (code >> (2 * bits - 16)));
}

CodePoints code_points(const Encoding& encoding) {
  CodePoints points;
  switch (encoding.container) {
    case Container::bt709:
      points.primaries = 1;
      break;
    case Container::p3_d65:
      points.primaries = 12;
      break;
    case Container::bt2020:
      points.primaries = 9;
      break;
  }
  switch (encoding.transfer) {
    case Transfer::pq:
      points.transfer = 16;
      break;
    case Transfer::hlg:
      points.transfer = 18;
      break;
    case Transfer::bt1886:
      points.transfer = encoding.container != Container::bt2020 ? 1 : encoding.bits <= 10 ? 14 : 15;
      break;
  }
  points.full_range = encoding.range == Range::full ? 1 : 0;
  return points;
}

Result<std::string> png16(const Encoding& encoding, RasterSize size,
                          const std::function<std::vector<std::uint16_t>(int y)>& row_of) {
  if (const auto ok = validate(encoding); !ok) return tl::unexpected(ok.error());
  bool filled = true;
  // Rows repeat: with the filter "up" most become zeros.
  auto file = file_of({.size = size,
                       .bits = encoding.bits,
                       .points = code_points(encoding),
                       .fetch = [&](int y, std::span<std::uint16_t> row) {
                         const auto codes = row_of(y);
                         filled = filled && codes.size() == row.size();
                         if (!filled) return;
                         std::ranges::transform(codes, row.begin(), [&](int code) {
                           return png_sample(code, encoding.bits, encoding.range);
                         });
                       }});
  if (file && !filled)
    return fail(ErrorCode::invalid_input, "the codes do not fill the picture", "Give R', G', B' of every pixel.");
  return file;
}

Result<std::string> png16(const Raster& raster) {
  return png16(raster.signal().encoding, raster.size(), [&](int y) { return raster.row(y); });
}

Result<std::string> png16(std::span<const std::uint16_t> samples, RasterSize size, const CodePoints& points) {
  if (size.width < 1 || size.height < 1 || samples.size() != 3 * std::size_t(size.width) * std::size_t(size.height))
    return fail(ErrorCode::invalid_input, "the samples do not fill the picture", "Give R, G, B of every pixel.");
  const std::size_t stride = 3 * std::size_t(size.width);
  constexpr int kQuick = 4;  // such pictures get hardly smaller above it
  return file_of({.size = size,
                  .points = points,
                  .filter = PNG_FILTER_SUB,
                  .level = kQuick,
                  .fetch = [&](int y, std::span<std::uint16_t> row) {
                    std::ranges::copy(samples.subspan(std::size_t(y) * stride, stride), row.begin());
                  }});
}

Result<void> write_png16(const Raster& raster, const std::string& path) {
  const auto bytes = png16(raster);
  if (!bytes) {
    auto error = bytes.error();
    error.where.file = path;
    return tl::unexpected(std::move(error));
  }
  return write_file(path, *bytes);
}

Result<void> write_png16(const Signal& signal, RasterSize size, const std::string& path) {
  const auto raster = Raster::make(signal, size);
  if (!raster) return tl::unexpected(raster.error());
  return write_png16(*raster, path);
}

}  // namespace provenit::signal
