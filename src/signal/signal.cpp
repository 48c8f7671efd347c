#include "provenit/signal/signal.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <initializer_list>
#include <limits>
#include <nlohmann/json.hpp>
#include <utility>

#include "provenit/base/names.h"
#include "provenit/base/text.h"

namespace provenit::signal {
namespace {

template <class E>
struct Name {
  E value;
  const char* name;    ///< in files
  const char* spoken;  ///< for people
};

constexpr Name<Transfer> transfers[] = {
    {Transfer::pq, "pq", "PQ"}, {Transfer::hlg, "hlg", "HLG"}, {Transfer::bt1886, "bt1886", "BT.1886"}};
constexpr Name<Container> containers[] = {{Container::bt709, "bt709", "BT.709"},
                                          {Container::p3_d65, "p3_d65", "P3-D65"},
                                          {Container::bt2020, "bt2020", "BT.2020"}};
constexpr Name<Range> ranges[] = {{Range::narrow, "narrow", "narrow"}, {Range::full, "full", "full"}};
constexpr Name<Shape> shapes[] = {{Shape::full_field, "full_field", "full field"},
                                  {Shape::window, "window", "window"},
                                  {Shape::checkerboard, "checkerboard", "checkerboard"}};

template <class E, std::size_t n>
std::string choices(const Name<E> (&table)[n]) {
  std::string out;
  for (const auto& row : table) out += std::string(out.empty() ? "" : ", ") + row.name;
  return out;
}

/// Reads one JSON object key by key; the first fault is kept and ends the reading.
class ObjectReader {
 public:
  ObjectReader(const nlohmann::json& json, std::string path, std::initializer_list<std::string_view> keys,
               std::string_view optional_key = {})
      : json_(json), path_(std::move(path)) {
    if (!json.is_object()) {
      fault(path_, "is not a JSON object");
      return;
    }
    for (const auto& [key, value] : json.items())
      if (std::find(keys.begin(), keys.end(), key) == keys.end() && key != optional_key)
        fault(dotted(key), "is not a key of a signal");
    for (const auto key : keys)
      if (!json.contains(key)) fault(dotted(key), "is missing");
  }

  void integer(const char* key, int& out) {
    if (!error_) integer_value(json_.at(key), dotted(key), out);
  }
  void number(const char* key, double& out) {
    if (error_) return;
    const auto& value = json_.at(key);
    if (!value.is_number()) return fault(dotted(key), "is not a number: " + value.dump());
    out = value.get<double>();
  }
  /// Two numbers; left as they are if the key is not there.
  void optional_pair(const char* key, double& first, double& second) {
    if (error_ || !json_.contains(key)) return;
    const auto& value = json_.at(key);
    if (!value.is_array() || value.size() != 2 || !value[0].is_number() || !value[1].is_number())
      return fault(dotted(key), "must be two numbers: " + value.dump());
    first = value[0].get<double>();
    second = value[1].get<double>();
  }
  void codes(const char* key, CodeRgb& out) {
    if (error_) return;
    const auto& value = json_.at(key);
    if (!value.is_array() || value.size() != 3)
      return fault(dotted(key), "must be three code values, R', G', B': " + value.dump());
    for (std::size_t i = 0; i < 3; ++i) integer_value(value[i], dotted(key), out.code[i]);
  }
  template <class E, std::size_t n>
  void name(const char* key, const Name<E> (&table)[n], E& out) {
    if (error_) return;
    const auto& value = json_.at(key);
    const auto found = value.is_string() ? value_of(table, value.get_ref<const std::string&>()) : std::nullopt;
    if (!found) return fault(dotted(key), value.dump() + " is unknown", "Use one of: " + choices(table) + ".");
    out = *found;
  }
  [[nodiscard]] const nlohmann::json& child(const char* key) const { return json_.at(key); }
  [[nodiscard]] const std::optional<Error>& error() const { return error_; }

 private:
  [[nodiscard]] std::string dotted(std::string_view key) const {
    return path_.empty() ? std::string(key) : path_ + '.' + std::string(key);
  }
  void fault(const std::string& field, std::string message, std::string advice = {}) {
    if (!error_) error_ = Error{ErrorCode::invalid_input, std::move(message), std::move(advice), {.field = field}};
  }
  void integer_value(const nlohmann::json& value, const std::string& field, int& out) {
    // Through 64 bits: a number too large for int must not wrap into a valid one. (Above 2^63 it wraps to below 0.)
    constexpr std::int64_t limit = std::numeric_limits<int>::max();
    if (!value.is_number_integer()) return fault(field, "is not a whole number: " + value.dump());
    const auto wide = value.get<std::int64_t>();
    if (wide < -limit || wide > limit || (value.is_number_unsigned() && wide < 0))
      return fault(field, "is too large: " + value.dump());
    out = static_cast<int>(wide);
  }

