#pragma once
// One decoded picture and what its numbers mean. The survey measures code values as decoded; nothing is converted before.
#include <array>
#include <cstddef>
#include <cstdint>
#include <memory>
#include <optional>
#include <string>

#include "provenit/signal/signal.h"

namespace provenit::programme {

enum class Chroma { c420, c422, c444, rgb, grey };  ///< c4xx: planes Y', Cb, Cr; rgb: planes R', G', B'
enum class Matrix { bt601, bt709, bt2020_ncl, rgb };
enum class Transfer { pq, hlg, bt1886, srgb, linear };
enum class Primaries { bt709, p3_d65, bt2020 };
/// Where a chroma sample lies in its block of luma samples (ITU-T H.273 chroma sample location types 0 to 3).
enum class Siting { left, centre, top_left, top };

struct PictureFormat {
  int width = 0, height = 0;  ///< luma samples
  int bits = 10;              ///< significant bits of an integer sample, 8 to 16; 32 with is_float
  bool is_float = false;      ///< planes hold 32-bit floats (linear EXR stills); range does not apply
  Chroma chroma = Chroma::c420;
  signal::Range range = signal::Range::narrow;
  Transfer transfer = Transfer::pq;
  Primaries primaries = Primaries::bt2020;
  Matrix matrix = Matrix::bt2020_ncl;
  Siting siting = Siting::top_left;        ///< c420 and c422 only
  double peak_cdm2 = 1000;     ///< L_W of HLG, BT.1886 and sRGB; light of 1.0 for linear. PQ does not use it
  friend bool operator==(const PictureFormat&, const PictureFormat&) = default;
};

/// Samples of one component, 8-bit in one byte, 9 to 16 bits in two (native order, value in the low bits), or floats.
struct Plane {
  const std::byte* data = nullptr;
  std::ptrdiff_t stride = 0;  ///< bytes from one row to the next, may be negative
  int width = 0, height = 0;
};

struct Picture {
  PictureFormat format;
  std::array<Plane, 3> planes;
  std::int64_t index = 0;   ///< 0 for the first frame of the title, in order of display
  double time_s = 0;        ///< presentation time from the title's start
  bool damaged = false;     ///< the decoder concealed errors in it
  std::shared_ptr<const void> owner;  ///< keeps the samples alive
};

/// ST 2086 and CTA-861.3 static metadata as the file has it, before any correction.
struct StaticMetadata {
  struct Mastering {
    std::array<std::array<double, 2>, 3> primaries_xy{};  ///< R, G, B as the specification orders them
    std::array<double, 2> white_xy{};
    double maximum_cdm2 = 0, minimum_cdm2 = 0;
  };
  std::optional<Mastering> mastering;
  std::optional<int> maxcll_cdm2, maxfall_cdm2;
  std::string where;  ///< "SEI of frame 0", "clli box", "cLLI chunk", ...
};

}  // namespace provenit::programme
