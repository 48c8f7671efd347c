#include "survey_shelf.h"

#include <algorithm>

#include "provenit/base/text.h"
#include "provenit/programme/survey.h"

namespace provenit::server {
namespace {

using report::Json;

constexpr std::size_t kTitles = 4, kScenes = 4;

template <class Shelf, class Key>
auto found(Shelf& shelf, const Key& key) {
  const auto at = std::ranges::find(shelf, key, [](const auto& entry) { return entry.first; });
  if (at != shelf.end()) shelf.splice(shelf.begin(), shelf, at);
  return at == shelf.end() ? nullptr : shelf.front().second;
}

template <class Shelf, class Key, class Value>
Value keep(Shelf& shelf, std::size_t most, const Key& key, Value value) {
  shelf.emplace_front(key, value);
  if (shelf.size() > most) shelf.pop_back();
  return value;
}

Result<std::shared_ptr<const ShelvedTitle>> read_title(const store::Bench& bench, store::Id id) {
  auto survey = programme::survey_in_bench(bench, id);
  if (!survey) return tl::unexpected(survey.error());
  auto out = std::make_shared<ShelvedTitle>();
  std::vector<programme::FrameLight> light;
  const auto read = programme::for_each_chunk(bench, id, [&](auto frames) -> Result<void> {
    for (const auto& f : frames) out->course.add(light.emplace_back(programme::light_of(f.figures)));
    return {};
  });
  if (!read) return tl::unexpected(read.error());
  const auto& h = survey->header;
  const auto& format = h.source.format;
  const auto figures = programme::title_figures(light, format.width, format.height);
  const auto checks = programme::check_declared(h.source.metadata, figures);
  const double rate = static_cast<double>(h.source.frame_rate_numerator) /
                      static_cast<double>(std::max<std::int64_t>(1, h.source.frame_rate_denominator));
  out->document = {{"survey", survey->record.id},
                   {"title", h.title},
                   {"added", iso8601(survey->record.added)},
                   {"hash", survey->record.hash},
                   {"fingerprint", h.fingerprint},
                   {"codec", h.source.codec},
                   {"format", programme::describe(format)},
                   {"width", format.width},
                   {"height", format.height},
                   {"frames", out->course.size()},
                   {"frame_rate_hz", rate},
                   {"end_s", light.empty() ? 0 : light.back().time_s},
                   {"first_frame", light.empty() ? 0 : light.front().index},
                   {"last_frame", light.empty() ? 0 : light.back().index},
                   {"live", h.live},
                   {"complete", h.complete},
                   {"notes", h.source.notes},
                   {"troubles", h.troubles},
                   {"declared_in", h.source.metadata.where},
                   {"figures", programme::to_json(figures)},
                   {"declared", programme::to_json(std::span(checks))}};
  out->survey = std::move(*survey);
  return out;
}

Json demands_json(const programme::FrameDemands& demands) {
  Json out = Json::object();
  for (const auto d : programme::kDemands) out[programme::name_of(d)] = programme::value_of(demands, d);
  return out;
}

Json scenes_json(const std::vector<programme::FrameRecord>& frames, const programme::SceneList& list) {
  Json scenes = Json::array(), cautions = Json::array();
  const auto at = [&](std::size_t position) -> const programme::FrameFigures& { return frames[position].figures; };
  for (const auto& s : list.scenes) {
    const std::size_t next = std::min(s.last + 1, frames.size() - 1);
    scenes.push_back({{"scene", scenes.size() + 1},
                      {"first_frame", at(s.first).index},
                      {"last_frame", at(s.last).index},
                      {"from_s", at(s.first).time_s},
                      {"to_s", at(next).time_s},
                      {"opened_by", programme::name_of(s.opened_by)},
                      {"maximum_cdm2", s.maximum_cdm2},
                      {"full_field_largest_cdm2", s.full_field_largest_cdm2},
                      {"full_field_mean_cdm2", s.full_field_mean_cdm2},
                      {"largest", demands_json(s.largest)},
                      {"flashing", s.flashing}});
  }
  for (const auto& c : list.cautions)
    cautions.push_back({{"first_frame", at(c.first).index},
                        {"last_frame", at(c.last).index},
                        {"from_s", at(c.first).time_s},
                        {"to_s", at(c.last).time_s},
                        {"flashes", c.flashes},
                        {"area", c.area},
                        {"change_cdm2", c.change_cdm2}});
  return {{"peak_cdm2", list.peak_cdm2}, {"scenes", std::move(scenes)}, {"flash_cautions", std::move(cautions)}};
}

Json moments_json(const std::vector<programme::FrameRecord>& frames, const programme::SceneList& list,
                  programme::Demand demand) {
  Json moments = Json::array();
  for (const auto& m : programme::ranked_moments(frames, list, demand, kMostMoments)) {
    const auto& f = frames[m.position].figures;
    moments.push_back({{"frame", f.index},
                       {"time_s", f.time_s},
                       {"scene", m.scene + 1},
                       {"value", m.value},
                       {"max_cdm2", f.max_rgb_max},
                       {"mean_cdm2", f.max_rgb_mean}});
  }
  return {{"test", programme::name_of(demand)},
          {"quantity", programme::describe(demand)},
          {"peak_cdm2", list.peak_cdm2},
          {"moments", std::move(moments)}};
}

}  // namespace

Result<std::shared_ptr<const ShelvedTitle>> SurveyShelf::title(const store::Bench& bench, store::Id survey) {
  const std::lock_guard lock(titles_mutex_);
  if (auto known = found(titles_, survey)) return known;
  auto read = read_title(bench, survey);
  if (!read) return read;
  return keep(titles_, kTitles, survey, *read);
}

Result<std::shared_ptr<const ShelvedScenes>> SurveyShelf::scenes(const store::Bench& bench, store::Id survey,
                                                                 double peak_cdm2) {
  const std::lock_guard lock(scenes_mutex_);
  const std::pair key(survey, peak_cdm2);
  if (auto known = found(scenes_, key)) return known;
  const auto header = programme::survey_in_bench(bench, survey);
  if (!header) return tl::unexpected(header.error());
  const auto frames = programme::frames_in_bench(bench, survey);
  if (!frames) return tl::unexpected(frames.error());
  const auto& format = header->header.source.format;
  const auto list = programme::find_scenes(*frames, format.width, format.height, peak_cdm2);
  auto out = std::make_shared<ShelvedScenes>();
  out->scenes = scenes_json(*frames, list);
  for (const auto d : programme::kDemands) out->moments[programme::name_of(d)] = moments_json(*frames, list, d);
  return keep(scenes_, kScenes, key, std::shared_ptr<const ShelvedScenes>(std::move(out)));
}

}  // namespace provenit::server
