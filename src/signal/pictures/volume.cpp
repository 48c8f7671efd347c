// Colours spread over the whole volume of the container, in no order an eye or a display could expect.
#include <fmt/format.h>

#include <array>

#include "pictures/patches.h"
#include "pictures/seeded.h"

namespace provenit::signal::pictures {
namespace {

/// index in base `base` with its digits mirrored behind the point, as a fraction of 2^32. source: Halton 1960.
std::uint64_t mirrored_digits(std::uint64_t index, std::uint64_t base) {
  std::uint64_t numerator = 0, denominator = 1;
  for (; index > 0; index /= base) {
    numerator = numerator * base + index % base;
    denominator *= base;
  }
  return (numerator << 32) / denominator;
}

Painter volume_set(Setting& s) {
  const int patches = s.whole("patches");
  const auto highest = s.grey("highest_cdm2").code[0], black = s.black().code[0];
  Seeded random(static_cast<std::uint64_t>(s.number("seed")));
  constexpr std::array<std::uint64_t, 3> kBases{2, 3, 5};
  std::array<std::uint64_t, 3> shift{};
  for (auto& x : shift) x = random.next() >> 32;
  std::vector<Patch> out;
  for (int i = 1; i <= patches; ++i) {
    CodeRgb code;
    for (std::size_t c = 0; c < 3; ++c) {
      const std::uint64_t fraction =
          (mirrored_digits(static_cast<std::uint64_t>(i), kBases[c]) + shift[c]) & 0xffffffff;
      code.code[c] = black + static_cast<int>(fraction * static_cast<std::uint64_t>(highest - black + 1) >> 32);
    }
    out.push_back({.name = fmt::format("patch {}", i), .code = code});
  }
  // Shuffled, so that no channel alternates from one to the next: the sequence itself goes to and fro.
  for (int i = patches - 1; i > 0; --i)
    std::swap(out[static_cast<std::size_t>(i)].code, out[static_cast<std::size_t>(random.below(i + 1))].code);
  constexpr int kColumns = 20;
  return patch_painter(s, out, std::min(patches, kColumns));
}

}  // namespace

std::vector<Kind> volume_kinds() {
  return {{{.key = "volume_set",
            .title = "Colours over the volume",
            .purpose = "Codes spread evenly over R' G' B' up to a level, seeded, one per frame: colour accuracy where "
                       "nobody tuned it. A good display is as right here as on surface colours.",
            .source = "own design; Halton sequence of bases 2, 3, 5, shifted and shuffled by the seed",
            .caution = both(kBrightCaution, kStepCaution),
            .parameters = with_patch_parameters({count("patches", 100, 1, 1000, "number of colours"),
                                                 count("seed", 1, 0, 1000000, "another seed, another set"),
                                                 peak_level("highest_cdm2", "white at the largest codes")},
                                                true)},
           volume_set}};
}

}  // namespace provenit::signal::pictures
