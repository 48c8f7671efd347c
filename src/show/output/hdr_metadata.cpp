#include "provenit/show/hdr_metadata.h"

#include <drm_mode.h>
#include <fmt/format.h>

#include <algorithm>
#include <bit>
#include <cmath>
#include <numeric>

#include "provenit/signal/encoding.h"

namespace provenit::show {
namespace {

static_assert(sizeof(hdr_output_metadata) == sizeof(HdrBlob));

constexpr double kChromaticityStep = 0.00002, kMinimumStep_cdm2 = 0.0001;
constexpr std::size_t kEdidBlock = 128;
constexpr unsigned kCtaExtension = 2, kExtendedTag = 7, kHdrStaticMetadata = 6;

/// `value` in whole steps, if it lies within [least, most].
Result<std::uint16_t> steps(double value, double step, double least, double most, const char* field) {
  if (value >= least && value <= most) return static_cast<std::uint16_t>(std::lround(value / step));
  return fail(ErrorCode::out_of_range, fmt::format("{} cannot be {}", field, value),
              fmt::format("Give {} to {}.", least, most), {.field = field});
}

/// What the data block at `block` says, if it is the one of HDR static metadata.
std::optional<AnnouncedHdr> announced_in(std::span<const std::uint8_t> block) {
  if (block[0] >> 5 != kExtendedTag || block.size() < 3 || block[1] != kHdrStaticMetadata) return std::nullopt;
  const auto bit = [&](unsigned n) { return (block[2] >> n & 1U) != 0; };
  return AnnouncedHdr{.sdr = bit(0), .traditional_hdr = bit(1), .pq = bit(2), .hlg = bit(3)};
}

}  // namespace

std::optional<HdrMetadata> usual_metadata(const signal::Encoding& encoding) {
  if (encoding.transfer == signal::Transfer::bt1886) return std::nullopt;
  return HdrMetadata{.eotf = encoding.transfer == signal::Transfer::pq ? InfoframeEotf::pq : InfoframeEotf::hlg,
                     .mastering = signal::primaries_of(encoding.container),
                     .maximum_cdm2 = encoding.nominal_peak_cdm2};
}

Result<HdrBlob> hdr_blob(const HdrMetadata& m) {
  hdr_output_metadata out{};  // both types 0: static metadata type 1
  auto& frame = out.hdmi_metadata_type1;
  frame.eotf = static_cast<std::uint8_t>(m.eotf);
  const std::array points{m.mastering.red, m.mastering.green, m.mastering.blue, m.mastering.white};
  for (std::size_t i = 0; i < points.size(); ++i) {
    const auto x = steps(points[i].x, kChromaticityStep, 0, 1, "mastering chromaticity");
    const auto y = steps(points[i].y, kChromaticityStep, 0, 1, "mastering chromaticity");
    if (!x || !y) return tl::unexpected((x ? y : x).error());
    if (i < 3)
      frame.display_primaries[i].x = *x, frame.display_primaries[i].y = *y;
    else
      frame.white_point.x = *x, frame.white_point.y = *y;
  }
  const auto maximum = steps(m.maximum_cdm2, 1, 1, 65535, "mastering maximum");
  const auto minimum = steps(m.minimum_cdm2, kMinimumStep_cdm2, kMinimumStep_cdm2, 6.5535, "mastering minimum");
  const auto cll = steps(m.max_cll_cdm2, 1, 0, 65535, "MaxCLL");
  const auto fall = steps(m.max_fall_cdm2, 1, 0, m.max_cll_cdm2 > 0 ? m.max_cll_cdm2 : 65535, "MaxFALL");
  for (const auto* part : {&maximum, &minimum, &cll, &fall})
    if (!*part) return tl::unexpected(part->error());
  frame.max_display_mastering_luminance = *maximum;
  frame.min_display_mastering_luminance = *minimum;
  frame.max_cll = *cll;
  frame.max_fall = *fall;
  // Assigned member by member above, so that the padding is 0 as well.
  return std::bit_cast<HdrBlob>(out);
}

std::optional<AnnouncedHdr> announced_hdr(std::span<const std::uint8_t> edid) {
  for (std::size_t at = kEdidBlock; at + kEdidBlock <= edid.size(); at += kEdidBlock) {
    const auto block = edid.subspan(at, kEdidBlock);
    if (block[0] != kCtaExtension || std::accumulate(block.begin(), block.end(), 0U) % 256 != 0) continue;
    const std::size_t end = std::min<std::size_t>(block[2], kEdidBlock - 1);  // where detailed timings begin
    for (std::size_t i = 4; i < end;) {
      const std::size_t length = 1 + (block[i] & 0x1FU);
      if (i + length > end) break;
      if (const auto found = announced_in(block.subspan(i, length))) return found;
      i += length;
    }
  }
  return std::nullopt;
}

}  // namespace provenit::show
