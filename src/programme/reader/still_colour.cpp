#include "reader/still_colour.h"

#include <fmt/format.h>

#include <array>
#include <filesystem>
#include <fstream>
#include <sstream>

#include "provenit/base/text.h"
#include "reader/dpx_header.h"
#include "reader/exr_gamut.h"
#include "reader/png_chunks.h"

namespace provenit::programme {
namespace {

constexpr int kLinear = 8;

int primaries_code(Gamut gamut) {
  switch (gamut) {
    case Gamut::bt709:
      return 1;
    case Gamut::p3_d65:
      return 12;
    case Gamut::bt2020:
      return 9;
  }
  return 2;
}

// Linear samples in the primaries of the file. A gamut the user names is taken as that of the samples.
Result<StillColour> linear_in(const std::optional<Chromaticities>& xy, const std::string& where,
                              const Interpretation& user, SourceInfo& info) {
  StillColour colour;
  ColourFields f{.where = where, .transfer = kLinear, .range = {}, .siting = {}};
  if (xy && !user.gamut) {
    auto choice = choose_gamut(*xy);
    if (!choice) {
      choice.error().where.file = info.path;
      return tl::unexpected(choice.error());
    }
    f.primaries = primaries_code(choice->gamut);
    colour.to_gamut = choice->to_gamut;
    if (!choice->note.empty()) info.notes.push_back(choice->note);
  } else if (xy && user.gamut) {
    info.notes.push_back("the chromaticities in the file are not used: the user names its primaries");
  }
  colour.said.push_back(f);
  return colour;
}

Result<StillColour> exr_colour(const OIIO::ImageSpec& spec, const Interpretation& user, SourceInfo& info) {
  const OIIO::ParamValue* const p = spec.find_attribute("chromaticities", OIIO::TypeDesc(OIIO::TypeDesc::FLOAT, 8));
  std::optional<Chromaticities> xy;
  if (p != nullptr) {
    xy.emplace();
    for (int i = 0; i < 8; ++i) (*xy)[static_cast<std::size_t>(i)] = static_cast<double>(p->get_float_indexed(i));
  } else if (!user.gamut) {
    info.notes.push_back("primaries bt709: what OpenEXR means without the chromaticities attribute");
    xy = Chromaticities{0.64, 0.33, 0.30, 0.60, 0.15, 0.06, 0.3127, 0.3290};
  }
  return linear_in(xy, "OpenEXR", user, info);
}

// Header lines of Radiance: "PRIMARIES= 0.640 0.330 0.290 0.600 0.150 0.060 0.333 0.333", "EXPOSURE=2".
Result<StillColour> radiance_colour(const std::string& path, const Interpretation& user, SourceInfo& info) {
  std::ifstream file(path, std::ios::binary);
  std::optional<Chromaticities> xy;
  std::string line;
  for (int i = 0; i < 100 && std::getline(file, line) && !line.empty(); ++i) {
    if (line.starts_with("PRIMARIES=")) {
      std::istringstream numbers(line.substr(10));
      numbers.imbue(std::locale::classic());
      Chromaticities read{};
      bool whole = true;
      for (double& value : read) whole = whole && static_cast<bool>(numbers >> value);
      if (whole && read[7] > 0) xy = read;
    } else if (line.starts_with("EXPOSURE=")) {
      info.notes.push_back(fmt::format("the header says EXPOSURE={}: the samples are taken as stored",
                                       parse_double(line.substr(9)).value_or(0)));
    } else if (line.starts_with("FORMAT=") && line.find("32-bit_rle_rgbe") == std::string::npos) {
      return fail(ErrorCode::unsupported, "Radiance " + line.substr(0, 40) + " is not supported", "Convert it to RGBE.",
                  {.file = path});
    }
  }
  return linear_in(xy, "the Radiance header", user, info);
}

StillColour png_colour(const PngFacts& facts, SourceInfo& info) {
  for (const std::string& problem : facts.problems) info.notes.push_back(problem);
  info.metadata = facts.metadata;
  StillColour colour{.said = {},
                     .to_gamut = {},
                     .always_full = true,
                     .full_reason = "PNG samples are full range unless cICP says otherwise"};
  if (const auto fields = fields_of(facts, info.notes)) colour.said.push_back(*fields);
  const int depth = facts.colour_type == 3 ? 8 : facts.bits;
  for (const int bits : facts.significant_bits)
    if (bits < depth) {
      info.notes.push_back(fmt::format("sBIT: {} of {} bits are significant; all are measured", bits, depth));
      break;
    }
  return colour;
}

// SMPTE ST 268-1: transfer and colorimetry of the first element, reference low and high code values.
Result<StillColour> dpx_colour(const OIIO::ImageSpec& spec, SourceInfo& info) {
  StillColour colour;
  ColourFields f{.where = "the DPX header", .range = {}, .siting = {}};
  const std::string transfer = spec.get_string_attribute("dpx:Transfer");
  const std::string colorimetric = spec.get_string_attribute("dpx:Colorimetric");
  const auto is_video = [](const std::string& name) {
    return name.find("274M") != std::string::npos || name.find("709") != std::string::npos;
  };
  if (is_video(transfer)) f.transfer = 1;
  if (transfer == "Linear") f.transfer = kLinear;
  if (is_video(colorimetric)) f.primaries = 1;
  if (f.transfer == 2 && !transfer.empty()) info.notes.push_back("the DPX header's transfer is of no use: " + transfer);
  const int bits = spec.get_int_attribute("oiio:BitsPerSample", 16);
  const int low = spec.get_int_attribute("dpx:LowData", -1), high = spec.get_int_attribute("dpx:HighData", -1);
  if (low == 0 && high == (1 << bits) - 1) f.range = colour::Range::full;
  if (bits >= 8 && low == 16 << (bits - 8) && high == 235 << (bits - 8)) f.range = colour::Range::narrow;
  colour.said.push_back(f);
  return colour;
}

Result<void> check_dpx(const std::string& path) {
  std::string header(kDpxHeader, '\0');
  std::ifstream file(path, std::ios::binary);
  file.read(header.data(), static_cast<std::streamsize>(header.size()));
  header.resize(static_cast<std::size_t>(file.gcount()));
  std::error_code error;
  if (auto whole = check_dpx_length(bytes_of(header), std::filesystem::file_size(path, error)); !whole) {
    whole.error().where.file = path;
    return whole;
  }
  return {};
}

}  // namespace

Result<FileFacts> examine_still(const std::string& path, StillKind kind) {
  FileFacts facts;
  if (kind == StillKind::dpx)
    if (const auto whole = check_dpx(path); !whole) return tl::unexpected(whole.error());
  if (kind != StillKind::png) return facts;
  const auto bytes = read_file(path);
  if (!bytes) return tl::unexpected(bytes.error());
  auto png = read_png_chunks(bytes_of(*bytes));
  if (!png) {
    png.error().where.file = path;
    return tl::unexpected(png.error());
  }
  facts.png = std::move(*png);
  return facts;
}

Result<StillColour> still_colour(const std::string& path, StillKind kind, const FileFacts& facts,
                                 const OIIO::ImageSpec& spec, const Interpretation& user, SourceInfo& info) {
  switch (kind) {
    case StillKind::openexr:
      return exr_colour(spec, user, info);
    case StillKind::radiance:
      return radiance_colour(path, user, info);
    case StillKind::png:
      return png_colour(facts.png.value_or(PngFacts{}), info);
    case StillKind::dpx:
      return dpx_colour(spec, info);
    default:
      break;
  }
  StillColour colour;
  colour.always_full = true;
  colour.full_reason = "TIFF samples run from black at 0 to white at the largest value (TIFF 6.0)";
  if (spec.find_attribute("ICCProfile") != nullptr)
    info.notes.push_back("its ICC profile is not used: name transfer and primaries");
  return colour;
}

}  // namespace provenit::programme
