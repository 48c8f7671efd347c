#include "oiio_still.h"

#include <OpenImageIO/filesystem.h>
#include <OpenImageIO/imageio.h>
#include <fmt/format.h>

#include <array>
#include <filesystem>

#include "light.h"
#include "provenit/base/text.h"
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

OIIO::ImageSpec spec_of(const FrameSource& source, const OIIO::TypeDesc& type) {
  OIIO::ImageSpec spec(source.size.width, source.size.height, 3, type);
  spec.attribute("Software", "provenit");
  return spec;
}

/// Row y of the frame as the file's samples.
template <class Sample>
using RowOf = std::function<Result<std::vector<Sample>>(int y)>;

/// The file is made in memory, because OpenImageIO does not tell of every byte that a full disk refuses.
template <class Sample>
Result<void> write_rows(const char* plugin, const OIIO::ImageSpec& spec, const RowOf<Sample>& row_of,
                        const std::string& path) {
  const auto refuse = [&](const std::string& why) {
    return fail(ErrorCode::unsupported, "the picture cannot be made: " + why, "Give a smaller raster, or write PNG.");
  };
  OIIO::Filesystem::IOVecOutput file;  // first: a writer that is given up still writes into it when it goes
  const auto out = OIIO::ImageOutput::create(plugin);
  if (!out || !out->set_ioproxy(&file)) return refuse(fmt::format("OpenImageIO on this machine writes no {}", plugin));
  // The name goes into the header of DPX.
  if (!out->open(std::filesystem::path(path).filename().string(), spec)) return refuse(out->geterror());
  for (int y = 0; y < spec.height; ++y) {
    const auto row = row_of(y);
    if (!row) return tl::unexpected(row.error());
    if (!out->write_scanline(y, 0, OIIO::TypeDesc(OIIO::BaseTypeFromC<Sample>::value), row->data()))
      return refuse(out->geterror());
  }
  if (!out->close()) return refuse(out->geterror());
  const auto& bytes = file.buffer();
  return write_file(path, {reinterpret_cast<const char*>(bytes.data()), bytes.size()});
}

RowOf<std::uint16_t> samples_of(const FrameSource& source, int frame) {
  return [&source, frame](int y) {
    return checked_row(source, frame, y).map([&](std::vector<std::uint16_t> row) {
      for (auto& code : row) code = png_sample(code, source.encoding.bits, source.encoding.range);
      return row;
    });
  };
}

}  // namespace

Result<void> write_tiff(const FrameSource& source, int frame, const std::string& path) {
  auto spec = spec_of(source, OIIO::TypeDesc::UINT16);
  spec.attribute("compression", "zip");
  spec.attribute("ImageDescription", fmt::format("R'G'B' code values, {}: the upper {} bits of each sample",
                                                 text_of(source.encoding), source.encoding.bits));
  return write_rows("tiff", spec, samples_of(source, frame), path);
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
  return write_rows("openexr", spec, row_of, path);
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
  return write_rows("dpx", spec, samples_of(source, frame), path);
}

}  // namespace provenit::signal
