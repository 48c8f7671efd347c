#include "reader/png_chunks.h"

#include <fmt/format.h>
#include <zlib.h>

#include <algorithm>
#include <array>
#include <cmath>

namespace provenit::programme {
namespace {

constexpr std::array<std::uint8_t, 8> kSignature{0x89, 'P', 'N', 'G', '\r', '\n', 0x1a, '\n'};

// Chromaticities in steps of 0.00002, luminances in steps of 0.0001 cd/m2 (mDCV).
bool read_mastering(BigEndian in, PngFacts& facts) {
  StaticMetadata::Mastering m;
  for (auto& primary : m.primaries_xy)
    for (double& value : primary) value = in.u16() * 0.00002;
  for (double& value : m.white_xy) value = in.u16() * 0.00002;
  m.maximum_cdm2 = in.u32() * 0.0001;
  m.minimum_cdm2 = in.u32() * 0.0001;
  if (!in.ok() || in.left() != 0) return false;
  facts.metadata.mastering = m;
  return true;
}

bool read_light(BigEndian in, PngFacts& facts) {
  const double cll = in.u32() * 0.0001, fall = in.u32() * 0.0001;
  if (!in.ok() || in.left() != 0) return false;
  facts.metadata.maxcll_cdm2 = static_cast<int>(std::lround(cll));
  facts.metadata.maxfall_cdm2 = static_cast<int>(std::lround(fall));
  return true;
}

bool read_cicp(BigEndian in, PngFacts& facts) {
  ColourFields f{.where = "the cICP chunk", .range = {}, .siting = {}};
  f.primaries = in.u8();
  f.transfer = in.u8();
  f.matrix = in.u8();
  const int full = in.u8();
  if (!in.ok() || in.left() != 0 || full > 1 || f.matrix != 0) return false;  // the third edition asks for matrix 0
  f.range = full == 1 ? colour::Range::full : colour::Range::narrow;
  facts.cicp = f;
  return true;
}

bool read_header(BigEndian in, PngFacts& facts) {
  facts.width = in.u32();
  facts.height = in.u32();
  facts.bits = in.u8();
  facts.colour_type = in.u8();
  return in.ok() && facts.width > 0 && facts.height > 0;
}

bool read_gamma(BigEndian in, PngFacts& facts) {
  const double gamma = in.u32() * 0.00001;
  if (!in.ok() || in.left() != 0 || gamma <= 0) return false;
  facts.gamma = gamma;
  return true;
}

// False: broken. Chunks of other kinds are none of our business.
bool read_chunk(const std::string& kind, Bytes data, PngFacts& facts) {
  const BigEndian in(data);
  if (kind == "cICP") return read_cicp(in, facts);
  if (kind == "mDCV" || kind == "mDCv") return read_mastering(in, facts);
  if (kind == "cLLI" || kind == "cLLi") return read_light(in, facts);
  if (kind == "gAMA") return read_gamma(in, facts);
  if (kind == "sRGB") return facts.has_srgb = data.size() == 1;
  if (kind == "iCCP") return facts.has_icc = data.size() > 2;
  if (kind == "cHRM") return facts.has_chromaticities = data.size() == 32;
  if (kind == "sBIT") {
    facts.significant_bits.assign(data.begin(), data.end());
    return !data.empty() && data.size() <= 4;
  }
  return true;
}

std::uint32_t crc_of(Bytes kind_and_data) {
  return static_cast<std::uint32_t>(crc32_z(crc32(0, nullptr, 0), kind_and_data.data(), kind_and_data.size()));
}

// Four letters, or "?" for what cannot be shown.
std::string kind_of_chunk(std::string kind) {
  for (char& c : kind)
    if ((c < 'A' || c > 'Z') && (c < 'a' || c > 'z')) c = '?';
  return kind;
}

void add_place(PngFacts& facts, const std::string& kind) {
  facts.metadata.where += (facts.metadata.where.empty() ? "" : ", ") + kind + " chunk";
}

tl::unexpected<Error> broken_png(const std::string& what) {
  return fail(ErrorCode::invalid_input, "broken PNG: " + what, "Make the file again.");
}

}  // namespace

Result<PngFacts> read_png_chunks(Bytes file) {
  BigEndian in(file);
  const Bytes signature = in.take(kSignature.size());
  if (!std::equal(signature.begin(), signature.end(), kSignature.begin(), kSignature.end()))
    return broken_png("it does not begin as one");
  PngFacts facts;
  bool has_data = false;
  for (bool is_first = true; in.left() > 0; is_first = false) {
    const std::uint32_t length = in.u32();
    if (length > 0x7fffffff || std::size_t{length} + 8 > in.left()) return broken_png("it ends inside a chunk");
    BigEndian chunk(in.take(4 + std::size_t{length}));
    BigEndian whole = chunk;
    const Bytes checked = whole.take(whole.left());
    const std::string kind = chunk.four();
    const Bytes data = chunk.take(chunk.left());
    const bool intact = crc_of(checked) == in.u32();
    if (is_first) {
      if (kind != "IHDR" || !intact || !read_header(BigEndian(data), facts))
        return broken_png("its header cannot be used");
      continue;
    }
    if (kind == "IDAT" && !intact) return broken_png("its picture data fails its check sum");
    if (kind == "IEND" && has_data) return facts;
    if (kind == "IDAT" || kind == "IEND" || has_data) {
      has_data = true;
      continue;
    }
    if (!intact) {
      facts.problems.push_back(fmt::format("chunk {} fails its check sum and is not used", kind_of_chunk(kind)));
      continue;
    }
    if (!read_chunk(kind, data, facts)) {
      facts.problems.push_back(fmt::format("chunk {} is malformed and is not used", kind_of_chunk(kind)));
    } else if (kind == "mDCV" || kind == "mDCv" || kind == "cLLI" || kind == "cLLi") {
      add_place(facts, kind);
    }
  }
  return broken_png("it ends before its picture does");
}

std::optional<ColourFields> fields_of(const PngFacts& facts, std::vector<std::string>& notes) {
  if (facts.cicp) {
    if (facts.has_srgb || facts.has_icc || facts.gamma)
      notes.push_back("the cICP chunk counts before iCCP, sRGB, gAMA and cHRM (PNG third edition, 4.3)");
    return facts.cicp;
  }
  if (facts.has_icc) {
    notes.push_back("its ICC profile is not used: name transfer and primaries");
    return std::nullopt;
  }
  if (facts.has_srgb)
    return ColourFields{
        .where = "the sRGB chunk", .transfer = 13, .primaries = 1, .matrix = 0, .range = {}, .siting = {}};
  if (facts.gamma) notes.push_back(fmt::format("gAMA {:.5f} is no transfer function of ours: name one", *facts.gamma));
  return std::nullopt;
}

}  // namespace provenit::programme
