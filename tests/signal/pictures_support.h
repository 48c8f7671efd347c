#pragma once
// What the tests of pictures share: short ways to ask for one, and arithmetic that shares nothing with the library.
#include <gtest/gtest.h>

#include <cmath>
#include <map>
#include <string>
#include <vector>

#include "provenit/signal/test_picture.h"

namespace provenit::signal::testing {

inline const Encoding pq10{};
inline const Encoding hlg10{.transfer = Transfer::hlg};
inline const Encoding sdr10{.transfer = Transfer::bt1886, .container = Container::bt709, .nominal_peak_cdm2 = 100};
inline const Encoding sdr8_full{.transfer = Transfer::bt1886,
                                .container = Container::bt709,
                                .bits = 8,
                                .range = Range::full,
                                .nominal_peak_cdm2 = 100};

inline Result<TestPicture> ask(const std::string& key, const nlohmann::json& parameters = nlohmann::json::object(),
                               const Encoding& encoding = pq10, RasterSize size = {.width = 1920, .height = 1080}) {
  return TestPicture::make({.key = key, .parameters = parameters, .encoding = encoding, .size = size});
}

inline TestPicture picture(const std::string& key, const nlohmann::json& parameters = nlohmann::json::object(),
                           const Encoding& encoding = pq10, RasterSize size = {.width = 1920, .height = 1080}) {
  auto made = ask(key, parameters, encoding, size);
  if (!made) throw std::runtime_error(key + ": " + made.error().text());
  return std::move(*made);
}

inline CodeRgb pixel(const std::vector<std::uint16_t>& row, int x) {
  const auto at = static_cast<std::size_t>(3 * x);
  return {.code = {row[at], row[at + 1], row[at + 2]}};
}
inline CodeRgb pixel(const TestPicture& p, int frame, int x, int y) {
  return pixel(p.row(frame, y), x);
}
inline CodeRgb grey(int code) {
  return {.code = {code, code, code}};
}

inline std::map<std::string, PicturePlace> places_by_name(const TestPicture& p, int frame = 0) {
  std::map<std::string, PicturePlace> out;
  for (const auto& place : p.places(frame)) out.emplace(place.name, place);
  return out;
}

// SMPTE ST 2084:2014, with its constants as decimals.
inline double pq_signal(double cdm2) {
  const double y = std::pow(cdm2 / 10000, 0.1593017578125);
  return std::pow((0.8359375 + 18.8515625 * y) / (1 + 18.6875 * y), 78.84375);
}
inline double pq_light(double signal) {
  const double x = std::pow(signal, 1 / 78.84375);
  return 10000 * std::pow(std::max(x - 0.8359375, 0.0) / (18.8515625 - 18.6875 * x), 1 / 0.1593017578125);
}

// Rec. ITU-R BT.2100-3 table 9 (number from memory): Round(x) = Floor(x + 0.5) of what is not below 0.
inline int code_of(double signal, int bits, Range range) {
  const double x = range == Range::narrow ? (219 * signal + 16) * std::exp2(bits - 8) : (std::exp2(bits) - 1) * signal;
  return static_cast<int>(std::floor(x + 0.5));
}
inline double signal_of_code(int code, int bits, Range range) {
  return range == Range::narrow ? (code / std::exp2(bits - 8) - 16) / 219 : code / (std::exp2(bits) - 1);
}

/// Linear light of a code, cd/m2, for PQ and BT.1886 with black at 0.
inline double light_of_code(int code, const Encoding& e) {
  const double signal = signal_of_code(code, e.bits, e.range);
  return e.transfer == Transfer::pq ? pq_light(signal) : e.nominal_peak_cdm2 * std::pow(std::max(signal, 0.0), 2.4);
}

/// Linear RGB to XYZ of the containers, to ten digits: calculated from the primaries (SMPTE RP 177) apart from the
/// library.
struct Matrix {
  double m[3][3];
};
inline Matrix rgb_to_xyz(Container container) {
  if (container == Container::bt709)
    return {{{.4123907993, .3575843394, .1804807884},
             {.2126390059, .7151686788, .0721923154},
             {.0193308187, .1191947798, .9505321522}}};
  if (container == Container::p3_d65)
    return {{{.4865709486, .2656676932, .1982172852},
             {.2289745641, .6917385218, .0792869141},
             {0, .0451133819, 1.0439443689}}};
  return {{{.6369580483, .1446169036, .1688809752},
           {.2627002120, .6779980715, .0593017165},
           {0, .0280726930, 1.0609850577}}};
}
struct Xyz {
  double X, Y, Z;
  [[nodiscard]] double u() const { return 4 * X / (X + 15 * Y + 3 * Z); }
  [[nodiscard]] double v() const { return 9 * Y / (X + 15 * Y + 3 * Z); }
};
inline Xyz xyz_of(const double (&rgb)[3], Container container) {
  const auto m = rgb_to_xyz(container);
  double out[3];
  for (int i = 0; i < 3; ++i) out[i] = m.m[i][0] * rgb[0] + m.m[i][1] * rgb[1] + m.m[i][2] * rgb[2];
  return {out[0], out[1], out[2]};
}
inline Xyz xyz_of(const CodeRgb& code, const Encoding& e) {
  const double rgb[3] = {light_of_code(code.code[0], e), light_of_code(code.code[1], e),
                         light_of_code(code.code[2], e)};
  return xyz_of(rgb, e.container);
}

/// How far X, Y, Z may be off because codes are whole: half the step to the next code in every channel (the curves are
/// convex, so the step below is the smaller one), and with it what the library sets to 0 outside the container.
inline Xyz half_step(const CodeRgb& code, const Encoding& e) {
  double rgb[3], largest = 0;
  for (const int c : code.code) largest = std::max(largest, light_of_code(c, e));
  for (std::size_t c = 0; c < 3; ++c) {
    const double light = light_of_code(code.code[c], e);
    rgb[c] = 0.5001 * (light_of_code(code.code[c] + 1, e) - light);
    if (light == 0) rgb[c] += 0.002 * largest;
  }
  return xyz_of(rgb, e.container);
}

}  // namespace provenit::signal::testing
