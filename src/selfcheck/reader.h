#pragma once
// Typed reading of a row's inputs. The first thing that is wrong is kept and later calls answer with harmless values,
// so that the code of a quantity reads as its formula; the caller asks error() before it believes the result.
#include <array>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "provenit/colour/observer.h"
#include "provenit/colour/primaries.h"
#include "provenit/colour/quantise.h"
#include "provenit/colour/spectrum.h"
#include "table.h"

namespace provenit::selfcheck {

/// What a quantity gives: its components.
using Values = std::vector<double>;

/// A number as tables write it: decimal, or a fraction "1/12".
[[nodiscard]] std::optional<double> parse_number(std::string_view text);
/// Blank-separated numbers; nullopt if one is none, or if there are none.
[[nodiscard]] std::optional<Values> parse_numbers(std::string_view text);

/// "sum at 1 nm over the CMF range", "5 nm summation 380-780 nm with no interpolation", ...
struct SummationNote {
  double step_nm = 0;
  std::optional<std::pair<double, double>> range_nm;  ///< nullopt: the observer's own
  bool interpolated = false;
};

class Reader {
 public:
  explicit Reader(Inputs inputs) : inputs_(std::move(inputs)), note_used_(inputs_.notes.size(), false) {}

  [[nodiscard]] bool has(std::string_view key) const;
  double number(std::string_view key);
  double number_or(std::string_view key, double fallback);
  double positive(std::string_view key);
  double not_negative(std::string_view key);
  int integer(std::string_view key, int lowest, int highest);
  Values numbers(std::string_view key);
  template <std::size_t N>
  std::array<double, N> vector(std::string_view key) {
    std::array<double, N> out{};
    const auto values = exactly(key, N);
    for (std::size_t i = 0; i < N && i < values.size(); ++i) out[i] = values[i];
    return out;
  }
  std::string_view text(std::string_view key);  ///< valid as long as the reader
  /// The text, which must be one of the choices; gives its place.
  std::size_t choice(std::string_view key, std::span<const std::string_view> choices);

  int bits();             ///< 8 to 16
  colour::Range range();  ///< narrow, full
  int code(double value, int bits, std::string_view key);
  template <template <class> class X>
  X<double> xyz(std::string_view key) {
    const auto v = vector<3>(key);
    return {.X = v[0], .Y = v[1], .Z = v[2]};
  }
  template <template <class> class C>
  C<double> rgb(std::string_view key) {
    const auto v = vector<3>(key);
    return {.r = v[0], .g = v[1], .b = v[2]};
  }
  colour::Xy<> xy(std::string_view key);  ///< two numbers, y above 0
  /// "0.64 0.33 0.30 0.60 0.15 0.06", a name ("BT.2020"), or a name with numbers in brackets (the numbers count).
  std::vector<colour::Xy<>> primaries(std::string_view key);
  /// Three of them with a white: that of white_key if the row has it, else the named set's own.
  colour::Primaries<> rgb_space(std::string_view key, std::string_view white_key);
  colour::Observer observer();
  colour::Spectrum illuminant();
  /// A test colour sample's name, or one of the reference tables with the columns wavelength_nm, reflectance.
  colour::Spectrum reflectance(std::string_view key);
  bool row_major();  ///< key order, "row major" (also when absent) or "column major"

  /// True if the row has this note; the note is then used up.
  bool note(std::string_view wanted);
  SummationNote summation();

  void fail(std::string_view key, std::string message, std::string advice);
  /// Takes over a library's error, naming the key.
  void fail(std::string_view key, const Error& error);
  /// The first error, or the first key or note that nothing asked for.
  [[nodiscard]] std::optional<Error> error() const;

 private:
  const std::string* find(std::string_view key);
  Values exactly(std::string_view key, std::size_t count);

  Inputs inputs_;
  std::vector<std::string> used_;
  std::vector<bool> note_used_;
  std::optional<Error> error_;
};

}  // namespace provenit::selfcheck
