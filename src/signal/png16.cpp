#include "provenit/signal/png16.h"

#include <png.h>

#include <csetjmp>
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

/// Big-endian samples of a row, in place of what `bytes` held.
void fill_row(const Raster& raster, int y, std::vector<png_byte>& bytes) {
  const auto& encoding = raster.signal().encoding;
  bytes.clear();
  for (const int code : raster.row(y)) {
    const auto sample = png_sample(code, encoding.bits, encoding.range);
    bytes.push_back(static_cast<png_byte>(sample >> 8));
    bytes.push_back(static_cast<png_byte>(sample & 0xff));
  }
}

/// libpng leaves this function by longjmp on an error: nothing with a destructor may be made in it.
bool write_all(png_structp png, png_infop info, const Raster& raster, Sink& sink, std::vector<png_byte>& row) {
  if (setjmp(png_jmpbuf(png)) != 0) return false;
  png_set_write_fn(png, &sink, append, no_flush);
  png_set_IHDR(png, info, static_cast<png_uint_32>(raster.size().width), static_cast<png_uint_32>(raster.size().height),
               16, PNG_COLOR_TYPE_RGB, PNG_INTERLACE_NONE, PNG_COMPRESSION_TYPE_DEFAULT, PNG_FILTER_TYPE_DEFAULT);
  const auto bits = static_cast<png_byte>(raster.signal().encoding.bits);
  png_color_8 significant{};
  significant.red = significant.green = significant.blue = bits;
  png_set_sBIT(png, info, &significant);
  png_set_filter(png, PNG_FILTER_TYPE_BASE, PNG_FILTER_UP);  // rows repeat: most become zeros
  png_write_info_before_PLTE(png, info);
  const auto points = code_points(raster.signal().encoding);
  const png_byte cicp[4] = {points.primaries, points.transfer, points.matrix, points.full_range};
  png_write_chunk(png, reinterpret_cast<png_const_bytep>("cICP"), cicp, 4);
  png_write_info(png, info);
  for (int y = 0; y < raster.size().height; ++y) {
    fill_row(raster, y, row);
    png_write_row(png, row.data());
  }
  png_write_end(png, nullptr);
  return true;
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

Result<std::string> png16(const Raster& raster) {
  Sink sink;
  std::vector<png_byte> row;
  row.reserve(6 * static_cast<std::size_t>(raster.size().width));
  png_structp png = png_create_write_struct(PNG_LIBPNG_VER_STRING, &sink, keep_error, ignore_warning);
  png_infop info = png != nullptr ? png_create_info_struct(png) : nullptr;
  const bool written = info != nullptr && write_all(png, info, raster, sink, row);
  png_destroy_write_struct(&png, &info);
  if (!written)
    return fail(ErrorCode::io, "the picture cannot be made: " + (sink.error.empty() ? "out of memory" : sink.error),
                "Give a smaller raster.");
  return std::move(sink.bytes);
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
