#pragma once
// A signal as a PNG file with 16 bits per sample, labelled with what its codes stand for. Any player that keeps the
// samples as they are sends exactly these codes.
#include <cstdint>
#include <functional>
#include <span>
#include <string>
#include <vector>

#include "provenit/base/error.h"
#include "provenit/signal/raster.h"

namespace provenit::signal {

/// 16-bit sample for a code of `bits` bits: the code in the upper bits. The lower ones are 0 at narrow range, where a
/// code of n bits stands for the 16-bit code 2^(16-n) times as large; at full range they repeat the code's upper bits,
/// so that the highest code is 65535. Either way sample >> (16 - bits) is the code again; the file's sBIT chunk says
/// so. in      code in [0, 2^bits - 1]; bits 8 to 16 source  PNG third edition (W3C 2025), section 12.4 (left bit
/// replication) and 13.12 (sBIT); narrow range BT.2100-3
[[nodiscard]] std::uint16_t png_sample(int code, int bits, Range range);

/// What the cICP chunk says of an encoding, code points of Rec. ITU-T H.273; the matrix is 0 (R'G'B').
/// primaries 1 BT.709, 9 BT.2020, 12 P3-D65; transfer 16 PQ, 18 HLG. BT.1886 has no code point of its own: it is the
/// EOTF of the curves 1 (BT.709), 14 (BT.2020, 10 bits) and 15 (BT.2020, 12 bits and more), which stand for it here.
struct CodePoints {
  std::uint8_t primaries = 0, transfer = 0, matrix = 0, full_range = 0;
};
[[nodiscard]] CodePoints code_points(const Encoding& encoding);

/// The file's bytes: RGB, 16 bits, sBIT and cICP, no gAMA or cHRM (cICP takes precedence over them), no mDCV or cLLI: a
/// patch has no mastering display. Errors: those of Raster::make, which was asked before; io if memory runs out.
[[nodiscard]] Result<std::string> png16(const Raster& raster);
/// The same of any codes of an encoding. in      row_of: R', G', B' code values of row y, top row first. It may not
/// throw. Errors: those of validate(); invalid_input if a row does not fill the size; io if memory runs out.
[[nodiscard]] Result<std::string> png16(const Encoding& encoding, RasterSize size,
                                        const std::function<std::vector<std::uint16_t>(int y)>& row_of);
/// The same of a picture that is no signal: `samples` are R, G, B of each pixel, row by row, all 16 bits significant.
/// Errors: invalid_input if they do not fill the size; io if memory runs out.
[[nodiscard]] Result<std::string> png16(std::span<const std::uint16_t> samples, RasterSize size,
                                        const CodePoints& points);
/// Writes the file whole or not at all. Errors: those of png16; io with the path.
[[nodiscard]] Result<void> write_png16(const Raster& raster, const std::string& path);
/// The same of a signal on a raster of this size. Errors: those of Raster::make, too.
[[nodiscard]] Result<void> write_png16(const Signal& signal, RasterSize size, const std::string& path);

}  // namespace provenit::signal
