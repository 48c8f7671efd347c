#include <fmt/format.h>

#include <cmath>

#include "procedures_internal.h"
#include "provenit/procedure/procedure.h"
#include "words_internal.h"

namespace provenit::procedure {

const std::vector<std::unique_ptr<Procedure>>& all_procedures() {
  // What needs a cool, rested display comes first; large bright areas come last.
  static const auto* const procedures = [] {
    auto* all = new std::vector<std::unique_ptr<Procedure>>;
    for (auto make : {make_warm_up, make_black_level, make_near_black, make_white_point, make_primaries, make_spectra,
                      make_hue_linearity, make_chart_accuracy, make_greyscale, make_step_resolution, make_stability,
                      make_uniformity, make_off_axis, make_colour_volume, make_clip_hue, make_checkerboard, make_halo,
                      make_window_peak, make_sustained})
      all->push_back(make());
    return all;
  }();
  return *procedures;
}

const Procedure* find_procedure(const std::string& id) {
  for (const auto& procedure : all_procedures())
    if (procedure->id() == id) return procedure.get();
  return nullptr;
}

std::string time_text(Seconds span) {
  const double s = span.s;
  if (s < 99.5) return fmt::format("{:.0f} s", s);
  const long long minutes = std::llround(s / 60);
  if (minutes < 60) return fmt::format("{} min", minutes);
  return fmt::format("{} h {:02} min", minutes / 60, minutes % 60);
}

}  // namespace provenit::procedure
