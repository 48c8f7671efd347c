// Against OpenColorIO 2.1.2 (BSD-3-Clause), its built-in transforms. It computes in single precision, and curves of
// light from a table with one entry per half float, so the tolerances are its own: 5e-5 of the signal between entries.
#include <OpenColorIO/OpenColorIO.h>
#include <gtest/gtest.h>

#include <array>
#include <cmath>
#include <random>

#include "outside_library.h"
#include "provenit/colour/adaptation.h"
#include "provenit/colour/primaries.h"
#include "provenit/colour/transfer.h"

namespace provenit::colour {
namespace {

namespace ocio = OCIO_NAMESPACE;

const std::string library = std::string("OpenColorIO ") + ocio::GetVersion();

class Builtin {
 public:
  explicit Builtin(const char* style, ocio::TransformDirection direction = ocio::TRANSFORM_DIR_FORWARD) {
    const ocio::BuiltinTransformRcPtr transform = ocio::BuiltinTransform::Create();
    transform->setStyle(style);
    transform->setDirection(direction);
    processor_ = ocio::Config::CreateRaw()->getProcessor(transform)->getOptimizedCPUProcessor(ocio::OPTIMIZATION_NONE);
  }
  [[nodiscard]] std::array<double, 3> operator()(double a, double b, double c) const {
    float v[3] = {static_cast<float>(a), static_cast<float>(b), static_cast<float>(c)};
    processor_->applyRGB(v);
    return {v[0], v[1], v[2]};
  }