  const nlohmann::json& json_;
  std::string path_;
  std::optional<Error> error_;
};

Result<Encoding> read_encoding(const nlohmann::json& json, const std::string& path) {
  ObjectReader in(json, path, {"transfer", "container", "bits", "range", "nominal_peak_cdm2"});
  Encoding out;
  in.name("transfer", transfers, out.transfer);
  in.name("container", containers, out.container);
  in.integer("bits", out.bits);
  in.name("range", ranges, out.range);
  in.number("nominal_peak_cdm2", out.nominal_peak_cdm2);
  if (in.error()) return tl::unexpected(*in.error());
  if (auto checked = validate(out); !checked) {
    if (!path.empty()) checked.error().where.field.insert(0, path + '.');
    return tl::unexpected(checked.error());
  }
  return out;
}

Result<Geometry> read_geometry(const nlohmann::json& json) {
  ObjectReader in(json, "geometry", {"shape", "area_fraction", "columns", "rows"}, "centre");
  Geometry out;
  in.name("shape", shapes, out.shape);
  in.number("area_fraction", out.area_fraction);
  in.integer("columns", out.columns);
  in.integer("rows", out.rows);
  in.optional_pair("centre", out.centre_x, out.centre_y);
  if (in.error()) return tl::unexpected(*in.error());
  return out;
}

tl::unexpected<Error> out_of_range(std::string field, std::string message, std::string advice) {
  return fail(ErrorCode::out_of_range, std::move(message), std::move(advice), {.field = std::move(field)});
}

Result<void> validate_codes(const CodeRgb& rgb, int bits, const char* field) {
  const int maximum = (1 << bits) - 1;
  for (const int code : rgb.code)
    if (code < 0 || code > maximum)
      return out_of_range(field, fmt::format("code {} does not exist at {} bits", code, bits),
                          fmt::format("Give codes from 0 to {}.", maximum));
  return {};
}

bool is_centred(const Geometry& g) {
  return g.centre_x == 0.5 && g.centre_y == 0.5;
}

/// A window's sides are sqrt(area_fraction) of the picture's.
Result<void> validate_centre(const Geometry& g) {
  if (is_centred(g)) return {};
  if (g.shape != Shape::window)
    return out_of_range("geometry.centre", fmt::format("a {} has no centre of its own", name_of(g.shape)),
                        "Give 0.5 and 0.5, or use a window.");
  constexpr double hair = 1e-9;
  const double half = std::sqrt(g.area_fraction) / 2 - hair;
  for (const double at : {g.centre_x, g.centre_y})
    if (!(at - half >= 0 && at + half <= 1))
      return out_of_range("geometry.centre",
                          fmt::format("a window of {:.6g} % at {}, {} reaches beyond the picture",
                                      100 * g.area_fraction, g.centre_x, g.centre_y),
                          fmt::format("Give a centre from {:.6g} to {:.6g}, or a smaller window.", half, 1 - half));
  return {};
}

Result<void> validate_geometry(const Geometry& g) {
  if (!(g.area_fraction > 0 && g.area_fraction <= 1))
    return out_of_range("geometry.area_fraction", fmt::format("area fraction {} is not in (0, 1]", g.area_fraction),
                        "Give the window's share of the picture, e.g. 0.1 for 10 %.");
  if (g.shape != Shape::window && g.area_fraction != 1)
    return out_of_range(
        "geometry.area_fraction",
        fmt::format("a {} fills the picture, but the area fraction is {}", name_of(g.shape), g.area_fraction),
        "Give 1, or use a window.");
  if (g.shape != Shape::checkerboard && (g.columns != 0 || g.rows != 0))
    return out_of_range(
        "geometry.columns",
        fmt::format("a {} has no columns and rows, but {} x {} are given", name_of(g.shape), g.columns, g.rows),
        "Give 0 and 0.");
  if (g.shape == Shape::checkerboard && (g.columns < 2 || g.rows < 2))
    return out_of_range("geometry.columns", fmt::format("a checkerboard of {} x {} squares", g.columns, g.rows),
                        "Give 2 or more each way.");
  return validate_centre(g);
}

std::string codes_text(const CodeRgb& rgb) {
  return fmt::format("{} {} {}", rgb.code[0], rgb.code[1], rgb.code[2]);
}

}  // namespace

const char* name_of(Transfer transfer) {
  return row_of(transfers, transfer).name;
}
const char* name_of(Container container) {
  return row_of(containers, container).name;
}
const char* name_of(Range range) {
  return row_of(ranges, range).name;
}
const char* name_of(Shape shape) {
  return row_of(shapes, shape).name;
}

std::optional<Transfer> transfer_from_name(std::string_view name) {
  return value_of(transfers, name);
}
std::optional<Container> container_from_name(std::string_view name) {
  return value_of(containers, name);
}
std::optional<Range> range_from_name(std::string_view name) {
  return value_of(ranges, name);
}
std::optional<Shape> shape_from_name(std::string_view name) {
  return value_of(shapes, name);
}

nlohmann::ordered_json to_json(const Encoding& encoding) {
  return {{"transfer", name_of(encoding.transfer)},
          {"container", name_of(encoding.container)},
          {"bits", encoding.bits},
          {"range", name_of(encoding.range)},
          {"nominal_peak_cdm2", encoding.nominal_peak_cdm2}};
}

nlohmann::ordered_json to_json(const Signal& signal) {
  const auto& g = signal.geometry;
  nlohmann::ordered_json geometry{
      {"shape", name_of(g.shape)}, {"area_fraction", g.area_fraction}, {"columns", g.columns}, {"rows", g.rows}};
  if (!is_centred(g)) geometry["centre"] = {g.centre_x, g.centre_y};
  return {{"encoding", to_json(signal.encoding)},
          {"patch", signal.patch.code},
          {"surround", signal.surround.code},
          {"geometry", std::move(geometry)}};
}

Result<Encoding> encoding_from_json(const nlohmann::json& json) {
  return read_encoding(json, "");
}

Result<Signal> signal_from_json(const nlohmann::json& json) {
  ObjectReader in(json, "", {"encoding", "patch", "surround", "geometry"});
  Signal out;
  in.codes("patch", out.patch);
  in.codes("surround", out.surround);
  if (in.error()) return tl::unexpected(*in.error());
  const auto encoding = read_encoding(in.child("encoding"), "encoding");
  if (!encoding) return tl::unexpected(encoding.error());
  out.encoding = *encoding;
  const auto geometry = read_geometry(in.child("geometry"));
  if (!geometry) return tl::unexpected(geometry.error());
  out.geometry = *geometry;
  if (const auto checked = validate(out); !checked) return tl::unexpected(checked.error());
  return out;
}

Result<void> validate(const Encoding& encoding) {
  const int bits = encoding.bits;
  if (bits != 8 && bits != 10 && bits != 12 && bits != 16)
    return out_of_range("bits", fmt::format("{} bits are not supported", bits), "Give 8, 10, 12 or 16.");
  if (!std::isfinite(encoding.nominal_peak_cdm2) || encoding.nominal_peak_cdm2 <= 0)
    return out_of_range("nominal_peak_cdm2",
                        fmt::format("a nominal peak of {} cd/m2 is impossible", encoding.nominal_peak_cdm2),
                        "Give a luminance above 0, e.g. 1000.");
  return {};
}

Result<void> validate(const Signal& signal) {
  if (auto ok = validate(signal.encoding); !ok) {
    ok.error().where.field.insert(0, "encoding.");
    return ok;
  }
  if (auto ok = validate_codes(signal.patch, signal.encoding.bits, "patch"); !ok) return ok;
  if (auto ok = validate_codes(signal.surround, signal.encoding.bits, "surround"); !ok) return ok;
  return validate_geometry(signal.geometry);
}

std::string describe(const Signal& signal) {
  const auto& e = signal.encoding;
  std::string out = row_of(transfers, e.transfer).spoken;
  if (e.transfer != Transfer::pq) out += fmt::format(" {} cd/m2", exact_text(e.nominal_peak_cdm2));
  if (e.container != Container::bt2020) out += fmt::format(" {}", row_of(containers, e.container).spoken);
  out += fmt::format(" {}-bit {}, ", e.bits, name_of(e.range));
  const auto& g = signal.geometry;
  const auto patch = codes_text(signal.patch), surround = codes_text(signal.surround);
  switch (g.shape) {
    case Shape::full_field:
      return out + fmt::format("full field, R'G'B' {}", patch);
    case Shape::window: {
      std::string at;
      if (!is_centred(g)) at = fmt::format(" at {:.6g} % across and {:.6g} % down", 100 * g.centre_x, 100 * g.centre_y);
      return out + fmt::format("window {:.6g} %{}, R'G'B' {} on {}", 100 * g.area_fraction, at, patch, surround);
    }
    case Shape::checkerboard:
      break;
  }
  const char* place = g.columns % 2 == 1 && g.rows % 2 == 1 ? "at the centre"
                      : g.rows % 2 == 1                     ? "right of the centre"
                      : g.columns % 2 == 1                  ? "below the centre"
                                                            : "right of and below the centre";
  return out + fmt::format("checkerboard {} x {}, R'G'B' {} {} and {}", g.columns, g.rows, patch, place, surround);
}

}  // namespace provenit::signal
