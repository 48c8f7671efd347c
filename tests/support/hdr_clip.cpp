#include "hdr_clip.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdio>
#include <random>
#include <vector>

#include "provenit/colour/primaries.h"
#include "provenit/colour/transfer_pq.h"
#include "provenit/programme/pixel.h"
#include "provenit/programme/reader.h"

namespace provenit::support {
namespace {

// R'G'B' in PQ, one panorama as high as the clip; the view moves over it.
struct Panorama {
  int width = 0, height = 0;
  std::vector<float> signal;  // 3 per pixel
  [[nodiscard]] const float* at(int x, int y) const {
    return &signal[(static_cast<std::size_t>(y) * static_cast<std::size_t>(width) +
                    static_cast<std::size_t>(x % width)) *
                   3];
  }
};

// Linear interpolation of a colour of the photograph at real-valued coordinates.
std::array<double, 3> sample(const std::vector<std::array<double, 3>>& rgb, int width, int height, double x, double y) {
  const int x0 = static_cast<int>(x), y0 = std::min(static_cast<int>(y), height - 1);
  const int x1 = (x0 + 1) % width, y1 = std::min(y0 + 1, height - 1);
  const double fx = x - x0, fy = y - y0;
  const auto pixel = [&](int u, int v) -> const std::array<double, 3>& {
    return rgb[static_cast<std::size_t>(v) * static_cast<std::size_t>(width) + static_cast<std::size_t>(u % width)];
  };
  std::array<double, 3> out{};
  for (std::size_t c = 0; c < 3; ++c)
    out[c] = (1 - fy) * ((1 - fx) * pixel(x0, y0)[c] + fx * pixel(x1, y0)[c]) +
             fy * ((1 - fx) * pixel(x0, y1)[c] + fx * pixel(x1, y1)[c]);
  return out;
}

std::vector<std::array<double, 3>> light_of(const programme::Picture& picture) {
  std::vector<std::array<double, 3>> rgb;
  const auto to_2020 = colour::rgb_to_rgb_matrix(colour::bt709_primaries, colour::bt2020_primaries);
  for (int y = 0; y < picture.format.height; ++y)
    for (int x = 0; x < picture.format.width; ++x) {
      const auto c = colour::rgb_from_rgb(programme::pixel_at(picture, x, y).rgb, to_2020);
      rgb.push_back({c.r, c.g, c.b});
    }
  return rgb;
}

Panorama panorama_of(const programme::Picture& picture, const HdrClip& clip) {
  const auto rgb = light_of(picture);
  Panorama pano{.width = clip.height * 2, .height = clip.height, .signal = {}};
  pano.signal.reserve(static_cast<std::size_t>(pano.width) * static_cast<std::size_t>(pano.height) * 3);
  for (int y = 0; y < pano.height; ++y)
    for (int x = 0; x < pano.width; ++x) {
      const auto c = sample(rgb, picture.format.width, picture.format.height,
                            static_cast<double>(x) * picture.format.width / pano.width,
                            static_cast<double>(y) * picture.format.height / pano.height);
      for (const double v : c)
        pano.signal.push_back(static_cast<float>(
            colour::pq_inverse_eotf(colour::Luminance<>{.cdm2 = std::clamp(v, 0.0, clip.clip_cdm2)}).value));
    }
  return pano;
}

class FrameWriter {
 public:
  FrameWriter(const Panorama& pano, const HdrClip& clip)
      : pano_(pano),
        clip_(clip),
        ceiling_(static_cast<float>(colour::pq_inverse_eotf(colour::Luminance<>{.cdm2 = clip.clip_cdm2}).value)) {
    std::mt19937_64 random(clip.seed);
    std::normal_distribution<float> normal(0, static_cast<float>(clip.grain));
    grain_.resize(1 << 20);
    for (float& g : grain_) g = normal(random);
    planes_.resize(static_cast<std::size_t>(clip.width) * static_cast<std::size_t>(clip.height) * 3 / 2);
  }

