// A camera before the simulated display: the files a person would bring.
#include "simulated_camera.h"

#include <algorithm>
#include <array>
#include <cmath>

#include "provenit/base/text.h"
#include "provenit/colour/matrix3.h"
#include "provenit/colour/primaries.h"
#include "provenit/signal/codes.h"
#include "provenit/signal/png16.h"
#include "provenit/signal_files/clip.h"
#include "provenit/simulated/clock.h"
#include "provenit/simulated/display.h"
#include "provenit/simulated/field_camera.h"
#include "provenit/simulated/walk_film.h"
#include "temporary_folder.h"

namespace provenit::loan {
namespace {

constexpr int kLatticeColumns = 33, kLatticeRows = 19;  // places at which the display is asked for its light

/// Light of the primaries over the picture, 1 at the centre, as the camera's lens meets it head on everywhere.
simulated::FieldLight light_of(const simulated::DisplayPhysics& physics, const signal::Encoding& encoding) {
  simulated::SimulatedClock clock(Timestamp{4 * 3600.0});
  const simulated::SimulatedDisplay display(physics, clock, {});
  signal::Signal grey{.encoding = encoding, .patch = signal::grey_code(encoding, colour::Signal<>{.value = 0.5})};
  const auto to_rgb = colour::inverse(colour::rgb_to_xyz_matrix(colour::bt2020_primaries));
  std::vector<std::array<double, 3>> lattice;
  for (int j = 0; j < kLatticeRows; ++j)
    for (int i = 0; i < kLatticeColumns; ++i) {
      const instrument::Placement at{.x = i / (kLatticeColumns - 1.0), .y = j / (kLatticeRows - 1.0)};
      const auto xyz = display.truth(grey, simulated::SimulatedDisplay::settled_thermal(), at);
      const auto rgb = to_rgb * colour::Vector3<double>{xyz.X, xyz.Y, xyz.Z};
      lattice.push_back({rgb[0], rgb[1], rgb[2]});
    }
  const auto centre = lattice[lattice.size() / 2];
  return [lattice, centre](double u, double v) {
    const double x = std::clamp(u, 0.0, 1.0) * (kLatticeColumns - 1), y = std::clamp(v, 0.0, 1.0) * (kLatticeRows - 1);
    const int i = std::min(static_cast<int>(x), kLatticeColumns - 2),
              j = std::min(static_cast<int>(y), kLatticeRows - 2);
    const double fx = x - i, fy = y - j;
    const auto at = [&](int column, int row, std::size_t c) {
      return lattice[static_cast<std::size_t>(row) * static_cast<std::size_t>(kLatticeColumns) +
                     static_cast<std::size_t>(column)][c] /
             centre[c];
    };
    std::array<double, 3> out{};
    for (std::size_t c = 0; c < 3; ++c)
      out[c] = (1 - fy) * ((1 - fx) * at(i, j, c) + fx * at(i + 1, j, c)) +
               fy * ((1 - fx) * at(i, j + 1, c) + fx * at(i + 1, j + 1, c));
    return out;
  };
}

std::optional<RecordedFile> png_of(const simulated::Frame& frame, const char* step) {
  std::vector<std::uint16_t> samples;
  for (const double v : frame.rgb) samples.push_back(static_cast<std::uint16_t>(std::lround(65535 * v)));
  // Primaries BT.709 and linear light by their code points of H.273; R'G'B', full range.
  auto bytes = signal::png16(samples, {frame.width, frame.height}, {.primaries = 1, .transfer = 8, .full_range = 1});
  if (!bytes) return std::nullopt;
  RecordedFile file{.step = step, .name = std::string(step) + ".png", .bytes = std::move(*bytes)};
  file.conditions = {{"coding", "linear"}, {"origin", "simulated"}};
  return file;
}

}  // namespace

std::optional<RecordedFile> filmed_walk(const simulated::DisplayPhysics& physics, const procedure::RecordStep& step,
                                        std::uint64_t seed) {
  const simulated::BoxWalk walk{.width = 3840,
                                .height = 2160,
                                .step = step.parameters["step_pixels"].get<int>(),
                                .along = step.parameters["along_pixels"].get<int>(),
                                .down = step.parameters["down"].get<double>() != 0};
  const simulated::FilmCamera camera{
      .width = 128, .height = 72, .rate_hz = 60, .rate_error = 2e-5, .exposure = {}, .seed = seed};
  const auto make = [&] { return simulated::WalkFilm(physics, walk, camera); };
  auto film = make();
  int shown = -1;
  std::vector<std::uint8_t> codes;
  signal::FrameSource source{.encoding = {.transfer = signal::Transfer::bt1886,
                                          .container = signal::Container::bt709,
                                          .bits = 8,
                                          .range = signal::Range::full},
                             .size = {camera.width, camera.height},
                             .frames = film.frames(),
                             .rate = {60, 1},
                             .row = {},
                             .hold = {}};
  source.row = [&](int frame, int y) {
    if (frame < shown) film = make(), shown = -1;
    for (; shown < frame; ++shown) codes = film.next();
    std::vector<std::uint16_t> row;
    for (int x = 0; x < camera.width; ++x)
      row.insert(
          row.end(), 3,
          codes[static_cast<std::size_t>(y) * static_cast<std::size_t>(camera.width) + static_cast<std::size_t>(x)]);
    return row;
  };
  const TemporaryFolder folder;
  const auto path = folder.path() + "/clip.mkv";
  if (!signal::write_clip(source, path, {.codec = signal::ClipCodec::ffv1, .chroma = signal::ClipChroma::rgb}))
    return std::nullopt;
  auto bytes = read_file(path);
  if (!bytes) return std::nullopt;
  RecordedFile file{.step = step.key, .name = "walk-" + step.key + ".mkv", .bytes = std::move(*bytes)};
  file.conditions = {{"frame_s", walk.frame_s}, {"origin", "simulated"}};
  return file;
}

std::optional<std::vector<RecordedFile>> pictured_field(const simulated::DisplayPhysics& physics,
                                                        const signal::Encoding& encoding, std::uint64_t seed) {
  const simulated::FieldCamera camera{.width = 640, .height = 400, .flat_error = 0.005, .seed = seed};
  const auto light = light_of(physics, encoding);
  std::vector<RecordedFile> files;
  for (auto file :
       {png_of(simulated::field_picture(light, camera, 0), "field"),
        png_of(simulated::field_picture(light, camera, 1), "again"), png_of(simulated::flat_picture(camera), "flat")}) {
    if (!file) return std::nullopt;
    files.push_back(std::move(*file));
  }
  files.back().conditions["flat_relative"] = camera.flat_error;
  return files;
}

}  // namespace provenit::loan
