#pragma once
// What is sent to the display, exactly: encoding, code values, geometry, time.
#include <array>
#include <nlohmann/json_fwd.hpp>
#include <optional>
#include <string>
#include <string_view>

#include "provenit/base/clock.h"
#include "provenit/base/error.h"
#include "provenit/colour/quantise.h"

namespace provenit::signal {

enum class Transfer { pq, hlg, bt1886 };
enum class Container { bt709, p3_d65, bt2020 };
using colour::Range;

/// How code values stand for light. nominal_peak_cdm2 is L_W of HLG and BT.1886; PQ does not use it.
struct Encoding {
  Transfer transfer = Transfer::pq;
  Container container = Container::bt2020;
  int bits = 10;  ///< 8, 10, 12 or 16
  Range range = Range::narrow;
  double nominal_peak_cdm2 = 1000;  ///< > 0, finite
  friend bool operator==(const Encoding&, const Encoding&) = default;
};

/// R', G', B' code values at the encoding's bit depth.
struct CodeRgb {
  std::array<int, 3> code{};
  friend bool operator==(const CodeRgb&, const CodeRgb&) = default;
};

enum class Shape {
  full_field,   ///< `patch` everywhere
  window,       ///< rectangle with the raster's aspect ratio, `area_fraction` of the picture, on `surround`
  checkerboard  ///< columns x rows squares; the centre square is `patch`, its neighbours `surround`, and so on. Along
                ///< an even count the square right of or below the centre counts as the centre one
};

struct Geometry {
  Shape shape = Shape::full_field;
  double area_fraction = 1.0;  ///< (0, 1]; 1 unless shape is window
  int columns = 0, rows = 0;   ///< checkerboard only, >= 2; 0 otherwise
  /// Window only: its centre, shares of the picture's width and height from the top left. The whole window lies inside
  /// the picture. 0.5 for the other shapes.
  double centre_x = 0.5, centre_y = 0.5;
  friend bool operator==(const Geometry&, const Geometry&) = default;
};

/// One signal. Equal signals have equal canonical JSON, and so equal ids.
struct Signal {
  Encoding encoding;
  CodeRgb patch;
  CodeRgb surround;
  Geometry geometry;
  friend bool operator==(const Signal&, const Signal&) = default;
};

[[nodiscard]] const char* name_of(Transfer transfer);    ///< "pq", "hlg", "bt1886"
[[nodiscard]] const char* name_of(Container container);  ///< "bt709", "p3_d65", "bt2020"
[[nodiscard]] const char* name_of(Range range);          ///< "narrow", "full"
[[nodiscard]] const char* name_of(Shape shape);          ///< "full_field", "window", "checkerboard"

// The inverse of name_of; nullopt for any other text (names are lower case, no blanks).
[[nodiscard]] std::optional<Transfer> transfer_from_name(std::string_view name);
[[nodiscard]] std::optional<Container> container_from_name(std::string_view name);
[[nodiscard]] std::optional<Range> range_from_name(std::string_view name);
[[nodiscard]] std::optional<Shape> shape_from_name(std::string_view name);

/// Canonical JSON: fixed key order, every key always there but one: geometry.centre, [x, y], only of a window that is
/// not centred (so that signals stored before windows could be moved keep their JSON, and benches their hashes). Thrown
/// away and read back gives an equal signal.
[[nodiscard]] nlohmann::ordered_json to_json(const Signal& signal);
/// Takes the keys in any order, but each exactly once and no other; geometry.centre may be left out.
/// Errors: invalid_input naming the key; out_of_range for codes, bits or geometry outside their range.
[[nodiscard]] Result<Signal> signal_from_json(const nlohmann::json& json);
[[nodiscard]] nlohmann::ordered_json to_json(const Encoding& encoding);
[[nodiscard]] Result<Encoding> encoding_from_json(const nlohmann::json& json);

/// Checks bits and nominal peak. Errors: out_of_range naming the field.
[[nodiscard]] Result<void> validate(const Encoding& encoding);
/// Checks the encoding, codes against bits, geometry against shape. Errors: out_of_range naming the field.
[[nodiscard]] Result<void> validate(const Signal& signal);

/// Short text for people: "PQ 10-bit narrow, window 10 %, R'G'B' 723 723 723 on 64 64 64". The container is named when
/// it is not BT.2020, the nominal peak when the transfer function uses it: "HLG 1000 cd/m2 P3-D65 10-bit narrow, ...".
/// A window off centre says where: "window 4 % at 50 % across and 20 % down, ...".
[[nodiscard]] std::string describe(const Signal& signal);

}  // namespace provenit::signal
