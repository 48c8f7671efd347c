#pragma once
// What the vector code and the plain code for frames share.
#include <cstddef>
#include <string>
#include <vector>

namespace provenit::correct::frame {

enum class Kind { affine, curves, lattice };

/// A stage in single precision.
struct FlatStage {
  Kind kind = Kind::affine;
  float matrix[9] = {};
  float offset[3] = {};
  int size = 0;
  /// curves: three of `size` entries. lattice: nodes of four numbers, the last of them 0, so that one load takes one.
  std::vector<float> table;
};

/// Pixels that pass through all stages together; small enough for the first cache.
inline constexpr int kTile = 512;

/// Sends `pixels` R, G, B triples through all stages.
using Apply = void (*)(const std::vector<FlatStage>& stages, const float* in, float* out, std::size_t pixels);

struct Prepared {
  std::vector<FlatStage> stages;
  Apply apply = nullptr;
};

/// The formula without vectors: the same operations in the same order, so the same bits.
void apply_plain(const std::vector<FlatStage>& stages, const float* in, float* out, std::size_t pixels);

/// Names of the vector levels of this machine, best first, and the code of one; nullptr for any other name.
[[nodiscard]] std::vector<std::string> vector_level_names();
[[nodiscard]] Apply vector_level(const std::string& name);

}  // namespace provenit::correct::frame
