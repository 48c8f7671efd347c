// A surveyed title as the report shows it.
#include <algorithm>
#include <nlohmann/json.hpp>

#include "provenit/programme/scenes.h"
#include "provenit/programme/survey.h"

namespace provenit::programme {
namespace {

using Json = nlohmann::ordered_json;

constexpr std::size_t kMomentsEach = 3;

// Spans of as many frames each; the last may be shorter. A span keeps its highest peaks and the mean of its means, so
// that no peak is lost however long the title.
Json course_of(std::span<const FrameLight> light, std::size_t columns) {
  Json time = Json::array(), peak = Json::array(), high = Json::array(), mean = Json::array();
  const std::size_t width = std::max<std::size_t>(1, (light.size() + columns - 1) / columns);
  for (std::size_t from = 0; from < light.size(); from += width) {
    const auto part = light.subspan(from, std::min(width, light.size() - from));
    double most = 0, most_high = 0, sum = 0;
    for (const FrameLight& f : part) {
      most = std::max(most, f.max_rgb_max);
      most_high = std::max(most_high, f.luminance_99_9);
      sum += f.max_rgb_mean;
    }
    time.push_back(part.front().time_s);
    peak.push_back(most);
    high.push_back(most_high);
    mean.push_back(sum / static_cast<double>(part.size()));
  }
  return {{"frames_per_column", width},
          {"time_s", std::move(time)},
          {"max_cdm2", std::move(peak)},
          {"high_cdm2", std::move(high)},
          {"mean_cdm2", std::move(mean)}};
}

Json moments_of(std::span<const FrameRecord> frames, const SceneList& scenes) {
  Json out = Json::array();
  for (const Demand demand : kDemands)
    for (const Moment& m : ranked_moments(frames, scenes, demand, kMomentsEach)) {
      const FrameFigures& f = frames[m.position].figures;
      out.push_back({{"test", name_of(demand)},
                     {"quantity", describe(demand)},
                     {"value", m.value},
                     {"frame", f.index},
                     {"time_s", f.time_s},
                     {"scene", m.scene + 1},
                     {"max_cdm2", f.max_rgb_max},
                     {"mean_cdm2", f.max_rgb_mean}});
    }
  return out;
}

}  // namespace

Json title_document(const SurveyHeader& header, std::span<const FrameRecord> frames, double peak_cdm2,
                    std::size_t columns) {
  const PictureFormat& format = header.source.format;
  std::vector<FrameLight> light;
  light.reserve(frames.size());
  for (const FrameRecord& f : frames) light.push_back(light_of(f.figures));
  const auto figures = title_figures(light, format.width, format.height);
  const auto checks = check_declared(header.source.metadata, figures);
  const auto scenes = find_scenes(frames, format.width, format.height, peak_cdm2);
  return {{"title", header.title},
          {"codec", header.source.codec},
          {"format", describe(format)},
          {"frames", header.measured},
          {"complete", header.complete},
          {"notes", header.source.notes},
          {"troubles", header.troubles},
          {"figures", to_json(figures)},
          {"declared", to_json(std::span(checks))},
          {"course", course_of(light, columns)},
          {"scenes", scenes.scenes.size()},
          {"flash_cautions", scenes.cautions.size()},
          {"highlight_peak_cdm2", peak_cdm2},
          {"moments", moments_of(frames, scenes)}};
}

}  // namespace provenit::programme
