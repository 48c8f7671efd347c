// Checkerboard: contrast and black luminance, for each mode of local dimming the run went through, less the glare that
// the evaluator states.
#include <fmt/format.h>

#include <cmath>

#include "findings_internal.h"

namespace provenit::evaluation {
namespace {

using colour::Uncertain;

constexpr const char* kGlare = "veiling glare";
const Method kContrast{
    "checkerboard-contrast", 2, {"This project (docs/methods/checkerboard.md)", "JCGM 100:2008", "Fieller 1954"}};
const Method kBlack{"checkerboard-black", 1, {"This project (docs/methods/checkerboard.md)", "JCGM 100:2008"}};

/// Light of both phases in one mode, glare taken out.
struct Phases {
  const StepLight *white = nullptr, *black = nullptr;
  Uncertain white_cdm2, black_cdm2;
};

/// The meter adds to black a share g of the white around it: black = black as read - g x white as read. (White gains
/// half of g from the other white squares, which the ratio does not show to first order.)
Phases phases_of(const RunLight& run, const std::string& suffix, const Uncertain& glare) {
  Phases p{.white = run.find("check_white" + suffix), .black = run.find("check_black" + suffix)};
  if (p.white == nullptr || p.black == nullptr) return {};
  p.white_cdm2 = p.white->light.Y;
  p.black_cdm2 = p.black->light.Y - glare * p.white->light.Y;
  return p;
}

}  // namespace

void add_checkerboard_findings(Findings& out, const Study& study, const RunLight& run) {
  Light light = study.light;
  const double fraction = parameter(run, "glare_fraction", 0), u = parameter(run, "glare_fraction_u", 0);
  Uncertain glare(fraction);
  if (u > 0) glare = Uncertain(fraction, light.sources.add({.name = kGlare, .standard_uncertainty = u}));
  const Study own{light, study.input};
  for (const char* mode : {"as_found", "on", "off"}) {
    const bool switched = std::string_view(mode) != "as_found";
    const auto p = phases_of(run, switched ? fmt::format("_{}", mode) : "", glare);
    if (p.white == nullptr) continue;
    const auto& squares = p.white->signal.geometry;
    nlohmann::json conditions{{"columns", squares.columns}, {"rows", squares.rows}};
    const auto finish = [&](store::FindingRecord& f) {
      if (fraction > 0 || u > 0) {
        f.parts["glare_fraction"] = fraction;
        f.parts["glare_fraction_u"] = u;
        f.parts["black_as_read_cdm2"] = p.black->light.Y.value();
      }
      out.push_back(std::move(f));
    };
    auto dimming = conditions;
    dimming["local_dimming"] = mode;
    auto contrast = new_finding(switched ? "dimming_checkerboard_contrast" : "checkerboard_contrast",
                                switched ? dimming : conditions, kContrast);
    use_step(contrast, run, *p.white);
    use_step(contrast, run, *p.black);
    set_ratio(contrast, p.white_cdm2, p.black_cdm2, own);
    finish(contrast);
    auto black = new_finding("checkerboard_black", dimming, kBlack);
    use_step(black, run, *p.black);
    if (fraction > 0 || u > 0) use_step(black, run, *p.white);
    set_linear(black, p.black_cdm2, own);
    keep_above_zero(black);
    finish(black);
  }
}

}  // namespace provenit::evaluation
