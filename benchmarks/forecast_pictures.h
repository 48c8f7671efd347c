#pragma once
// Real HDR pictures for forecasts: stills and frames of clips out of a folder, cut to 16:9 and brought to one size in
// light, linear scenes at two exposures, some between letterbox bars. As R'G'B' codes, PQ 10-bit narrow in BT.2020.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <filesystem>
#include <memory>
#include <string>
#include <vector>

#include "provenit/colour/primaries.h"
#include "provenit/colour/transfer_pq.h"
#include "provenit/programme/look.h"
#include "provenit/programme/reader.h"
#include "provenit/programme/scopes.h"
#include "provenit/signal/codes.h"
#include "provenit/signal/encoding.h"
#include "provenit/simulated/frame.h"

namespace provenit::bench {

struct TestPicture {
  std::string name;
  simulated::CodeFrame frame;
};

inline constexpr int kPictureWidth = 960, kPictureHeight = 540;

/// The frame as the programme library would hand it out.
inline programme::Picture picture_of(const simulated::CodeFrame& frame) {
  const auto n = static_cast<std::size_t>(frame.width) * static_cast<std::size_t>(frame.height);
  auto samples = std::make_shared<std::vector<std::uint16_t>>(3 * n);
  for (std::size_t i = 0; i < n; ++i)
    for (std::size_t c = 0; c < 3; ++c) (*samples)[c * n + i] = frame.codes[i][c];
  programme::Picture out{.format = {.width = frame.width,
                                    .height = frame.height,
                                    .bits = frame.encoding.bits,
                                    .chroma = programme::Chroma::rgb,
                                    .range = frame.encoding.range,
                                    .transfer = programme::Transfer::pq,
                                    .gamut = programme::Gamut::bt2020,
                                    .matrix = programme::Matrix::rgb}};
  for (std::size_t c = 0; c < 3; ++c)
    out.planes[c] = {.data = reinterpret_cast<const std::byte*>(samples->data() + c * n),
                     .stride = static_cast<std::ptrdiff_t>(2 * frame.width),
                     .width = frame.width,
                     .height = frame.height};
  out.owner = samples;
  return out;
}

/// XYZ that the codes ask for.
inline std::vector<std::array<float, 3>> intended_xyz(const simulated::CodeFrame& frame) {
  const auto to_xyz = colour::rgb_to_xyz_matrix(colour::bt2020_primaries);
  std::vector<std::array<float, 3>> out;
  out.reserve(frame.codes.size());
  for (const auto& c : frame.codes) {
    const auto light = colour::pq_eotf(signal::signal_of(frame.encoding, {.code = {c[0], c[1], c[2]}}));
    const auto xyz = colour::xyz_from_rgb(light, to_xyz);
    out.push_back({static_cast<float>(xyz.X), static_cast<float>(xyz.Y), static_cast<float>(xyz.Z)});
  }
  return out;
}

/// Cut to 16:9, sampled linearly in light, multiplied by `gain`; `bars`: rows of black at top and bottom.
inline simulated::CodeFrame coded(const programme::LightImage& image, double gain, int bars = 0) {
  simulated::CodeFrame out{.encoding = {}, .width = kPictureWidth, .height = kPictureHeight, .codes = {}};
  const auto to_2020 = colour::xyz_to_rgb_matrix(colour::bt2020_primaries) * image.to_xyz;
  const double scale =
      std::min(static_cast<double>(image.width) / kPictureWidth, static_cast<double>(image.height) / kPictureHeight);
  const double left = (image.width - scale * kPictureWidth) / 2, top = (image.height - scale * kPictureHeight) / 2;
  const auto black = static_cast<std::uint16_t>(signal::black_code({}).code[0]);
  for (int y = 0; y < kPictureHeight; ++y)
    for (int x = 0; x < kPictureWidth; ++x) {
      if (y < bars || y >= kPictureHeight - bars) {
        out.codes.push_back({black, black, black});
        continue;
      }
      const double u = std::clamp(left + scale * (x + 0.5) - 0.5, 0.0, image.width - 1.001),
                   v = std::clamp(top + scale * (y + 0.5) - 0.5, 0.0, image.height - 1.001);
      const int i = static_cast<int>(u), j = static_cast<int>(v);
      const double s = u - i, t = v - j;
      colour::Vector3<> light{};
      for (std::size_t c = 0; c < 3; ++c) {
        const auto at = [&](int a, int b) {
          const double l = image.light[image.at(std::min(a, image.width - 1), std::min(b, image.height - 1))][c];
          return std::isfinite(l) ? std::clamp(l, 0.0, 1e6) : 0.0;
        };
        light[c] = gain * ((1 - t) * ((1 - s) * at(i, j) + s * at(i + 1, j)) +
                           t * ((1 - s) * at(i, j + 1) + s * at(i + 1, j + 1)));
      }
      const auto rgb = to_2020 * light;
      colour::AbsoluteRgb<> held{.r = std::clamp(rgb[0], 0.0, 10000.0),
                                 .g = std::clamp(rgb[1], 0.0, 10000.0),
                                 .b = std::clamp(rgb[2], 0.0, 10000.0)};
      const auto code = signal::nearest_code(out.encoding, colour::pq_inverse_eotf(held));
      out.codes.push_back({static_cast<std::uint16_t>(code.code[0]), static_cast<std::uint16_t>(code.code[1]),
                           static_cast<std::uint16_t>(code.code[2])});
    }
  return out;
}

inline double mean_luminance(const programme::LightImage& image) {
  double sum = 0;
  for (std::size_t i = 0; i < image.light.size(); ++i) {
    const double l = image.luminance(i);
    sum += std::isfinite(l) ? std::clamp(l, 0.0, 1e6) : 0.0;
  }
  return sum / static_cast<double>(image.light.size());
}

struct PictureSource {
  const char* file;
  bool linear;                       ///< brought to 8 and to 40 cd/m2 in the mean
  std::vector<std::int64_t> frames;  ///< of a clip
  bool bars = false;                 ///< also between bars
};

/// The pictures of a folder that are there; says which cannot be read.
inline std::vector<TestPicture> pictures_in(const std::string& folder) {
  const std::vector<PictureSource> sources{{"StillLife.exr", true, {}, true},
                                           {"CandleGlass.exr", true, {}, true},
                                           {"Carrots.exr", true, {}},
                                           {"WideColorGamut.exr", true, {}},
                                           {"venice_sunset_1k.hdr", true, {}, true},
                                           {"dikhololo_night_1k.hdr", true, {}, true},
                                           {"st_fagans_interior_1k.hdr", true, {}},
                                           {"sunset_512_dwab.exr", true, {}},
                                           {"forest_512_dwab.exr", true, {}},
                                           {"hdr_room.png", false, {}},
                                           {"seine_hdr_rec2020.avif", false, {}},
                                           {"colors_hdr_rec2020.avif", false, {}},
                                           {"colors_wcg_hdr_rec2020.avif", false, {}},
                                           {"hdr10-video-with-sdr-container.mp4", false, {0, 14, 27}},
                                           {"hdr10-av1.mp4", false, {0, 60, 120}},
                                           {"pan4k_hdr10_hevc_2s.mp4", false, {0, 15, 30, 45}}};
  std::vector<TestPicture> out;
  for (const auto& s : sources) {
    const auto path = (std::filesystem::path(folder) / s.file).string();
    if (!std::filesystem::exists(path)) continue;
    std::vector<programme::FrameChoice> choices;
    for (const auto f : s.frames) choices.push_back({.frame = f});
    if (choices.empty()) choices.push_back({.frame = 0});
    programme::ReaderOptions options;
    if (s.linear) options.interpretation.peak_cdm2 = 100;
    auto chosen = programme::choose_frames(path, choices, options);
    if (!chosen && s.linear) {
      // Scenes that do not say what their numbers are.
      options.interpretation.transfer = programme::Transfer::linear;
      options.interpretation.gamut = programme::Gamut::bt709;
      chosen = programme::choose_frames(path, choices, options);
    }
    if (!chosen) {
      fmt::print(stderr, "left out: {}\n", chosen.error().text());
      continue;
    }
    for (const auto& picture : chosen->pictures) {
      const auto image = programme::light_image(picture).value();
      const auto name = fmt::format("{} {}", s.file, picture.index);
      if (!s.linear) {
        out.push_back({name, coded(image, 1)});
        continue;
      }
      const double mean = mean_luminance(image);
      out.push_back({name + ", 8 cd/m2", coded(image, 8 / mean)});
      out.push_back({name + ", 40 cd/m2", coded(image, 40 / mean)});
      if (s.bars) out.push_back({name + ", barred", coded(image, 20 / mean, 69)});
    }
  }
  return out;
}

}  // namespace provenit::bench
