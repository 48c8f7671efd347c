#include "frame_findings.h"

#include "provenit/evaluation/code_captures.h"
#include "provenit/evaluation/scaled_captures.h"

namespace provenit::loan {
namespace {

using evaluation::CapturedFrame;
using signal::TestPicture;

nlohmann::json direction(bool across) {
  return {{"direction", across ? "across" : "down"}};
}

Result<FrameFindings> chroma(const CapturedFrame& frame, const TestPicture& picture) {
  const auto found = evaluation::measure_chroma(frame, picture);
  if (!found) return tl::unexpected(found.error());
  FrameFindings out;
  for (const auto& d : found->details)
    out.findings.push_back({.quantity = "chroma_kept",
                            .conditions = {{"lines", d.upright ? "upright" : "lying"}, {"line_pixels", d.line_pixels}},
                            .figure = d.percent,
                            .parts = {{"sampling", found->kept}}});
  return out;
}

void add_edge(FrameFindings& out, const evaluation::EdgeResponse& e) {
  const auto add = [&](const char* quantity, const char* key, const nlohmann::json& value,
                       const evaluation::Figure& f) {
    auto conditions = direction(e.across);
    if (key != nullptr) conditions[key] = value;
    out.findings.push_back({.quantity = quantity, .conditions = std::move(conditions), .figure = f});
  };
  add("edge_rise", "pixels", "source", e.rise_source_px);
  add("edge_rise", "pixels", "capture", e.rise_frame_px);
  add("edge_mtf", "cycles_per_pixel", 0.25, e.half_percent);
  add("edge_mtf", "cycles_per_pixel", 0.5, e.full_percent);
  if (e.mtf50)
    add("edge_mtf50", nullptr, {}, *e.mtf50);
  else
    out.notes.push_back(std::string("no MTF50 ") + (e.across ? "across" : "down") +
                        ": modulation stays above 50 % up to what the capture can carry");
}

Result<FrameFindings> scaling(const CapturedFrame& frame, const TestPicture& picture) {
  const auto beyond = evaluation::measure_overshoot(frame, picture);
  if (!beyond) return tl::unexpected(beyond.error());
  FrameFindings out;
  for (const auto& edge : *beyond)
    out.findings.push_back(
        {.quantity = "edge_overshoot", .conditions = direction(edge.across), .figure = edge.percent});
  // Frames of less pixels than the picture, and of earlier pictures, still give their overshoot.
  const auto edges = evaluation::measure_edges(frame, picture);
  if (!edges) {
    out.notes.push_back("no rise and no modulation transfer: " + edges.error().text());
    return out;
  }
  for (const auto& e : *edges) add_edge(out, e);
  return out;
}

Result<FrameFindings> alias(const CapturedFrame& frame, const TestPicture& picture) {
  const auto found = evaluation::measure_alias(frame, picture);
  if (!found) return tl::unexpected(found.error());
  FrameFindings out;
  for (const auto& a : *found) {
    auto conditions = direction(a.across);
    conditions["band"] = a.from < 0.2 ? "low" : "high";
    out.findings.push_back({.quantity = "alias_share",
                            .conditions = std::move(conditions),
                            .figure = a.percent,
                            .parts = {{"from_cycles_per_pixel", a.from}, {"to_cycles_per_pixel", a.to}}});
  }
  return out;
}

Result<FrameFindings> ramp(const CapturedFrame& frame, const TestPicture& picture) {
  const auto found = evaluation::measure_ramp(frame, picture);
  if (!found) return tl::unexpected(found.error());
  nlohmann::json parts = {
      {"levels_sent", found->sent}, {"levels_clipped", found->clipped}, {"scatter_codes", found->scatter_codes}};
  if (found->capture_too_coarse)
    parts["flags"] = {"the file has fewer codes than the picture: what the display keeps is at least this"};
  std::vector<nlohmann::json> series;
  for (const auto& s : found->steps) series.push_back({{"code", s.code}, {"rise_codes", s.rise_codes}});
  FrameFindings out;
  out.findings.push_back({.quantity = "ramp_levels_kept", .figure = found->kept, .parts = parts, .series = series});
  out.findings.push_back({.quantity = "ramp_effective_bits", .figure = found->bits, .parts = parts});
  out.findings.push_back({.quantity = "ramp_largest_step", .figure = found->largest_step, .parts = parts});
  return out;
}

Result<FrameFindings> clip(const CapturedFrame& frame, const TestPicture& picture) {
  const auto found = evaluation::measure_clip(frame, picture);
  if (!found) return tl::unexpected(found.error());
  std::vector<nlohmann::json> series;
  for (const auto& s : found->white) series.push_back({{"sent_cdm2", s.sent_cdm2}, {"left_cdm2", s.left_cdm2}});
  FrameFindings out;
  if (found->start_cdm2)
    out.findings.push_back({.quantity = "captured_clip_start", .figure = *found->start_cdm2, .series = series});
  if (found->clip_cdm2)
    out.findings.push_back({.quantity = "captured_clip_luminance", .figure = *found->clip_cdm2, .series = series});
  if (found->softness_percent)
    out.findings.push_back(
        {.quantity = "captured_clip_softness", .figure = *found->softness_percent, .parts = {{"clip", found->kind}}});
  if (!found->clip_cdm2) out.notes.push_back("white's steps rise to the end: no clip in this picture");
  for (const auto& h : found->hues)
    out.findings.push_back({.quantity = "captured_clip_hue_shift",
                            .conditions = {{"colour", h.colour}},
                            .figure = h.shift_degrees,
                            .parts = {{"shift_as_read", h.signed_degrees}}});
  return out;
}

struct Entry {
  const char* recording;
  Result<FrameFindings> (*evaluate)(const CapturedFrame&, const TestPicture&);
};
constexpr Entry kFrameEntries[] = {{"chroma_capture", chroma},
                                   {"scaling_capture", scaling},
                                   {"alias_capture", alias},
                                   {"ramp_capture", ramp},
                                   {"clip_capture", clip}};

}  // namespace

Result<FrameFindings> frame_findings(const std::string& recording, const CapturedFrame& frame,
                                     const TestPicture& picture) {
  for (const auto& entry : kFrameEntries)
    if (recording == entry.recording) return entry.evaluate(frame, picture);
  return fail(ErrorCode::unsupported, "'" + recording + "' is no recording of a frame");
}

}  // namespace provenit::loan
