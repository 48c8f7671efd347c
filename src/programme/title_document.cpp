// A surveyed title as the report shows it.
#include <nlohmann/json.hpp>

#include "provenit/programme/course.h"
#include "provenit/programme/scenes.h"
#include "provenit/programme/survey.h"

namespace provenit::programme {
namespace {

using Json = nlohmann::ordered_json;

constexpr std::size_t kMomentsEach = 3;

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
  Course course;
  for (const FrameRecord& f : frames) course.add(light.emplace_back(light_of(f.figures)));
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
          {"course", to_json(course.columns(0, course.size(), columns))},
          {"scenes", scenes.scenes.size()},
          {"flash_cautions", scenes.cautions.size()},
          {"highlight_peak_cdm2", peak_cdm2},
          {"moments", moments_of(frames, scenes)}};
}

}  // namespace provenit::programme
