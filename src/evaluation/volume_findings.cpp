// Colour volume in ICtCp and CIELAB, and how much of a container's volume it covers.
#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <functional>

#include "colour_target_internal.h"
#include "provenit/colour/volume.h"
#include "provenit/signal/encoding.h"

namespace provenit::evaluation {
namespace {

using colour::AbsoluteXyz;
using VolumeErrors = std::span<const double>;

const Method kVolume{"colour-volume/mesh",
                     1,
                     {"This project (docs/methods/colour_volume.md)", "Rec. ITU-R BT.2100-3 (ICtCp)",
                      "ISO/CIE 11664-4:2019 (CIELAB)", "JCGM 100:2008"}};

constexpr int kDrawnSamples = 9;  // of a calculated surface, for its derivatives; the value is taken from a finer one
constexpr int kFineColumns = 96, kDrawnColumns = 24;

enum class Space { ictcp, lab };
const char* name_of(Space space) {
  return space == Space::ictcp ? "ictcp" : "lab";
}

/// The light of a display's surface in one state of the errors.
struct VolumeSurface {
  colour::Solid<> cube;
  std::vector<AbsoluteXyz<>> light;
  AbsoluteXyz<> white, black;
};

colour::Solid<> solid_in(Space space, const VolumeSurface& s, const AbsoluteXyz<>& white) {
  return space == Space::ictcp ? colour::ictcp_solid(s.cube, s.light) : colour::lab_solid(s.cube, s.light, white);
}

/// In cubes of one Delta E ITP or one Delta E*ab.
double size_in(Space space, const VolumeSurface& s) {
  const double v = colour::volume(solid_in(space, s, s.white));
  return space == Space::ictcp ? colour::itp_cubes(v) : v;
}

/// What was read, and how its surface follows from it.
class Solid {
 public:
  explicit Solid(const RunLight& run) : run_(run) {
    for (std::size_t i = 0; i < kFive.size(); ++i) five_[i] = run.find(kFive[i]);
    if (std::ranges::find(five_, nullptr) != five_.end()) return;
    known_ = std::ranges::all_of(std::span(five_).subspan(1), [](const auto* s) { return s->light.Y > 0.0; });
    steps_.assign(five_.begin(), five_.end());
    find_surface();
  }
  [[nodiscard]] bool known() const { return known_; }
  [[nodiscard]] bool calculated() const { return read_.empty(); }
  [[nodiscard]] const std::vector<const StepLight*>& steps() const { return steps_; }
  [[nodiscard]] std::span<const StepLight* const> corners() const { return five_; }

  /// `samples` per face and edge of a calculated surface; one that was read has its own.
  [[nodiscard]] VolumeSurface at(VolumeErrors errors, const colour::Solid<>& cube) const {
    VolumeSurface s{.white = light_at(*five_[4], errors), .black = not_below_zero(light_at(*five_[0], errors))};
    if (!calculated()) {
      s.cube = cube_;
      for (const auto* step : read_) s.light.push_back(not_below_zero(light_at(*step, errors)));
      return s;
    }
    const auto own = [&](std::size_t i) {  // chromaticity of a primary without the black that shines through it
      const auto c = light_at(*five_[i], errors);
      return colour::xy_from_xyz(AbsoluteXyz<>{.X = c.X - s.black.X, .Y = c.Y - s.black.Y, .Z = c.Z - s.black.Z});
    };
    const colour::AdditiveDisplay<> display{
        .primaries = {.red = own(1), .green = own(2), .blue = own(3), .white = own(4)},
        .peak = {.cdm2 = s.white.Y},
        .black = {.cdm2 = s.black.Y}};
    s.cube = cube;
    s.light = colour::surface_light(cube, display);
    return s;
  }
  [[nodiscard]] double additivity_percent() const {
    const auto y = [&](std::size_t i) { return five_[i]->light.Y.value(); };
    return 100 * ((y(1) + y(2) + y(3) - 2 * y(0)) / y(4) - 1);
  }
  [[nodiscard]] int points() const { return calculated() ? 5 : static_cast<int>(read_.size()); }

 private:
  static constexpr std::array kFive{"black", "red", "green", "blue", "white"};

  static AbsoluteXyz<> not_below_zero(const AbsoluteXyz<>& c) {
    return {.X = std::max(c.X, 0.0), .Y = std::max(c.Y, 0.0), .Z = std::max(c.Z, 0.0)};
  }

  // The samples of the whole surface, if they were all read.
  void find_surface() {
    const int n = run_.parameters.is_object() ? run_.parameters.value("surface_samples", 9) : 9;
    if (n < 2 || steps_with_prefix(run_, "surface_").empty()) return;
    const auto cube = colour::rgb_cube_surface(n);
    std::vector<const StepLight*> read;
    for (const auto& v : cube.vertices) {
      const StepLight* step = step_of(v, n - 1);
      if (step == nullptr) return;
      read.push_back(step);
    }
    cube_ = cube;
    read_ = std::move(read);
    steps_ = read_;
  }
  [[nodiscard]] const StepLight* step_of(const std::array<double, 3>& v, int last) const {
    std::array<int, 3> i{};
    int lit = 0, ends = 0;
    for (std::size_t c = 0; c < 3; ++c) {
      i[c] = static_cast<int>(std::lround(v[c] * last));
      lit += i[c] == last;
      ends += i[c] == 0 || i[c] == last;
    }
    if (ends == 3 && lit == 0) return five_[0];
    if (ends == 3 && lit == 3) return five_[4];
    if (ends == 3 && lit == 1) return five_[i[0] == last ? 1 : i[1] == last ? 2 : 3];
    return run_.find(fmt::format("surface_{}_{}_{}", i[0], i[1], i[2]));
  }

