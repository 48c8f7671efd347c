// The false-colour scale, made in CIELAB so that its lightness is what it says.
#include <algorithm>
#include <cmath>
#include <numbers>

#include "provenit/colour/primaries.h"
#include "provenit/colour/spaces.h"
#include "provenit/colour/transfer_pq.h"
#include "provenit/colour/transfer_sdr.h"
#include "provenit/programme/scopes.h"

namespace provenit::programme {
namespace {

constexpr int kTableParts = 4096;
constexpr double kDarkest = 6, kLightest = 97;  // L* at 0 and at 10 000 cd/m2
constexpr double kJump = 1.6;  // L* at each step: it then rises there even if the file is shown with another SDR curve
constexpr double kLargestChroma = 58, kOfPossible = 0.92;

/// Hues in CIELAB degrees, part by part: cold ones from violet to green-blue, warm ones from wine to yellow.
constexpr std::array<double, kFalseColourSteps.size() + 1> kHues{300, 5, 288, 32, 274, 55, 258, 72, 238, 88, 212, 102};

colour::RelativeRgb<> rgb_of(double L, double chroma, double hue) {
  const double h = hue * std::numbers::pi / 180;
  const colour::Lab<> lab{.L = L, .a = chroma * std::cos(h), .b = chroma * std::sin(h)};
  const auto xyz = colour::xyz_from_lab(lab, colour::white_xyz(colour::d65_video));
  return colour::rgb_from_xyz(xyz, colour::xyz_to_rgb_matrix(colour::bt709_primaries));
}

bool shown(const colour::RelativeRgb<>& c) {
  return std::min({c.r, c.g, c.b}) >= 0 && std::max({c.r, c.g, c.b}) <= 1;
}

/// The largest chroma that BT.709 can show at this lightness and hue.
double possible_chroma(double L, double hue) {
  double low = 0, high = 150;
  for (int i = 0; i < 40; ++i) {
    const double middle = (low + high) / 2;
    (shown(rgb_of(L, middle, hue)) ? low : high) = middle;
  }
  return low;
}

std::uint16_t coded(double light) {
  const double v = colour::srgb_inverse_eotf(colour::Relative<>{.value = std::clamp(light, 0.0, 1.0)}).value;
  return static_cast<std::uint16_t>(std::lround(65535 * v));
}

}  // namespace

FalseColour::FalseColour() : scale_(kTableParts) {
  for (int i = 0; i < kTableParts; ++i) {
    // The middle of the part, so that a table part that holds a step takes the side most of it is on.
    const double signal = (i + 0.5) / kTableParts;
    const std::size_t step = part(colour::pq_eotf(colour::Signal<>{.value = signal}).cdm2);
    const double hue = kHues[step];
    const double L = kDarkest + kJump * static_cast<double>(step) +
                     (kLightest - kDarkest - kJump * static_cast<double>(kFalseColourSteps.size())) * signal;
    const auto c = rgb_of(L, std::min(kLargestChroma, kOfPossible * possible_chroma(L, hue)), hue);
    table_.push_back({coded(c.r), coded(c.g), coded(c.b)});
  }
}

std::size_t FalseColour::part(double cdm2) {
  return static_cast<std::size_t>(std::ranges::upper_bound(kFalseColourSteps, cdm2) - kFalseColourSteps.begin());
}

std::array<double, kFalseColourSteps.size() + 1> false_colour_shares(const LightImage& image) {
  std::array<double, kFalseColourSteps.size() + 1> shares{};
  for (std::size_t i = 0; i < image.light.size(); ++i) shares[FalseColour::part(image.luminance(i))] += 1;
  for (double& s : shares) s /= std::max<double>(1, static_cast<double>(image.light.size()));
  return shares;
}

}  // namespace provenit::programme
