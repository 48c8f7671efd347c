#pragma once
// Tables as files that others read, and back. A file is written whole or not at all, and says what goes in and what
// comes out (Lut::input, Lut::output) where its format has room for words.
//
// What a file holds: entries with entry_bits as those codes, all others in single precision, so that a Lut read back
// evaluates within 6e-8 of the one written, times the slope of the tables that follow; where entry_bits is set, exactly
// the same.
#include <string>
#include <string_view>

#include "provenit/base/clock.h"
#include "provenit/base/error.h"
#include "provenit/correct/lut.h"

namespace provenit::correct {

/// "pq bt2020 10 narrow code", "bt1886 bt709 8 full signal 100": transfer, container, bits, range, scale, and the
/// nominal peak in cd/m2 where the transfer function uses one.
[[nodiscard]] std::string text_of(const Values& values);
/// nullopt for any other text.
[[nodiscard]] std::optional<Values> values_from_text(std::string_view text);

/// Common LUT Format: any Lut. Matrix, LUT1D and LUT3D with tetrahedral interpolation; where a table with entry_bits 8,
/// 10, 12 or 16 is followed by a table or nothing, its entries are whole numbers ("10i").
/// errors  those of validate
/// source  Academy S-2014-006 (CLF 3.0); SMPTE ST 2136-1: the file carries the version attribute of the one and the
///         namespace of the other
[[nodiscard]] Result<std::string> clf_text(const Lut& lut);
/// Reads Matrix (3 x 3, 3 x 4), LUT1D (straight lines), LUT3D (tetrahedral) and Range (all four limits), any bit depth.
/// errors  invalid_input with file and line; unsupported, with the line, for other nodes, half-float domains and other
///         interpolations: they would not evaluate to what the file means
[[nodiscard]] Result<Lut> lut_from_clf(std::string_view text, const std::string& file);

/// .cube: one Lut1d or one Lut3d, with an Affine without mixing before it as DOMAIN_MIN, DOMAIN_MAX; or a Lut1d and
/// then a Lut3d in one file (LUT_1D_INPUT_RANGE, LUT_3D_INPUT_RANGE), which fewer programs read. errors  those of
/// validate; unsupported for other stages source  Cube LUT Specification 1.0 (2013) for one table; the form with two
/// has no document of its own (common
///         practice, no source)
[[nodiscard]] Result<std::string> cube_text(const Lut& lut);
/// errors  invalid_input with file and line; also for a file that mixes the keywords of the two forms
[[nodiscard]] Result<Lut> lut_from_cube(std::string_view text, const std::string& file);

/// ICC device link, RGB to RGB (lutAToBType: 16-bit entries): Lut1d, Lut3d or both in either order, a Lut3d between two
/// Lut1d, or Lut1d, Affine, Lut1d.
/// in      created: the date the profile carries; nothing else in it changes from one writing to the next
/// errors  those of validate; unsupported for other stages; out_of_range for entries outside [0, 1]
/// source  ICC.1:2022
[[nodiscard]] Result<std::string> icc_link_bytes(const Lut& lut, Timestamp created);
/// errors  invalid_input with the file: not a profile, not a device link between RGB; unsupported for what a Lut cannot
///         hold
[[nodiscard]] Result<Lut> lut_from_icc_link(std::string_view bytes, const std::string& file);

/// What a display shows once its correction is in place, as the ICC sees it.
struct CorrectedDisplay {
  std::string title;  ///< one line
  Values values;
  colour::Luminance<> peak;  ///< cd/m2 of full white
};
/// ICC display profile (matrix and curves) with the `cicp` tag (ITU-T H.273 code points of the encoding) and the `lumi`
/// tag, for programs that convert colours themselves. Curves have 4096 entries of 16 bits: of a PQ display of
/// 1000 cd/m2 nothing below 0.015 cd/m2 is told apart, which is why `cicp` is there.
/// errors  out_of_range for a peak that is not above 0; unsupported for HLG, whose OOTF couples the channels
/// source  ICC.1:2022 (cicpTag, luminanceTag; Bradford adaptation to D50), ITU-T H.273
[[nodiscard]] Result<std::string> icc_display_bytes(const CorrectedDisplay& display, Timestamp created);

/// By the ending of the path: .clf, .cube, .icc (device link). Errors: those above; unsupported for another ending; io.
[[nodiscard]] Result<void> write_lut(const Lut& lut, const std::string& path, Timestamp created);
[[nodiscard]] Result<Lut> lut_from_bytes(std::string_view bytes, const std::string& name);
[[nodiscard]] Result<Lut> read_lut(const std::string& path);

}  // namespace provenit::correct
