#include "files/entries.h"

#include <algorithm>

namespace provenit::correct::files {
namespace {

/// Half the distance of two neighbours in single precision near 1, and as much again from the text.
constexpr double kSinglePrecision = 1.2e-7;

bool near_code(double v, int bits) {
  const double code = std::round(v * top_code(bits));
  return code >= 0 && code <= top_code(bits) && std::fabs(v - code / top_code(bits)) <= kSinglePrecision;
}
double code_of(double v, int bits) {
  return std::round(v * top_code(bits)) / top_code(bits);
}

}  // namespace

bool snap_to_codes(Lut1d& table, int bits) {
  for (const auto& curve : table.channel)
    if (!std::ranges::all_of(curve, [&](double v) { return near_code(v, bits); })) return false;
  for (auto& curve : table.channel)
    for (double& v : curve) v = code_of(v, bits);
  table.entry_bits = bits;
  return true;
}

bool snap_to_codes(Lut3d& table, int bits) {
  for (const Triple& node : table.nodes)
    if (!std::ranges::all_of(node, [&](double v) { return near_code(v, bits); })) return false;
  for (Triple& node : table.nodes)
    for (double& v : node) v = code_of(v, bits);
  table.entry_bits = bits;
  return true;
}

}  // namespace provenit::correct::files
