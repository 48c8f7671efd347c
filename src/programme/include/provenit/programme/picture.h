#pragma once
// One decoded picture and what its numbers mean. The survey measures code values as decoded: nothing is converted
// before.
#include <array>
#include <cstddef>
#include <cstdint>
#include <memory>
#include <optional>
#include <string>
#include <string_view>

#include "provenit/colour/quantise.h"

namespace provenit::programme {

enum class Chroma { c420, c422, c444, rgb, grey };  ///< c4xx: planes Y', Cb, Cr; rgb: planes R', G', B'; grey: plane Y'
enum class Matrix { bt601, bt709, bt2020_ncl, rgb };
enum class Transfer { pq, hlg, bt1886, srgb, linear };
enum class Gamut { bt709, p3_d65, bt2020 };
/// Where a chroma sample lies in its block of luma samples (ITU-T H.273 chroma sample location types 0 to 3). 4:2:2 has
/// only left (0, co-sited) and centre (1).
enum class Siting { left, centre, top_left, top };

struct PictureFormat {
  int width = 0, height = 0;  ///< luma samples
  int bits = 10;              ///< significant bits of an integer sample, 8 to 16; 32 with is_float
  bool is_float = false;      ///< planes hold 32-bit floats (linear stills); range does not apply
  Chroma chroma = Chroma::c420;
  colour::Range range = colour::Range::narrow;
  Transfer transfer = Transfer::pq;
  Gamut gamut = Gamut::bt2020;  ///< primaries, with the white of D65
  Matrix matrix = Matrix::bt2020_ncl;
  Siting siting = Siting::top_left;  ///< c420 and c422 only
  double peak_cdm2 = 1000;  ///< L_W of HLG and BT.1886, white of sRGB, light of 1.0 for linear. PQ does not use it
  friend bool operator==(const PictureFormat&, const PictureFormat&) = default;
};

/// Samples of one component: 8-bit in one byte, 9 to 16 bits in two (native order, value in the low bits), or floats.
struct Plane {
  const std::byte* data = nullptr;
  std::ptrdiff_t stride = 0;  ///< bytes from one row to the next, may be negative
  int width = 0, height = 0;
};

struct Picture {
  PictureFormat format;
  std::array<Plane, 3> planes;
  std::int64_t index = 0;             ///< 0 for the first frame of the title, in order of display
  double time_s = 0;                  ///< presentation time from the title's first frame
  bool damaged = false;               ///< the decoder reported or concealed errors in it
  std::shared_ptr<const void> owner;  ///< keeps the samples alive
};

/// ST 2086 and CTA-861.3 static metadata as the file has it, before any correction.
struct StaticMetadata {
  struct Mastering {
    std::array<std::array<double, 2>, 3> primaries_xy{};  ///< R, G, B as the specification orders them
    std::array<double, 2> white_xy{};
    double maximum_cdm2 = 0, minimum_cdm2 = 0;
    friend bool operator==(const Mastering&, const Mastering&) = default;
  };
  std::optional<Mastering> mastering;
  std::optional<int> maxcll_cdm2, maxfall_cdm2;  ///< 0 there means "unknown"
  std::string where;                             ///< "SEI of frame 0", "clli box", "cLLI chunk", ...; empty: none
  friend bool operator==(const StaticMetadata&, const StaticMetadata&) = default;
};

// Names used on the command line, in files and in reports, and their inverse (nullopt for any other text):
// "420", "422", "444", "rgb", "grey"; "bt601", "bt709", "bt2020_ncl", "rgb"; "pq", "hlg", "bt1886", "srgb", "linear";
// "bt709", "p3_d65", "bt2020"; "left", "centre", "top_left", "top".
[[nodiscard]] const char* name_of(Chroma value);
[[nodiscard]] const char* name_of(Matrix value);
[[nodiscard]] const char* name_of(Transfer value);
[[nodiscard]] const char* name_of(Gamut value);
[[nodiscard]] const char* name_of(Siting value);
[[nodiscard]] std::optional<Chroma> chroma_from_name(std::string_view name);
[[nodiscard]] std::optional<Matrix> matrix_from_name(std::string_view name);
[[nodiscard]] std::optional<Transfer> transfer_from_name(std::string_view name);
[[nodiscard]] std::optional<Gamut> gamut_from_name(std::string_view name);
[[nodiscard]] std::optional<Siting> siting_from_name(std::string_view name);

/// "3840x2160 10-bit 420 narrow, transfer pq, primaries bt2020, matrix bt2020_ncl, chroma top_left"
[[nodiscard]] std::string describe(const PictureFormat& format);

}  // namespace provenit::programme