 private:
  ocio::ConstCPUProcessorRcPtr processor_;
};

/// 1000 colours inside `primaries` as XYZ with Y = 1 for white, the unit of its display transforms (100 cd/m2).
template <class F>
void for_colours(const Primaries<>& primaries, double brightest, F f) {
  std::mt19937_64 random(3);
  const auto draw = [&] { return brightest * std::pow(static_cast<double>(random() >> 11) * 0x1p-53, 2); };
  const Matrix3<> m = rgb_to_xyz_matrix(primaries);
  for (int i = 0; i < 1000; ++i) {
    const RelativeRgb<> c{.r = 0.002 + draw(), .g = 0.002 + draw(), .b = 0.002 + draw()};
    f(c, xyz_from_rgb(c, m));
  }
}

TEST(Ocio, St2084) {
  const Builtin decode("CURVE - ST-2084_to_LINEAR");  // in units of 100 cd/m2
  Agreement agreement("ST 2084", library, 5e-6);
  for (int i = 1; i <= 4096; ++i) {
    const double e = i / 4096.0, light = pq_eotf(Signal<>{.value = e}).cdm2;
    if (light > 0.1) agreement.relative(light, 100 * decode(e, e, e)[0]);
  }
}

TEST(Ocio, St2084Inverse) {
  const Builtin encode("CURVE - LINEAR_to_ST-2084");
  // At its table's own entries, numbers that a half float holds: 11 binary digits at any exponent.
  Agreement agreement("ST 2084, inverse", library, 1e-7);
  for (int exponent = -14; exponent <= 6; ++exponent)
    for (int digits = 1024; digits < 2048; digits += 3) {
      const double linear = std::ldexp(digits / 1024.0, exponent);
      if (linear > 100) continue;
      agreement.absolute(pq_inverse_eotf(Luminance<>{.cdm2 = 100 * linear}).value, encode(linear, linear, linear)[1]);
    }
}

TEST(Ocio, PqDisplays) {
  Agreement agreement("PQ of BT.2020 and P3-D65 displays", library, 5e-5);
  const std::pair<const char*, Primaries<>> displays[] = {{"DISPLAY - CIE-XYZ-D65_to_REC.2100-PQ", bt2020_primaries},
                                                          {"DISPLAY - CIE-XYZ-D65_to_ST2084-P3-D65", p3_d65_primaries}};
  for (const auto& [style, primaries] : displays) {
    const Builtin display(style);
    for_colours(primaries, 90, [&](const RelativeRgb<>& c, const RelativeXyz<>& xyz) {
      const SignalRgb<> ours = pq_inverse_eotf(AbsoluteRgb<>{.r = 100 * c.r, .g = 100 * c.g, .b = 100 * c.b});
      const auto theirs = display(xyz.X, xyz.Y, xyz.Z);
      agreement.absolute(ours.r, theirs[0]);
      agreement.absolute(ours.g, theirs[1]);
      agreement.absolute(ours.b, theirs[2]);
    });
  }
}

TEST(Ocio, HlgDisplayBothWays) {
  const char* style = "DISPLAY - CIE-XYZ-D65_to_REC.2100-HLG-1000nit";
  const Builtin encode(style), decode(style, ocio::TRANSFORM_DIR_INVERSE);
  Agreement backward("HLG inverse EOTF, 1000 cd/m2", library, 5e-6), forward("HLG EOTF, 1000 cd/m2", library, 2e-6);
  const HlgDisplay<> hlg = hlg_display(Luminance<>{.cdm2 = 1000}, Luminance<>{.cdm2 = 0});
  const Matrix3<> to_xyz = rgb_to_xyz_matrix(bt2020_primaries);
  for_colours(bt2020_primaries, 9, [&](const RelativeRgb<>& c, const RelativeXyz<>& xyz) {
    const AbsoluteRgb<> light{.r = 100 * c.r, .g = 100 * c.g, .b = 100 * c.b};
    const SignalRgb<> ours = hlg_inverse_eotf(light, hlg);
    if (ours.r > 1 || ours.g > 1 || ours.b > 1) return;  // it ends at 1
    const auto theirs = encode(xyz.X, xyz.Y, xyz.Z);
    backward.absolute(ours.r, theirs[0]);
    backward.absolute(ours.g, theirs[1]);
    backward.absolute(ours.b, theirs[2]);
    const AbsoluteXyz<> shown = xyz_from_rgb(hlg_eotf(ours, hlg), to_xyz);
    const auto decoded = decode(ours.r, ours.g, ours.b);
    forward.relative(shown.X, 100 * decoded[0]);
    forward.relative(shown.Y, 100 * decoded[1]);
    forward.relative(shown.Z, 100 * decoded[2]);
  });
}

TEST(Ocio, SdrDisplays) {
  // Its Rec. 1886 has black 0: the pure power 2.4.
  const Bt1886Display<> reference{.peak = {.cdm2 = 1}, .black = {.cdm2 = 0}};
  Agreement bt1886("BT.1886 of BT.709 and BT.2020", library, 3e-6);
  const std::pair<const char*, Primaries<>> displays[] = {
      {"DISPLAY - CIE-XYZ-D65_to_REC.1886-REC.709", bt709_primaries},
      {"DISPLAY - CIE-XYZ-D65_to_REC.1886-REC.2020", bt2020_primaries}};
  for (const auto& [style, primaries] : displays) {
    const Builtin display(style);
    for_colours(primaries, 1, [&](const RelativeRgb<>& c, const RelativeXyz<>& xyz) {
      const SignalRgb<> ours = bt1886_inverse_eotf(AbsoluteRgb<>{.r = c.r, .g = c.g, .b = c.b}, reference);
      const auto theirs = display(xyz.X, xyz.Y, xyz.Z);
      bt1886.absolute(ours.r, theirs[0]);
      bt1886.absolute(ours.g, theirs[1]);
      bt1886.absolute(ours.b, theirs[2]);
    });
  }
  // Its straight part meets the curve with equal slope, 12.9232 for the document's 12.92: 1e-5 at the break.
  Agreement srgb("sRGB", library, 1.1e-5);
  const Builtin srgb_display("DISPLAY - CIE-XYZ-D65_to_sRGB");
  for_colours(bt709_primaries, 1, [&](const RelativeRgb<>& c, const RelativeXyz<>& xyz) {
    srgb.absolute(srgb_inverse_eotf(Relative<>{.value = c.g}).value, srgb_display(xyz.X, xyz.Y, xyz.Z)[1]);
  });
}

TEST(Ocio, CinemaDisplays) {
  Agreement p3("gamma 2.6, P3-D65", library, 3e-6), dci("gamma 2.6, P3-DCI through Bradford", library, 3e-6);
  const Builtin p3_display("DISPLAY - CIE-XYZ-D65_to_G2.6-P3-D65");
  const Builtin dci_display("DISPLAY - CIE-XYZ-D65_to_G2.6-P3-DCI-BFD");
  const auto signal = [](double light) { return power_inverse_eotf(Relative<>{.value = light}, 2.6).value; };
  for_colours(p3_d65_primaries, 1, [&](const RelativeRgb<>& c, const RelativeXyz<>& xyz) {
    const auto theirs = p3_display(xyz.X, xyz.Y, xyz.Z);
    p3.absolute(signal(c.r), theirs[0]);
    p3.absolute(signal(c.b), theirs[2]);
  });
  const Matrix3<> to_d65 = adaptation_matrix(AdaptationTransform::bradford, white_xyz(dci_white), white_xyz(d65_video));
  for_colours(p3_dci_primaries, 1, [&](const RelativeRgb<>& c, const RelativeXyz<>& xyz) {
    const RelativeXyz<> under_d65 = adapted(xyz, to_d65);
    const auto theirs = dci_display(under_d65.X, under_d65.Y, under_d65.Z);
    dci.absolute(signal(c.r), theirs[0]);
    dci.absolute(signal(c.g), theirs[1]);
    dci.absolute(signal(c.b), theirs[2]);
  });
}

}  // namespace
}  // namespace provenit::colour
