#pragma once
// Tables of a correction as values: what they map from, what to, and by which stages. Evaluation here is the reference,
// in double precision and one colour at a time; frame.h does whole frames.
#include <array>
#include <optional>
#include <string>
#include <variant>
#include <vector>

#include "provenit/base/error.h"
#include "provenit/colour/matrix3.h"
#include "provenit/colour/quantities.h"
#include "provenit/signal/signal.h"

namespace provenit::correct {

/// R, G, B as a table sees them: 0 to 1 over the table's domain, by the Values of the Lut.
using Triple = colour::Vector3<double>;

/// How the numbers of a table stand for the non-linear signal E'.
enum class Scale {
  signal,  ///< E' itself: 0 is black and 1 is 100 %, whatever codes carry it
  code     ///< code / (2^bits - 1): black is 64 / 1023 at 10-bit narrow range; the same as `signal` at full range
};

/// What goes into a Lut or comes out of it.
struct Values {
  signal::Encoding encoding;
  Scale scale = Scale::signal;
  friend bool operator==(const Values&, const Values&) = default;
};

/// The number that a table holds for this signal, and back. Linear and not clamped. The encoding must be valid.
/// source  Rec. ITU-R BT.2100-3 (narrow and full range; see colour/quantise.h)
[[nodiscard]] double number_of(const Values& values, colour::Signal<> signal);
[[nodiscard]] colour::Signal<> signal_of(const Values& values, double number);

/// matrix x v + offset. Nothing is clamped.
struct Affine {
  colour::Matrix3<> matrix = colour::diagonal(Triple{1, 1, 1});
  Triple offset{};
};

inline constexpr int kSmallestTable = 2, kLargest1d = 65536, kLargest3d = 129;
/// Entries stay within this either way: far beyond any signal, far within single precision.
inline constexpr double kLargestEntry = 1e6;

/// One curve per channel, equal steps over [0, 1].
struct Lut1d {
  std::array<std::vector<double>, 3> channel;  ///< equally long, kSmallestTable to kLargest1d
  int entry_bits = 0;                          ///< entries are multiples of 1 / (2^entry_bits - 1); 0: not rounded
  [[nodiscard]] int size() const { return static_cast<int>(channel[0].size()); }
};

/// A lattice over the cube [0, 1]^3, equal steps, size x size x size nodes.
struct Lut3d {
  int size = 0;               ///< kSmallestTable to kLargest3d
  std::vector<Triple> nodes;  ///< blue fastest: node(r, g, b) is nodes[(r size + g) size + b]
  int entry_bits = 0;         ///< as Lut1d's
  [[nodiscard]] const Triple& node(int r, int g, int b) const { return nodes[(r * size + g) * size + b]; }
  [[nodiscard]] Triple& node(int r, int g, int b) { return nodes[(r * size + g) * size + b]; }
};

using Stage = std::variant<Affine, Lut1d, Lut3d>;

/// A correction as tables: the stages in the order in which they act. "3 x 3 + 1D" is Lut1d, Affine, Lut1d: to linear
/// light, matrix, back to signal.
struct Lut {
  std::string title;                    ///< one line
  std::optional<Values> input, output;  ///< nothing: the file it came from does not say
  std::vector<Stage> stages;
};

/// Identity tables of that size, the start of every solve.
[[nodiscard]] Lut1d identity_1d(int size);
[[nodiscard]] Lut3d identity_3d(int size);

/// Errors: out_of_range naming the stage (from 1) and what is wrong with it: sizes, counts, a number that is not
/// finite, entries that are not the multiples which entry_bits promises, encodings that signal::validate refuses, a
/// title of more than one line.
[[nodiscard]] Result<void> validate(const Lut& lut);

/// Between entries a straight line. Input below 0 (and NaN) counts as 0, above 1 as 1.
/// range   a valid table
[[nodiscard]] Triple evaluate(const Lut1d& table, const Triple& v);
/// The four nodes of a 3D table of this size that a value is mixed from, as indices into Lut3d::nodes, with their
/// shares.
struct Tetrahedron {
  std::array<std::size_t, 4> node{};
  std::array<double, 4> share{};
};
[[nodiscard]] Tetrahedron tetrahedron(int size, const Triple& v);
/// Tetrahedral: with the fractions of the cell sorted, fa >= fb >= fc along axes a, b, c,
///   (1 - fa) V0 + (fa - fb) Va + (fb - fc) Vab + fc Vabc.
/// Exact for affine maps and along the grey diagonal; continuous, ties give the same from either side. Input is clamped
/// as for Lut1d.
/// source  the formula as OpenColorIO, lcms2 and FFmpeg compute it (tests hold it against the three)
[[nodiscard]] Triple evaluate(const Lut3d& table, const Triple& v);
[[nodiscard]] Triple evaluate(const Affine& stage, const Triple& v);
/// All stages, one after the other. No stage: v itself.
[[nodiscard]] Triple evaluate(const Lut& lut, const Triple& v);

/// The same tables with every entry rounded to the nearest multiple of 1 / (2^bits - 1), half away from zero, and
/// clamped to [0, 1]: what a file or a device of that many bits holds. An Affine stage stays as it is. The result says
/// so in entry_bits, and evaluates to what the written file means.
/// range   bits 8 to 16
[[nodiscard]] Lut rounded(Lut lut, int bits);

}  // namespace provenit::correct
