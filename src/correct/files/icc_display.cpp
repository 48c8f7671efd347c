#include <algorithm>
#include <array>
#include <cmath>
#include <vector>

#include "files/icc.h"
#include "provenit/colour/transfer.h"
#include "provenit/correct/lut_files.h"
#include "provenit/signal/encoding.h"

namespace provenit::correct {
namespace {

constexpr int kEntries = 4096;

/// cicpType of ICC.1:2022: signature, four zeros, and the code points of ITU-T H.273 (tables 2 to 4). BT.1886 has none
/// of its own: the signal it decodes is that of BT.709. Written byte by byte, as lcms2 2.14 puts four bytes too many
/// into the tag.
std::array<unsigned char, 12> cicp_tag(const Values& values) {
  const auto primaries = [&]() -> unsigned char {
    switch (values.encoding.container) {
      case signal::Container::bt709:
        return 1;
      case signal::Container::p3_d65:
        return 12;
      case signal::Container::bt2020:
        break;
    }
    return 9;
  };
  const unsigned char transfer = values.encoding.transfer == signal::Transfer::pq ? 16 : 1, rgb = 0;
  const bool full = values.scale == Scale::signal || values.encoding.range == signal::Range::full;
  const unsigned char full_range = full ? 1 : 0;
  return {'c', 'i', 'c', 'p', 0, 0, 0, 0, primaries(), transfer, rgb, full_range};
}

/// Light of each entry relative to the peak.
icc::Curve curve_of(const CorrectedDisplay& display) {
  std::vector<cmsUInt16Number> words;
  for (int i = 0; i < kEntries; ++i) {
    const colour::Signal<> e = signal_of(display.values, static_cast<double>(i) / (kEntries - 1));
    const double light =
        display.values.encoding.transfer == signal::Transfer::pq
            ? colour::pq_eotf(e).cdm2
            : colour::bt1886_eotf(e, colour::Bt1886Display<>{.peak = display.peak, .black = {.cdm2 = 0}}).cdm2;
    const double relative = std::min(std::max(light / display.peak.cdm2, 0.0), 1.0);
    words.push_back(static_cast<cmsUInt16Number>(std::lround(65535 * relative)));
  }
  return icc::Curve(cmsBuildTabulatedToneCurve16(nullptr, kEntries, words.data()));
}

cmsCIExyY with_unit_luminance(const colour::Xy<>& c) {
  return {.x = c.x, .y = c.y, .Y = 1};
}

}  // namespace

Result<std::string> icc_display_bytes(const CorrectedDisplay& display, Timestamp created) {
  if (auto valid = signal::validate(display.values.encoding); !valid) return tl::unexpected(valid.error());
  if (!(display.peak.cdm2 > 0) || !std::isfinite(display.peak.cdm2))
    return fail(ErrorCode::out_of_range, "the peak of the display is not above 0 cd/m2", "Give the peak as measured.");
  if (display.values.encoding.transfer == signal::Transfer::hlg)
    return fail(ErrorCode::unsupported, "an ICC profile of curves and a matrix cannot hold HLG's OOTF",
                "Describe the display for PQ or BT.1886.");
  const colour::Primaries<>& p = signal::primaries_of(display.values.encoding.container);
  const cmsCIExyY white = with_unit_luminance(p.white);
  const cmsCIExyYTRIPLE primaries{with_unit_luminance(p.red), with_unit_luminance(p.green),
                                  with_unit_luminance(p.blue)};
  const icc::Curve curve = curve_of(display);
  cmsToneCurve* curves[3] = {curve.get(), curve.get(), curve.get()};
  const icc::Profile profile(cmsCreateRGBProfile(&white, &primaries, curves));
  if (profile == nullptr) return fail(ErrorCode::invalid_input, "the display profile could not be put together", "");
  cmsSetProfileVersion(profile.get(), icc::kVersion);
  const cmsCIEXYZ luminance{.X = 0, .Y = display.peak.cdm2, .Z = 0};
  const auto cicp = cicp_tag(display.values);
  if (!icc::describe(profile.get(), display.title) || cmsWriteTag(profile.get(), cmsSigLuminanceTag, &luminance) == 0 ||
      cmsWriteRawTag(profile.get(), cmsSigcicpTag, cicp.data(), cicp.size()) == 0)
    return fail(ErrorCode::invalid_input, "the display profile could not be put together", "");
  return icc::bytes_of(profile.get(), created);
}

}  // namespace provenit::correct
