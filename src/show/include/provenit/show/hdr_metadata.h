#pragma once
// HDR static metadata as an output sends it (Dynamic Range and Mastering InfoFrame of CTA-861), and what a display's
// EDID says it takes. Pure.
#include <array>
#include <cstddef>
#include <cstdint>
#include <optional>
#include <span>

#include "provenit/base/error.h"
#include "provenit/colour/primaries.h"
#include "provenit/signal/signal.h"

namespace provenit::show {

/// Code points of the infoframe's EOTF field. source  CTA-861-G (from memory); Linux include/linux/hdmi.h
enum class InfoframeEotf : std::uint8_t { sdr = 0, traditional_hdr = 1, pq = 2, hlg = 3 };

struct HdrMetadata {
  InfoframeEotf eotf = InfoframeEotf::pq;
  colour::Primaries<> mastering = colour::bt2020_primaries;  ///< of the mastering display, SMPTE ST 2086
  double maximum_cdm2 = 1000;                                ///< of it: 1 to 65535, sent as whole cd/m2
  double minimum_cdm2 = 0.0001;                              ///< of it: 0.0001 to 6.5535, sent in steps of 0.0001 cd/m2
  int max_cll_cdm2 = 0;                                      ///< 0 to 65535; 0: not known
  int max_fall_cdm2 = 0;                                     ///< the same, at most max_cll unless that is 0
};

/// What the metadata of an encoding is if nobody says otherwise: its container, its nominal peak, content light not
/// known. nullopt for BT.1886, which has none. It states a mastering display and measures nothing.
[[nodiscard]] std::optional<HdrMetadata> usual_metadata(const signal::Encoding& encoding);

using HdrBlob = std::array<std::byte, 32>;
/// The bytes of the kernel's struct hdr_output_metadata (in this machine's byte order), for the connector's property
/// HDR_OUTPUT_METADATA: type 1 twice, then EOTF, primaries (red, green, blue), white, luminances, content light.
/// errors  out_of_range naming the field
/// source  Linux 6.1 uapi drm_mode.h; CTA-861-G and -H, 6.9 (clause from memory): units as above, chromaticity in steps
///         of 0.00002; a display tells the primaries apart by their values and not by their order (from memory)
[[nodiscard]] Result<HdrBlob> hdr_blob(const HdrMetadata& metadata);

/// What an EDID's HDR static metadata block says the display takes.
struct AnnouncedHdr {
  bool sdr = false, traditional_hdr = false, pq = false, hlg = false;
};
/// nullopt if there is no such block, or the EDID is damaged (its lengths or check sums are wrong).
/// source  CTA-861-G: extension block tag 2, data block extended tag 6, byte 3 (from memory)
[[nodiscard]] std::optional<AnnouncedHdr> announced_hdr(std::span<const std::uint8_t> edid);

}  // namespace provenit::show