  bool write(int frame, FILE* to) {
    std::mt19937_64 random(clip_.seed * 7919 + static_cast<std::uint64_t>(frame));
    const auto luma = static_cast<std::size_t>(clip_.width) * static_cast<std::size_t>(clip_.height);
    for (int y = 0; y < clip_.height; y += 2) {
      const std::size_t noise = random() % (grain_.size() - static_cast<std::size_t>(6 * clip_.width));
      for (int x = 0; x < clip_.width; x += 2) {
        float cb = 0, cr = 0;
        for (int k = 0; k < 4; ++k) {
          const int dx = k & 1, dy = k >> 1;
          const auto grain = &grain_[noise + static_cast<std::size_t>((x + dx) * 3 + dy * 3 * clip_.width)];
          const float* s = pano_.at(x + dx + frame * std::max(1, clip_.width / 480), y + dy);
          std::array<float, 3> c{};
          for (std::size_t i = 0; i < 3; ++i) c[i] = std::clamp(s[i] + grain[i], 0.F, ceiling_);
          const float luma_signal = 0.2627F * c[0] + 0.6780F * c[1] + 0.0593F * c[2];
          planes_[static_cast<std::size_t>(y + dy) * static_cast<std::size_t>(clip_.width) +
                  static_cast<std::size_t>(x + dx)] = static_cast<std::uint16_t>(std::lround(64 + 876 * luma_signal));
          cb += (c[2] - luma_signal) / 1.8814F / 4;
          cr += (c[0] - luma_signal) / 1.4746F / 4;
        }
        const std::size_t at = static_cast<std::size_t>(y / 2) * static_cast<std::size_t>(clip_.width / 2) +
                               static_cast<std::size_t>(x / 2);
        planes_[luma + at] = static_cast<std::uint16_t>(std::lround(512 + 896 * cb));
        planes_[luma + luma / 4 + at] = static_cast<std::uint16_t>(std::lround(512 + 896 * cr));
      }
    }
    return std::fwrite(planes_.data(), 2, planes_.size(), to) == planes_.size();
  }

 private:
  const Panorama& pano_;
  const HdrClip& clip_;
  float ceiling_;
  std::vector<float> grain_;
  std::vector<std::uint16_t> planes_;
};

}  // namespace

bool make_hdr_clip(const std::string& photograph, const std::string& path, const HdrClip& clip,
                   const std::string& declared) {
  programme::ReaderOptions options;
  options.interpretation.peak_cdm2 = 203;
  options.interpretation.gamut = programme::Gamut::bt709;
  auto reader = programme::open_reader(photograph, options);
  const auto picture = reader ? (*reader)->next() : tl::unexpected(reader.error());
  if (!picture || !*picture) {
    std::fprintf(stderr, "%s: %s\n", photograph.c_str(), picture ? "has no picture" : picture.error().text().c_str());
    return false;
  }
  const Panorama pano = panorama_of(**picture, clip);
  const std::string hdr10 =
      "log-level=error:hdr10=1:repeat-headers=1:chromaloc=2:colorprim=bt2020:transfer=smpte2084:colormatrix=bt2020nc:"
      "range=limited:"
      "master-display=G(13250,34500)B(7500,3000)R(34000,16000)WP(15635,16450)L(10000000,1):max-cll=" +
      declared;
  const std::string size = std::to_string(clip.width) + "x" + std::to_string(clip.height);
  const std::string command = "ffmpeg -nostdin -v error -y -f rawvideo -pix_fmt yuv420p10le -s " + size +
                              " -r 24 -i pipe:0 " + clip.encoder + " -x265-params '" + hdr10 + ":" + clip.x265 +
                              "' -color_primaries bt2020 -color_trc smpte2084 -colorspace bt2020nc -color_range tv "
                              "-chroma_sample_location topleft '" +
                              path + "'";
  FILE* pipe = popen(command.c_str(), "w");
  if (pipe == nullptr) return false;
  FrameWriter writer(pano, clip);
  bool written = true;
  for (int i = 0; i < clip.frames && written; ++i) written = writer.write(i, pipe);
  return pclose(pipe) == 0 && written;
}

}  // namespace provenit::support
