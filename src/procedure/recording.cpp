#include "provenit/procedure/recording.h"

#include <algorithm>

namespace provenit::procedure {
namespace {

using store::AttachmentKind;

// Times of preparation are this project's own (common practice, no source): placing a sensor takes some minutes.
std::vector<Recording> recordings() {
  const auto trace = AttachmentKind::trace, still = AttachmentKind::still;
  return {
      {.id = "flicker",
       .title = "Flicker of the light",
       .sources = {"IES Lighting Handbook: percent flicker, flicker index (from memory)",
                   "This project (docs/methods/flicker.md)"},
       .quantities = {"flicker_frequency", "flicker_percent", "flicker_index"},
       .steps = {{"steady", trace, "window", {{"area_percent", 100}}, {300}, {10}, "sensor on a steady field"}}},
      {.id = "light_steps",
       .title = "Rise, fall and afterglow of the light",
       .sources = {"This project (docs/methods/light_steps.md)"},
       .quantities = {"rise_time", "fall_time", "afterglow"},
       .steps = {{"blink",
                  trace,
                  "window",
                  {{"area_percent", 10}},
                  {300},
                  {40},
                  "window on and off, six times or more, each state for 3 s"}}},
      {.id = "input_delay",
       .title = "Delay from input to light",
       .sources = {"This project (docs/methods/input_delay.md)"},
       .quantities = {"input_delay", "input_delay_jitter"},
       .steps = {{"blink",
                  trace,
                  "window",
                  {{"area_percent", 10}},
                  {600},
                  {30},
                  "channel 'marker' of the signal and channel 'light' of the sensor, 25 steps or more"}}},
      {.id = "zone_walk",
       .title = "Dimming zones by a walking box",
       .sources = {"Common practice, no source: a walk that shows 26 column and 14 row steps is 364 zones",
                   "This project (docs/methods/zone_walk.md)"},
       .quantities = {"zone_columns", "zone_rows", "zone_count", "zone_pitch"},
       .steps = {{"across",
                  trace,
                  "border_walk",
                  {{"down", 0}, {"step_pixels", 2}, {"along_pixels", 8}},
                  {600},
                  {90},
                  "along the top row",
                  true},
                 {"down",
                  trace,
                  "border_walk",
                  {{"down", 1}, {"step_pixels", 2}, {"along_pixels", 8}},
                  {60},
                  {60},
                  "down the left column",
                  true}}},
      {.id = "field_picture",
       .title = "Uniformity from a camera's pictures",
       .sources = {"100 % (1 - Lmin / Lmax), equal parts, flat-field correction: common practice, no source",
                   "This project (docs/methods/field_picture.md)"},
       .quantities = {"camera_nonuniformity"},
       .steps =
           {{"field", still, "window", {{"area_percent", 100}}, {600}, {30}, "the whole display, dark around it"},
            {"again", still, "window", {{"area_percent", 100}}, {0}, {30}, "the same once more, nothing touched"},
            {"flat", still, "", nlohmann::json::object(), {600}, {30}, "an even light, the same camera untouched"}}},
      {.id = "chroma_capture",
       .title = "Chroma resolution kept",
       .sources = {"This project (docs/methods/chroma_capture.md)"},
       .quantities = {"chroma_kept"},
       .steps =
           {{"still", still, "chroma_lines", nlohmann::json::object(), {300}, {10}, "the processed picture, RGB"}}},
      {.id = "scaling_capture",
       .version = 2,
       .title = "Overshoot, rise and modulation transfer of scaled edges",
       .sources = {"ISO 12233 (slanted edge; principle, from memory)",
                   "This project (docs/methods/scaling_capture.md)"},
       .quantities = {"edge_overshoot", "edge_rise", "edge_mtf", "edge_mtf50"},
       .steps = {{"still", still, "scaling_set", nlohmann::json::object(), {300}, {10}, "the processed picture, RGB"}}},
      {.id = "alias_capture",
       .title = "Aliasing of scaled waves",
       .sources = {"This project (docs/methods/alias_capture.md)"},
       .quantities = {"alias_share"},
       .steps = {{"still", still, "zone_plate", nlohmann::json::object(), {60}, {10}, "the processed picture, RGB"}}},
      {.id = "ramp_capture",
       .title = "Levels kept and bit depth of a ramp",
       .sources = {"This project (docs/methods/ramp_capture.md)"},
       .quantities = {"ramp_levels_kept", "ramp_effective_bits", "ramp_largest_step"},
       .steps =
           {{"still", still, "luminance_ramp", nlohmann::json::object(), {60}, {10}, "the processed picture, RGB"}}},
      {.id = "clip_capture",
       .title = "Clip of steps around the peak",
       .sources = {"Rec. ITU-R BT.2100-3 (ICtCp, EOTF)", "This project (docs/methods/clip_capture.md)"},
       .quantities = {"captured_clip_luminance", "captured_clip_start", "captured_clip_softness",
                      "captured_clip_hue_shift"},
       .steps = {{"still", still, "clip_steps", nlohmann::json::object(), {60}, {10}, "the processed picture, RGB"}}},
  };
}

}  // namespace

Seconds Recording::total() const {
  Seconds sum{0};
  for (const auto& step : steps) sum = sum + step.preparation + step.play;
  return sum;
}

const RecordStep* Recording::step(const std::string& key) const {
  const auto found = std::ranges::find(steps, key, &RecordStep::key);
  return found == steps.end() ? nullptr : &*found;
}

const std::vector<Recording>& all_recordings() {
  static const auto* const all = new std::vector<Recording>(recordings());
  return *all;
}

const Recording* find_recording(const std::string& id) {
  const auto& all = all_recordings();
  const auto found = std::ranges::find(all, id, &Recording::id);
  return found == all.end() ? nullptr : &*found;
}

}  // namespace provenit::procedure