  const RunLight& run_;
  std::array<const StepLight*, 5> five_{};
  std::vector<const StepLight*> steps_, read_;
  colour::Solid<> cube_;
  bool known_ = false;
};

/// Share of the reference container's volume that is covered, %: both at the display's own peak and black, CIELAB for
/// the display's own white, the reference with D65.
double coverage_percent(Space space, const VolumeSurface& s, signal::Container container, const colour::Solid<>& cube,
                        int columns) {
  const colour::AdditiveDisplay<> reference{
      .primaries = signal::primaries_of(container), .peak = {.cdm2 = s.white.Y}, .black = {.cdm2 = s.black.Y}};
  const VolumeSurface wanted{.cube = cube, .light = colour::surface_light(cube, reference)};
  return 100 *
         colour::volume_overlap(solid_in(space, s, s.white), solid_in(space, wanted, s.white), columns).coverage();
}

std::vector<colour::Uncertain> inputs_of(std::span<const StepLight* const> steps) {
  std::vector<colour::Uncertain> inputs;
  for (const auto* s : steps) inputs.insert(inputs.end(), {s->light.X, s->light.Y, s->light.Z});
  return inputs;
}

using VolumeNumbers = std::function<std::vector<double>(VolumeErrors)>;

/// Numbers with their derivatives to the sources, by central differences of one standard uncertainty each. They belong
/// to `value`, which may come from a finer surface than `at`: derivatives are brought to it by the ratio of the two.
std::vector<colour::Uncertain> linearised(const Study& study, std::span<const colour::Uncertain> inputs,
                                          std::span<const double> value, const VolumeNumbers& at) {
  std::vector<double> errors(study.light.sources.size(), 0.0);
  const auto centre = at(errors);
  std::vector<colour::Uncertain> out(value.begin(), value.end());
  for (const auto id : colour::sources_of(inputs)) {
    const double u = study.light.sources[id].standard_uncertainty;
    if (!(u > 0)) continue;
    errors[id] = u;
    const auto up = at(errors);
    errors[id] = -u;
    const auto down = at(errors);
    errors[id] = 0;
    for (std::size_t i = 0; i < out.size(); ++i) {
      const double slope = (up[i] - down[i]) / (2 * u) * (centre[i] > 0 ? value[i] / centre[i] : 1);
      out[i] += colour::Uncertain(0, id, slope);
    }
  }
  return out;
}

}  // namespace

void add_volume_findings(Findings& out, const Study& study, const RunLight& run) {
  const Solid solid(run);
  if (!solid.known()) return;
  const auto fine = colour::rgb_cube_surface(colour::kVolumeSamples), coarse = colour::rgb_cube_surface(kDrawnSamples);
  const std::vector<double> none(study.light.sources.size(), 0.0);
  const VolumeSurface read = solid.at(none, fine);
  const auto inputs = inputs_of(solid.steps());
  const auto finding = [&](const char* quantity, nlohmann::json conditions) {
    auto f = new_finding(quantity, std::move(conditions), kVolume);
    for (const auto* s : solid.steps()) use_step(f, run, *s);
    return f;
  };
  const auto describe = [&](store::FindingRecord& f) {
    f.parts["points"] = solid.points();
    f.parts["additivity_error_percent"] = solid.additivity_percent();
    f.parts["white_cdm2"] = read.white.Y;
    f.parts["black_cdm2"] = read.black.Y;
  };
  constexpr std::array spaces{Space::ictcp, Space::lab};
  const auto sizes_of = [&](const VolumeSurface& s) {
    return std::vector<double>{size_in(Space::ictcp, s), size_in(Space::lab, s)};
  };
  const auto sizes = linearised(study, inputs, sizes_of(read),
                                [&](VolumeErrors errors) { return sizes_of(solid.at(errors, coarse)); });
  for (std::size_t i = 0; i < 2; ++i) {
    auto f = finding("colour_volume", {{"space", name_of(spaces[i])}});
    set_linear(f, sizes[i], study);
    describe(f);
    out.push_back(std::move(f));
  }
  constexpr std::array containers{signal::Container::p3_d65, signal::Container::bt2020};
  const auto shares_of = [&](const VolumeSurface& s, const colour::Solid<>& cube, int columns) {
    std::vector<double> shares;
    for (const auto space : spaces)
      for (const auto container : containers) shares.push_back(coverage_percent(space, s, container, cube, columns));
    return shares;
  };
  // Of a surface that was read, samples have errors of their own by the hundred: they move its shape far less than the
  // common ones, and the five corners stand for them.
  const auto shares =
      linearised(study, solid.calculated() ? inputs : inputs_of(solid.corners()), shares_of(read, fine, kFineColumns),
                 [&](VolumeErrors errors) { return shares_of(solid.at(errors, coarse), coarse, kDrawnColumns); });
  for (std::size_t i = 0; i < shares.size(); ++i) {
    auto f = finding("colour_volume_coverage",
                     {{"reference", signal::name_of(containers[i % 2])}, {"space", name_of(spaces[i / 2])}});
    set_linear(f, shares[i], study);
    f.upper95 = std::min(f.upper95, 100.0);
    describe(f);
    out.push_back(std::move(f));
  }
}

}  // namespace provenit::evaluation
