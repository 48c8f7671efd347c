#pragma once
// The loops over pixels: decoding a row, what it asks of the display, what the display shows of it. Single precision;
// powers come from tables that the bits of a float index.
#include <array>
#include <bit>
#include <cstdint>
#include <span>
#include <vector>

#include "provenit/forecast/figures.h"
#include "provenit/programme/picture.h"

namespace provenit::forecast {

/// A function of light between 2^-24 and 2^14 cd/m2: 512 parts of each octave, the nearest counts: light is then right
/// to 0.025 %, which is 0.05 Delta E ITP at most. One look-up where a straight line between two would take two.
namespace log_table {
inline constexpr int kFirst = std::bit_cast<int>(0x1p-24F), kShift = 12, kOctaves = 38;
inline constexpr int kSize = (kOctaves << (23 - kShift)) + 2;
inline constexpr float kLeast = 0x1p-24F, kMost = 16383.0F;
/// Light at an entry.
[[nodiscard]] inline float light(int i) {
  return std::bit_cast<float>(kFirst + (i << kShift));
}
}  // namespace log_table

inline constexpr int kEotfSteps = 8192;

/// Everything a pixel's light depends on but the pixel and its place.
struct PixelModel {
  const float* eotf = nullptr;          ///< light at E' = i / kEotfSteps, cd/m2; kEotfSteps + 1 entries
  const float* pq = nullptr;            ///< log table of E'
  std::array<const float*, 3> curve{};  ///< log tables of each channel's light, F_c
  std::array<float, 9> intended_lms{}, mixing{}, shown_lms{}, shown_xyz{};  ///< row major
  std::array<float, 3> intended_y{}, leak_lms{}, leak_xyz{};
  float clip = 10000;
  float dim = 1, room = 1, room_per_backlight = 0;  ///< room = room + room_per_backlight x backlight
  float backlight_gain = 1, leak_gain = 1, leak_offset = 0;
  float delta_shift = 0;  ///< added to every Delta E that is counted against 1 and 3
};

struct RowInput {
  const float *r = nullptr, *g = nullptr, *b = nullptr;  ///< E', 0 to 1
  const float* backlight = nullptr;                      ///< without the limiter's cap
  const float* even = nullptr;                           ///< unevenness
  int pixels = 0;
};
/// Each may be nullptr.
struct RowOutput {
  float *x = nullptr, *y = nullptr, *z = nullptr, *delta = nullptr;
};

/// Sums of a row for each model, in `to`; `out` takes what the first one shows. All models mean the same light: what
/// the picture asks for is computed once.
void measure_row(std::span<const PixelModel> models, const RowInput& row, const RowOutput& out, std::span<Sums> to);

/// R'G'B' of row y, clamped to [0, 1]. 4:2:0 and 4:2:2: chroma interpolated along the row, the nearest row's down the
/// picture.
void decode_row(const programme::Picture& picture, int y, float* r, float* g, float* b);

/// Largest of r, g, b over [from, to).
[[nodiscard]] float largest(const float* r, const float* g, const float* b, int from, int to);

/// out[i] = (1 - t) mix(above, i) + t mix(below, i), each linear between nodes: node[i] + fraction[i].
void expand_row(const float* above, const float* below, float t, int nodes, const std::int32_t* node,
                const float* fraction, float* out, int pixels);

/// Light of the brightest channel of one pixel, 0 to 1, and all three.
[[nodiscard]] std::array<float, 3> channels_at(const PixelModel& model, float r, float g, float b);

}  // namespace provenit::forecast
