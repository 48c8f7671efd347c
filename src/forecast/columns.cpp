#include "provenit/forecast/columns.h"

#include <algorithm>

namespace provenit::forecast {

double tone_part(const FrameOutlook& frame) {
  double rest = frame.delta_e.value;
  for (const float part : frame.by_cause) rest -= static_cast<double>(part);
  return std::max(0.0, rest);
}

const char* leading_part(const FrameOutlook& frame) {
  const auto most = std::ranges::max_element(frame.by_cause);
  if (tone_part(frame) > static_cast<double>(*most)) return kTone;
  return name_of(static_cast<Cause>(most - frame.by_cause.begin()));
}

OutlookColumns columns_of(std::span<const FrameOutlook> frames, std::size_t first, std::size_t last,
                          std::size_t count) {
  OutlookColumns out;
  out.last = std::min(last, frames.size());
  out.first = std::min(first, out.last);
  const std::size_t length = out.last - out.first;
  if (length == 0 || count == 0) return out;
  out.frames_per_column = (length + count - 1) / count;
  for (std::size_t at = out.first; at < out.last; at += out.frames_per_column) {
    double delta_e = 0, tone = 0;
    std::array<double, kCauses> parts{};
    for (const auto& f : frames.subspan(at, std::min(out.frames_per_column, out.last - at))) {
      delta_e = std::max(delta_e, f.delta_e.value);
      tone = std::max(tone, tone_part(f));
      for (std::size_t c = 0; c < kCauses; ++c) parts[c] = std::max(parts[c], static_cast<double>(f.by_cause[c]));
    }
    out.time_s.push_back(frames[at].time_s);
    out.delta_e.push_back(delta_e);
    out.tone.push_back(tone);
    for (std::size_t c = 0; c < kCauses; ++c) out.by_cause[c].push_back(parts[c]);
  }
  return out;
}

TitleSummary summary_of(std::span<const FrameOutlook> frames) {
  TitleSummary out;
  if (frames.empty()) return out;
  const double one = 1.0 / static_cast<double>(frames.size());
  for (const auto& f : frames) {
    out.mean_delta_e += one * f.delta_e.value;
    out.mean_tone += one * tone_part(f);
    out.share_above[0] += f.delta_e.value > 1 ? one : 0;
    out.share_above[1] += f.delta_e.value > 3 ? one : 0;
    for (std::size_t c = 0; c < kCauses; ++c) out.mean_by_cause[c] += one * static_cast<double>(f.by_cause[c]);
    if (f.delta_e.value <= 1) continue;
    const auto leads = std::ranges::max_element(f.by_cause);
    if (tone_part(f) > static_cast<double>(*leads))
      ++out.frames_led_by_tone;
    else
      ++out.frames_led[static_cast<std::size_t>(leads - f.by_cause.begin())];
  }
  return out;
}

}  // namespace provenit::forecast
