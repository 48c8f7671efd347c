// Changes of scene in moving views of real HDR pictures, coded to PQ with grain and measured by the frame meter.
#include <gtest/gtest.h>

#include <random>

#include "kernel_picture.h"
#include "provenit/colour/transfer_pq.h"
#include "provenit/programme/frame_meter.h"
#include "provenit/programme/reader.h"
#include "provenit/programme/scenes.h"
#include "provenit/programme/scopes.h"
#include "provenit/programme/title.h"

namespace provenit::programme {
namespace {

constexpr int kWidth = 320, kHeight = 180;
constexpr double kRate = 24;

/// A still as PQ signal, BT.2020 or whatever its primaries are: only its light and structure matter here.
struct Still {
  int width = 0, height = 0;
  std::vector<std::array<float, 3>> signal;
};
Still still(const std::string& name) {
  ReaderOptions options;
  options.interpretation.peak_cdm2 = name.ends_with("png") ? 1000 : 300;
  if (name.ends_with("hdr")) options.interpretation.gamut = Gamut::bt709;  // the format has no field for it
  auto reader = open_reader(std::string(PROVENIT_SOURCE_DIR) + "/tests/programme/media/" + name, options).value();
  const auto image = light_image(reader->next().value().value()).value();
  Still s{.width = image.width, .height = image.height, .signal = {}};
  for (const auto& l : image.light) {
    const auto e = colour::pq_inverse_eotf(colour::AbsoluteRgb<>{.r = l[0], .g = l[1], .b = l[2]});
    s.signal.push_back({static_cast<float>(e.r), static_cast<float>(e.g), static_cast<float>(e.b)});
  }
  return s;
}

/// A window that moves over a still.
struct Shot {
  const Still* still;
  double x, y, dx, dy, zoom;
  int frames;
};

class Film {
 public:
  Film() : meter_(FrameMeter::make(format()).value()) {}
  static PictureFormat format() {
    return {.width = kWidth,
            .height = kHeight,
            .bits = 10,
            .chroma = Chroma::rgb,
            .range = colour::Range::narrow,
            .matrix = Matrix::rgb};
  }
  /// `light` scales the signal, `flash` lifts it.
  void add(const Shot& shot, int frame, double light = 1, double flash = 0) {
    const Still& s = *shot.still;
    std::normal_distribution<float> grain(0, 0.008F);
    auto picture = testing::make_picture(format(), [&](int plane, int x, int y) {
      const int u = std::clamp(static_cast<int>(shot.x + shot.dx * frame + x * shot.zoom), 0, s.width - 1);
      const int v = std::clamp(static_cast<int>(shot.y + shot.dy * frame + y * shot.zoom), 0, s.height - 1);
      const float e = s.signal[static_cast<std::size_t>(v * s.width + u)][static_cast<std::size_t>(plane)];
      const double shown = light * e * (1 - flash) + 0.8 * flash + (light > 0 ? grain(random_) : 0);
      return std::clamp(64 + std::round(876 * shown), 4.0, 1019.0);
    });
    picture.index = static_cast<std::int64_t>(frames.size());
    picture.time_s = static_cast<double>(frames.size()) / kRate;
    frames.push_back(meter_.measure(picture).value());
  }
  std::vector<FrameRecord> frames;

 private:
  FrameMeter meter_;
  std::mt19937 random_{11};
};

TEST(ScenesOfRealPictures, CutsFadesAndFlashesAreToldApart) {
  const Still venice = still("venice_sunset_1k.hdr"), seine = still("seine_hdr_rec2020.avif"),
              room = still("hdr_room.png"), forest = still("forest_512_dwab.exr"),
              sunset = still("sunset_512_dwab.exr");
  const std::vector<Shot> shots{
      {&venice, 100, 200, 3, 0.4, 1, 20}, {&seine, 0, 40, 0.6, 0, 0.9, 16},   {&room, 250, 180, -4, 0, 1, 18},
      {&forest, 20, 20, 1, 0.3, 1, 16},   {&venice, 600, 150, -9, 0, 1, 20},  {&room, 20, 30, 0.5, 2, 0.6, 16},
      {&sunset, 60, 10, 2, 0, 0.9, 18},   {&seine, 10, 60, 0, -0.5, 0.8, 20}, {&forest, 120, 30, -3, 0, 1, 16}};
  Film film;
  std::vector<std::pair<ChangeKind, std::size_t>> truth;
  for (std::size_t i = 0; i < shots.size(); ++i) {
    const Shot& shot = shots[i];
    const bool from_black = i == 4, to_black = i == 3, flashes = i == 2 || i == 6;
    for (int f = 0; f < shot.frames; ++f) {
      double light = 1;
      if (to_black) light = std::min(1.0, (shot.frames - 1 - f) / 8.0);
      if (from_black) light = std::min(1.0, (f + 1) / 8.0);
      film.add(shot, f, light, flashes && (f == 8 || f == 9) ? 0.7 : 0);
    }
    if (i + 1 < shots.size()) truth.emplace_back(to_black ? ChangeKind::fade : ChangeKind::cut, film.frames.size());
  }
  for (std::size_t i = 1; i < film.frames.size(); ++i)
    film.frames[i].figures.temporal_difference = temporal_difference(film.frames[i - 1], film.frames[i]);
  const auto found = scene_changes(film.frames, kWidth, kHeight);
  std::vector<std::pair<ChangeKind, std::size_t>> told;
  for (const auto& c : found) told.emplace_back(c.kind, c.start);
  EXPECT_EQ(told, truth);

  const auto list = find_scenes(film.frames, kWidth, kHeight);
  ASSERT_EQ(list.scenes.size(), shots.size());
  for (const auto kind : {Demand::limiter, Demand::changes}) {
    const auto moments = ranked_moments(film.frames, list, kind, 5);
    ASSERT_EQ(moments.size(), 5U);
    for (std::size_t i = 1; i < moments.size(); ++i) EXPECT_GE(moments[i - 1].value, moments[i].value);
  }
}

}  // namespace
}  // namespace provenit::programme
