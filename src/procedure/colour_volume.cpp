// Colour volume and colour accuracy over it: white, black and the primaries at their highest codes; a seeded set of
// colours inside the volume; if red + green + blue do not make white, the whole surface of the R'G'B' cube.
// signals  "white", "black", "red", "green", "blue"; "surface_<i>_<j>_<k>": sample i, j, k of each channel's
// surface_samples,
//          evenly spaced in the signal from black to white as read; "set_<n>": colours of the set. Windows on black
// cost     (5 + surface if needed + patches) x (settle + reading) per pass
// source   9 x 9 x 6 faces = 386 points, or 5 measurements (R G B K W) when the display is additive, 10 % window:
//          industry paper, 2018 (second hand); ICDM IDMS, gamut volume (name second hand, section not opened). Halton
//          1960 (sequence). Set, order and adaptive rule are ours
#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdint>

#include "colour_codes_internal.h"
#include "procedures_internal.h"
#include "provenit/colour/primaries.h"
#include "provenit/colour/transfer.h"
#include "provenit/colour/volume.h"
#include "provenit/signal/codes.h"
#include "provenit/signal/encoding.h"

namespace provenit::procedure {
namespace {

constexpr std::array<const char*, 3> kPrimaries{"red", "green", "blue"};

/// index in base `base` with its digits mirrored behind the point.
double mirrored_digits(std::uint32_t index, std::uint32_t base) {
  double value = 0, place = 1.0 / base;
  for (; index > 0; index /= base, place /= base) value += place * (index % base);
  return value;
}

/// SplitMix64 (Steele, Lea, Flood, OOPSLA 2014), upper 53 bits.
double random_share(std::uint64_t& state) {
  std::uint64_t z = (state += 0x9e3779b97f4a7c15);
  z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9;
  z = (z ^ (z >> 27)) * 0x94d049bb133111eb;
  return static_cast<double>((z ^ (z >> 31)) >> 11) * 0x1p-53;
}

std::vector<Patch> five(const Setting& setting) {
  auto patches = white_and_black(setting);
  const auto& encoding = setting.context.encoding;
  for (std::size_t c = 0; c < 3; ++c) {
    auto code = signal::black_code(encoding);
    code.code[c] = signal::peak_code(encoding).code[c];
    patches.push_back(colour_patch(setting, kPrimaries[c], code, kPrimaries[c]));
  }
  return patches;
}

/// By the first readings of the five; NaN before they are all there.
double additivity_error_percent(const Setting& setting) {
  double sum = -2 * setting.mean_cdm2("black", 1);
  for (const char* primary : kPrimaries) sum += setting.mean_cdm2(primary, 1);
  return 100 * (sum / setting.mean_cdm2("white", 1) - 1);
}

/// Samples of the cube's surface, without its corners that the five have.
std::vector<Patch> surface(const Setting& setting) {
  const auto& encoding = setting.context.encoding;
  const int n = setting.integer("surface_samples"), last = n - 1;
  const auto top = signal::grey_code(encoding, colour::Luminance<>{.cdm2 = white_cdm2(setting)});
  const double top_signal = top ? signal::signal_of(encoding, top->code[0]).value : 1.0;
  std::vector<Patch> patches;
  for (const auto& v : colour::rgb_cube_surface(n).vertices) {
    std::array<int, 3> index{};
    signal::CodeRgb code;
    int ends = 0, lit = 0;
    for (std::size_t c = 0; c < 3; ++c) {
      index[c] = static_cast<int>(std::lround(v[c] * last));
      const double value = index[c] == last ? 1.0 : v[c] * top_signal;
      code.code[c] = signal::grey_code(encoding, colour::Signal<>{.value = value}).code[0];
      ends += index[c] == 0 || index[c] == last;
      lit += index[c] == last;
    }
    if (ends == 3 && lit != 2) continue;  // black, a primary or white
    patches.push_back(colour_patch(setting, fmt::format("surface_{}_{}_{}", index[0], index[1], index[2]), code,
                                   fmt::format("surface {} {} {} of {}", index[0], index[1], index[2], last)));
  }
  return patches;
}

/// Colours evenly spread in R'G'B' (PQ signal of light) of the set's primaries, up to white as read. Levels of HLG and
/// BT.1886 are spread the same way: the spread belongs to the light, not to the encoding.
std::vector<Patch> colour_set(const Setting& setting) {
  const auto& encoding = setting.context.encoding;
  const bool whole = setting.parameters["whole_container"].get<bool>();
  const auto inner =
      encoding.container == signal::Container::bt709 ? signal::Container::bt709 : signal::Container::p3_d65;
  const auto& primaries = signal::primaries_of(whole ? encoding.container : inner);
  const auto to_container = colour::rgb_to_rgb_matrix(primaries, signal::primaries_of(encoding.container));
  // Steered by what is expected, not by what was read: the set stays the same if the run is taken again.
  const double peak = std::min(setting.context.expected_peak_cdm2, light_of(encoding, signal::peak_code(encoding)).g) *
                      setting.number("peak_share");
  const double top = colour::pq_inverse_eotf(colour::Luminance<>{.cdm2 = peak}).value;
  auto state = static_cast<std::uint64_t>(setting.integer("seed"));
  const std::array shift{random_share(state), random_share(state), random_share(state)};
  constexpr std::array<std::uint32_t, 3> bases{2, 3, 5};
  const int count = setting.integer("patches");
  std::vector<signal::CodeRgb> codes;
  for (int i = 1; i <= count; ++i) {
    std::array<double, 3> light{};
    for (std::size_t c = 0; c < 3; ++c) {
      const double place = std::fmod(mirrored_digits(static_cast<std::uint32_t>(i), bases[c]) + shift[c], 1.0);
      light[c] = colour::pq_eotf(colour::Signal<>{.value = place * top}).cdm2;
    }
    codes.push_back(code_of(
        encoding,
        colour::rgb_from_rgb(colour::AbsoluteRgb<>{.r = light[0], .g = light[1], .b = light[2]}, to_container)));
  }
  // Shuffled, so that no channel goes to and fro with the sequence.
  for (std::size_t i = codes.size() - 1; i > 0; --i)
    std::swap(codes[i], codes[std::min(i, static_cast<std::size_t>(random_share(state) * static_cast<double>(i + 1)))]);
  std::vector<Patch> patches;
  for (std::size_t i = 0; i < codes.size(); ++i)
    patches.push_back(
        colour_patch(setting, fmt::format("set_{:03}", i + 1), codes[i], fmt::format("colour {} of {}", i + 1, count)));
  return patches;
}

class ColourVolume final : public Scripted {
 public:
  std::string id() const override { return "colour_volume"; }
  int version() const override { return 1; }
  std::string title() const override { return "Colour volume and accuracy over it"; }
  std::vector<std::string> sources() const override {
    return {"ICDM IDMS, gamut volume (name second hand; section not opened)",
            "386 or 5 points: industry paper, 2018 (second hand)", "Rec. ITU-R BT.2100-3 (ICtCp)",
            "Rec. ITU-R BT.2124-0 (01/2019)"};
  }
  std::vector<std::string> quantities() const override {
    return {"colour_volume", "colour_volume_coverage", "volume_mean_delta_e_itp", "volume_p95_delta_e_itp",
            "volume_max_delta_e_itp"};
  }

 protected:
  std::vector<Parameter> parameters() const override {
    return with_common({{"max_repeats", 3, 1, 100},
                        {"window_percent", 10.0, 0.1, 100},
                        {"patches", 60, 2, 1000},
                        {"seed", 1, 0, 1000000},
                        {"peak_share", 0.9, 0.01, 1},
                        {"whole_container", false},
                        {"additivity_tolerance_percent", 5.0, 0, 1000},
                        {"surface_samples", 9, 2, 33}});
  }
  Result<std::optional<Step>> script(const Setting& setting) const override {
    auto pass = five(setting);
    std::ranges::move(colour_set(setting), std::back_inserter(pass));
    const double error = std::abs(additivity_error_percent(setting));
    if (error > setting.number("additivity_tolerance_percent"))  // not while one of the five is missing: NaN
      std::ranges::move(surface(setting), std::back_inserter(pass));
    return next_in_passes(setting, pass);
  }
};

}  // namespace

std::unique_ptr<Procedure> make_colour_volume() {
  return std::make_unique<ColourVolume>();
}

}  // namespace provenit::procedure
