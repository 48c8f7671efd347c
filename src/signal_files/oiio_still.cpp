#include "oiio_still.h"

#include <OpenImageIO/imageio.h>
#include <fmt/format.h>

#include <algorithm>
#include <filesystem>
#include <fstream>

#include "light.h"
#include "part_file.h"
#include "provenit/signal/codes.h"
#include "provenit/signal/encoding.h"
#include "provenit/signal/png16.h"

namespace provenit::signal {
namespace {

/// What the codes are, for people: "PQ 10-bit narrow", "HLG 1000 cd/m2 P3-D65 10-bit narrow".
std::string text_of(const Encoding& encoding) {
  const auto text = describe(Signal{.encoding = encoding, .patch = {}, .surround = {}, .geometry = {}});
  return text.substr(0, text.find(','));
}

OIIO::ImageSpec spec_of(const FrameSource& source, OIIO::TypeDesc type) {
  OIIO::ImageSpec spec(source.size.width, source.size.height, 3, type);
  spec.attribute("Software", "provenit");
  return spec;
}

/// Row y of the frame as the file's samples.
template <class Sample>
using RowOf = std::function<Result<std::vector<Sample>>(int y)>;

template <class Sample>
Result<void> write_rows(const char* plugin, const OIIO::ImageSpec& spec, const RowOf<Sample>& row_of, PartFile& file) {
  if (const auto ok = file.try_out(); !ok) return ok;
  const auto out = OIIO::ImageOutput::create(plugin);
  if (!out)
    return fail(ErrorCode::unsupported, fmt::format("OpenImageIO on this machine writes no {}", plugin),
                "Write PNG instead.");
  if (!out->open(file.part(), spec)) return file.refuse(out->geterror());
  for (int y = 0; y < spec.height; ++y) {
    const auto row = row_of(y);
    if (!row) return tl::unexpected(row.error());
    if (!out->write_scanline(y, 0, OIIO::TypeDesc(OIIO::BaseTypeFromC<Sample>::value), row->data()))
      return file.refuse(out->geterror());
  }
  if (!out->close()) return file.refuse(out->geterror());
  return {};
}

RowOf<std::uint16_t> samples_of(const FrameSource& source, int frame) {
  return [&source, frame](int y) {
    return checked_row(source, frame, y).map([&](std::vector<std::uint16_t> row) {
      for (auto& code : row) code = png_sample(code, source.encoding.bits, source.encoding.range);
      return row;
    });
  };
}

/// OpenImageIO does not say when the samples of a DPX file could not be written: they are read back.
Result<void> check_samples(const PartFile& file, const OIIO::ImageSpec& spec, const RowOf<std::uint16_t>& row_of,
                           int bits) {
  const auto in = OIIO::ImageInput::open(file.part());
  std::vector<std::uint16_t> read(3 * static_cast<std::size_t>(spec.width));
  for (int y = 0; y < spec.height; ++y) {
    const auto row = row_of(y);
    if (!row) return tl::unexpected(row.error());
    if (!in || !in->read_scanline(y, 0, OIIO::TypeDesc::UINT16, read.data()))
      return file.refuse(fmt::format("only {} of its {} rows arrived", y, spec.height));
    if (!std::ranges::equal(
            read, *row, {}, [&](int s) { return s >> (16 - bits); }, [&](int s) { return s >> (16 - bits); }))
      return file.refuse(fmt::format("row {} reads back as other codes", y));
  }
  return {};
}

/// OpenImageIO puts the name it writes to into the header; it is to be the file's own.
/// source  SMPTE ST 268-1: image filename, 100 bytes from byte 36
Result<void> name_dpx(const PartFile& file, const std::string& path) {
  std::string name = std::filesystem::path(path).filename().string();
  name.resize(100, '\0');
  name.back() = '\0';
  std::fstream header(file.part(), std::ios::binary | std::ios::in | std::ios::out);
  header.seekp(36);
  header.write(name.data(), static_cast<std::streamsize>(name.size()));
  header.flush();
  if (!header) return file.refuse("the header could not be finished");
  return {};
}

}  // namespace

Result<void> write_tiff(const FrameSource& source, int frame, const std::string& path) {
  auto spec = spec_of(source, OIIO::TypeDesc::UINT16);
  spec.attribute("compression", "zip");
  spec.attribute("ImageDescription", fmt::format("R'G'B' code values, {}: the upper {} bits of each sample",
                                                 text_of(source.encoding), source.encoding.bits));
  PartFile file(path);
  const auto written = write_rows("tiff", spec, samples_of(source, frame), file);
  return written ? file.keep() : written;
}

Result<void> write_exr(const FrameSource& source, int frame, const std::string& path) {
  auto spec = spec_of(source, OIIO::TypeDesc::FLOAT);
  const auto& p = primaries_of(source.encoding.container);
  const std::array<float, 8> chromaticities{static_cast<float>(p.red.x),   static_cast<float>(p.red.y),
                                            static_cast<float>(p.green.x), static_cast<float>(p.green.y),
                                            static_cast<float>(p.blue.x),  static_cast<float>(p.blue.y),
                                            static_cast<float>(p.white.x), static_cast<float>(p.white.y)};
  spec.attribute("chromaticities", OIIO::TypeDesc(OIIO::TypeDesc::FLOAT, 8), chromaticities.data());
  spec.attribute("whiteLuminance", 1.0F);
  spec.attribute("compression", "zip");
  spec.attribute("ImageDescription",
                 fmt::format("light in cd/m2 of the reference display for {}", text_of(source.encoding)));
  const ReferenceLight light(source.encoding);
  const RowOf<float> row_of = [&](int y) {
    return checked_row(source, frame, y).map([&](const std::vector<std::uint16_t>& codes) {
      std::vector<float> row(codes.size());
      for (std::size_t i = 0; i < codes.size(); i += 3) {
        const auto rgb = light.of(codes[i], codes[i + 1], codes[i + 2]);
        row[i] = static_cast<float>(rgb.r);
        row[i + 1] = static_cast<float>(rgb.g);
        row[i + 2] = static_cast<float>(rgb.b);
      }
      return row;
    });
  };
  PartFile file(path);
  const auto written = write_rows("openexr", spec, row_of, file);
  return written ? file.keep() : written;
}

Result<void> write_dpx(const FrameSource& source, int frame, const std::string& path, int bits) {
  auto spec = spec_of(source, OIIO::TypeDesc::UINT16);
  const auto& encoding = source.encoding;
  spec.attribute("oiio:BitsPerSample", bits);
  spec.attribute("oiio:Endian", "big");
  // The one system of these that ST 268 numbers. The others are "user defined", and the project's name says what they
  // are.
  const bool television = encoding.transfer == Transfer::bt1886 && encoding.container == Container::bt709;
  spec.attribute("dpx:Transfer", television ? "ITU-R 709-4" : "User defined");
  spec.attribute("dpx:Colorimetric", encoding.container == Container::bt709 ? "ITU-R 709-4" : "User defined");
  const auto sample_of = [&](const CodeRgb& code) {
    return png_sample(code.code[0], encoding.bits, encoding.range) >> (16 - bits);
  };
  const int black = sample_of(black_code(encoding)), white = sample_of(peak_code(encoding));
  spec.attribute("dpx:LowData", black);
  spec.attribute("dpx:HighData", white);
  spec.attribute("dpx:BlackLevel", static_cast<float>(black));
  spec.attribute("dpx:WhiteLevel", static_cast<float>(white));
  spec.attribute("DocumentName", fmt::format("R'G'B' code values, {}", text_of(encoding)));
  PartFile file(path);
  const auto row_of = samples_of(source, frame);
  return write_rows("dpx", spec, row_of, file)
      .and_then([&] { return name_dpx(file, path); })
      .and_then([&] { return check_samples(file, spec, row_of, bits); })
      .and_then([&] { return file.keep(); });
}

}  // namespace provenit::signal
