#include "provenit/correct/lut.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "provenit/colour/quantise.h"

namespace provenit::correct {
namespace {

/// Codes of E' = 0 and E' = 1 as shares of the highest code; not rounded, as both are whole codes.
struct Ends {
  double black = 0, peak = 1;
};
Ends ends_of(const Values& values) {
  if (values.scale == Scale::signal || values.encoding.range == signal::Range::full) return {};
  const int bits = values.encoding.bits;
  const double top = (1 << bits) - 1;
  const auto code = [&](double e) { return colour::quantise({.value = e}, bits, values.encoding.range).value / top; };
  return {.black = code(0), .peak = code(1)};
}

/// A cell of a table and how far into it.
struct Place {
  int index = 0;  ///< 0 to size - 2
  double fraction = 0;
};
Place place_of(double v, int size) {
  const double x = v > 0 ? std::min(v, 1.0) * (size - 1) : 0;
  const int index = std::min(static_cast<int>(x), size - 2);
  return {.index = index, .fraction = x - index};
}

double nearest(double v, int bits) {
  const double top = (1 << bits) - 1;
  return std::clamp(std::round(v * top), 0.0, top) / top;
}

bool finite(const Triple& v) {
  return std::isfinite(v[0]) && std::isfinite(v[1]) && std::isfinite(v[2]);
}

bool usable(double entry) {
  return std::fabs(entry) <= kLargestEntry;
}

/// What is wrong with a stage; empty if nothing is.
std::string fault_of(const Affine& a) {
  for (const auto& row : a.matrix.row)
    if (!finite(row)) return "its matrix has a number that is not finite";
  return finite(a.offset) ? "" : "its offset has a number that is not finite";
}
std::string fault_of_bits(int bits) {
  if (bits == 0 || (bits >= 8 && bits <= 16)) return "";
  return fmt::format("its entries are said to have {} bits, where 8 to 16 are possible", bits);
}
std::string fault_of(const Lut1d& table) {
  for (const auto& curve : table.channel) {
    if (static_cast<int>(curve.size()) != table.size()) return "its three channels are not equally long";
    for (std::size_t i = 0; i < curve.size(); ++i) {
      if (!usable(curve[i])) return fmt::format("its entry {} is {}, no number within {}", i, curve[i], kLargestEntry);
      if (table.entry_bits != 0 && fault_of_bits(table.entry_bits).empty() &&
          curve[i] != nearest(curve[i], table.entry_bits))
        return fmt::format("its entry {} is {}, which {} bits cannot hold", i, curve[i], table.entry_bits);
    }
  }
  if (table.size() < kSmallestTable || table.size() > kLargest1d)
    return fmt::format("a 1D table has {} to {} entries, this one {}", kSmallestTable, kLargest1d, table.size());
  return fault_of_bits(table.entry_bits);
}
std::string fault_of(const Lut3d& table) {
  if (table.size < kSmallestTable || table.size > kLargest3d)
    return fmt::format("a 3D table has {} to {} nodes along an axis, this one {}", kSmallestTable, kLargest3d,
                       table.size);
  const std::size_t expected = static_cast<std::size_t>(table.size) * table.size * table.size;
  if (table.nodes.size() != expected) return fmt::format("it has {} nodes and needs {}", table.nodes.size(), expected);
  if (std::string fault = fault_of_bits(table.entry_bits); !fault.empty()) return fault;
  for (std::size_t i = 0; i < expected; ++i)
    for (const double v : table.nodes[i]) {
      if (!usable(v)) return fmt::format("its node {} has {}, no number within {}", i, v, kLargestEntry);
      if (table.entry_bits != 0 && v != nearest(v, table.entry_bits))
        return fmt::format("its node {} has {}, which {} bits cannot hold", i, v, table.entry_bits);
    }
  return "";
}

tl::unexpected<Error> refuse_lut(const std::string& what) {
  return fail(ErrorCode::out_of_range, what, "Nothing was changed; compute or read the tables again.");
}

}  // namespace

double number_of(const Values& values, colour::Signal<> signal) {
  const Ends ends = ends_of(values);
  return ends.black + (ends.peak - ends.black) * signal.value;
}

colour::Signal<> signal_of(const Values& values, double number) {
  const Ends ends = ends_of(values);
  return {.value = (number - ends.black) / (ends.peak - ends.black)};
}

Lut1d identity_1d(int size) {
  Lut1d table;
  for (auto& curve : table.channel)
    for (int i = 0; i < size; ++i) curve.push_back(static_cast<double>(i) / (size - 1));
  return table;
}

Lut3d identity_3d(int size) {
  Lut3d table{.size = size, .nodes = {}};
  table.nodes.reserve(static_cast<std::size_t>(size) * size * size);
  const double step = size - 1;
  for (int r = 0; r < size; ++r)
    for (int g = 0; g < size; ++g)
      for (int b = 0; b < size; ++b) table.nodes.push_back({r / step, g / step, b / step});
  return table;
}

Result<void> validate(const Lut& lut) {
  if (lut.title.find_first_of("\r\n") != std::string::npos)
    return refuse_lut("the title of a table has more than one line");
  for (const auto* values : {&lut.input, &lut.output})
    if (*values)
      if (auto valid = signal::validate((*values)->encoding); !valid) return valid;
  for (std::size_t i = 0; i < lut.stages.size(); ++i) {
    const std::string fault = std::visit([](const auto& stage) { return fault_of(stage); }, lut.stages[i]);
    if (!fault.empty()) return refuse_lut(fmt::format("stage {} cannot be used: {}", i + 1, fault));
  }
  return {};
}

Triple evaluate(const Lut1d& table, const Triple& v) {
  Triple result{};
  for (std::size_t c = 0; c < 3; ++c) {
    const Place at = place_of(v[c], table.size());
    const double low = table.channel[c][at.index], high = table.channel[c][at.index + 1];
    result[c] = low + at.fraction * (high - low);
  }
  return result;
}

Tetrahedron tetrahedron(int size, const Triple& v) {
  const std::array<Place, 3> at{place_of(v[0], size), place_of(v[1], size), place_of(v[2], size)};
  std::array<std::size_t, 3> axis{0, 1, 2};
  std::ranges::stable_sort(axis, [&](std::size_t a, std::size_t b) { return at[a].fraction > at[b].fraction; });
  std::array<int, 3> corner{at[0].index, at[1].index, at[2].index};
  Tetrahedron result;
  double outer = 1;
  for (std::size_t step = 0; step <= 3; ++step) {
    const double inner = step < 3 ? at[axis[step]].fraction : 0;
    const std::ptrdiff_t row = std::ptrdiff_t{corner[0]} * size + corner[1];
    result.node[step] = static_cast<std::size_t>(row * size + corner[2]);
    result.share[step] = outer - inner;
    if (step < 3) ++corner[axis[step]];
    outer = inner;
  }
  return result;
}

Triple evaluate(const Lut3d& table, const Triple& v) {
  const Tetrahedron at = tetrahedron(table.size, v);
  Triple result{};
  for (std::size_t i = 0; i < 4; ++i)
    for (std::size_t c = 0; c < 3; ++c) result[c] += at.share[i] * table.nodes[at.node[i]][c];
  return result;
}

Triple evaluate(const Affine& stage, const Triple& v) {
  Triple result = stage.matrix * v;
  for (std::size_t c = 0; c < 3; ++c) result[c] += stage.offset[c];
  return result;
}

Triple evaluate(const Lut& lut, const Triple& v) {
  Triple value = v;
  for (const Stage& stage : lut.stages) value = std::visit([&](const auto& s) { return evaluate(s, value); }, stage);
  return value;
}

Lut rounded(Lut lut, int bits) {
  for (Stage& stage : lut.stages) {
    if (auto* table = std::get_if<Lut1d>(&stage)) {
      table->entry_bits = bits;
      for (auto& curve : table->channel)
        for (double& v : curve) v = nearest(v, bits);
    } else if (auto* lattice = std::get_if<Lut3d>(&stage)) {
      lattice->entry_bits = bits;
      for (auto& node : lattice->nodes)
        for (double& v : node) v = nearest(v, bits);
    }
  }
  return lut;
}

}  // namespace provenit::correct
