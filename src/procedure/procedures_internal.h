#pragma once
// One maker per procedure; all_procedures() is the only caller.
#include <memory>

#include "provenit/procedure/procedure.h"

namespace provenit::procedure {

std::unique_ptr<Procedure> make_warm_up();
std::unique_ptr<Procedure> make_black_level();
std::unique_ptr<Procedure> make_white_point();
std::unique_ptr<Procedure> make_primaries();
std::unique_ptr<Procedure> make_greyscale();
std::unique_ptr<Procedure> make_checkerboard();
std::unique_ptr<Procedure> make_window_peak();
std::unique_ptr<Procedure> make_uniformity();
std::unique_ptr<Procedure> make_off_axis();
std::unique_ptr<Procedure> make_halo();
std::unique_ptr<Procedure> make_stability();
std::unique_ptr<Procedure> make_sustained();
std::unique_ptr<Procedure> make_near_black();
std::unique_ptr<Procedure> make_hue_linearity();
std::unique_ptr<Procedure> make_chart_accuracy();
std::unique_ptr<Procedure> make_step_resolution();
std::unique_ptr<Procedure> make_colour_volume();
std::unique_ptr<Procedure> make_clip_hue();
std::unique_ptr<Procedure> make_spectra();

}  // namespace provenit::procedure
