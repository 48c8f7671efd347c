// Checkerboard contrast: the same square, white in one phase and black in the other; with local dimming as it is found,
// on, off, or off and on in one run.
// signals  "check_white", "check_black" (with "_on" or "_off" if local dimming is switched): columns x rows squares,
// code
//          black and the grey next to level_cdm2, or the highest code for level_cdm2 = 0. The centre square is read;
//          along an even count the one right of or below the centre, and the meter looks at its middle
//          "reference": grey window around the same place, with dimming on where the run switches it both ways
// cost     2 x (settle + reading) + rests on black, per pass and mode
// source   ICDM IDMS, n x m checkerboard (name from memory; there usually 4 x 4 and more). Two phases at one spot: ours
#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "procedures_internal.h"
#include "provenit/signal/codes.h"
#include "scripted_internal.h"

namespace provenit::procedure {
namespace {

using instrument::LocalDimming;

/// Middle of the square that is `patch`, along an axis of n squares.
double middle(int n) {
  return n % 2 == 1 ? 0.5 : 0.5 + 0.5 / n;
}

instrument::Placement place_of(const Setting& setting) {
  return {.x = middle(setting.integer("columns")), .y = middle(setting.integer("rows"))};
}

/// The modes a run goes through.
Result<std::vector<LocalDimming>> modes_of(const Setting& setting) {
  const auto wanted = setting.parameters["local_dimming"].get<std::string>();
  if (wanted == "both") return std::vector{LocalDimming::on, LocalDimming::off};
  if (const auto mode = instrument::local_dimming_from_name(wanted)) return std::vector{*mode};
  return fail(ErrorCode::invalid_input, fmt::format("checkerboard: local_dimming = \"{}\"", wanted),
              "Give as_found, on, off or both.", {.field = "local_dimming"});
}

class Checkerboard final : public Scripted {
 public:
  std::string id() const override { return "checkerboard"; }
  int version() const override { return 2; }
  std::string title() const override { return "Checkerboard contrast"; }
  std::vector<std::string> sources() const override {
    return {"ICDM IDMS, n x m checkerboard contrast (name from memory; section not opened)"};
  }
  std::vector<std::string> quantities() const override {
    return {"checkerboard_contrast", "dimming_checkerboard_contrast", "checkerboard_black"};
  }

 protected:
  std::vector<Parameter> parameters() const override {
    return with_common({{"max_repeats", 5, 1, 100},
                        {"columns", 5, 2, 255},
                        {"rows", 5, 2, 255},
                        {"level_cdm2", 0.0, 0, 10000},
                        {"local_dimming", "as_found"},
                        {"glare_fraction", 0.0, 0, 0.5},
                        {"glare_fraction_u", 0.0, 0, 0.5}});
  }
  /// Around the square that is read, so that the meter never moves.
  Result<Step> reference(const Setting& setting) const override {
    auto step = reference_step(setting);
    const auto modes = modes_of(setting);
    if (!modes) return tl::unexpected(modes.error());
    if (!step) return step;
    step->placement = place_of(setting);
    step->local_dimming = modes->front();
    if (step->signal.geometry.shape == signal::Shape::window) {
      const double reach = 0.5 - std::sqrt(step->signal.geometry.area_fraction) / 2;
      const auto inside = [reach](double at) { return std::min(at, 0.5 + reach); };
      step->signal.geometry.centre_x = inside(step->placement.x);
      step->signal.geometry.centre_y = inside(step->placement.y);
    }
    return step;
  }
  Result<std::optional<Step>> script(const Setting& setting) const override {
    const auto& encoding = setting.context.encoding;
    signal::CodeRgb white = signal::peak_code(encoding);
    if (const double level = setting.number("level_cdm2"); level > 0) {
      const auto code = signal::grey_code(encoding, colour::Luminance<>{.cdm2 = level});
      if (!code) return tl::unexpected(code.error());
      white = *code;
    }
    const auto modes = modes_of(setting);
    if (!modes) return tl::unexpected(modes.error());
    const auto black = signal::black_code(encoding);
    const signal::Geometry squares{.shape = signal::Shape::checkerboard,
                                   .area_fraction = 1,
                                   .columns = setting.integer("columns"),
                                   .rows = setting.integer("rows")};
    const bool centred = squares.columns % 2 == 1 && squares.rows % 2 == 1;
    for (const LocalDimming mode : *modes) {
      const bool switched = mode != LocalDimming::as_found;
      const std::string suffix = switched ? fmt::format("_{}", instrument::name_of(mode)) : "";
      const auto patch = [&](const char* phase, const signal::CodeRgb& at, const signal::CodeRgb& around) {
        return Patch{fmt::format("check_{}{}", phase, suffix),
                     {.encoding = encoding, .patch = at, .surround = around, .geometry = squares},
                     fmt::format("checkerboard, {} {}{}", centred ? "centre" : "square", phase,
                                 switched ? fmt::format(", local dimming {}", instrument::name_of(mode)) : ""),
                     place_of(setting),
                     mode};
      };
      if (auto step = next_in_passes(setting, {patch("black", black, white), patch("white", white, black)}))
        return step;
    }
    return std::optional<Step>{};
  }
};

}  // namespace

std::unique_ptr<Procedure> make_checkerboard() {
  return std::make_unique<Checkerboard>();
}

}  // namespace provenit::procedure
