// What a survey says of itself, as JSON.
#include <fmt/format.h>

#include <nlohmann/json.hpp>

#include "provenit/programme/survey_file.h"
#include "provenit/signal/signal.h"

namespace provenit::programme {
namespace {

using nlohmann::json;
using nlohmann::ordered_json;

ordered_json to_json(const PictureFormat& f) {
  return {{"width", f.width},
          {"height", f.height},
          {"bits", f.bits},
          {"float", f.is_float},
          {"chroma", name_of(f.chroma)},
          {"range", signal::name_of(f.range)},
          {"transfer", name_of(f.transfer)},
          {"primaries", name_of(f.gamut)},
          {"matrix", name_of(f.matrix)},
          {"siting", name_of(f.siting)},
          {"peak_cdm2", f.peak_cdm2}};
}

ordered_json to_json(const StaticMetadata& m) {
  ordered_json j{{"where", m.where}};
  if (m.maxcll_cdm2) j["maxcll_cdm2"] = *m.maxcll_cdm2;
  if (m.maxfall_cdm2) j["maxfall_cdm2"] = *m.maxfall_cdm2;
  if (m.mastering)
    j["mastering"] = {{"primaries_xy", m.mastering->primaries_xy},
                      {"white_xy", m.mastering->white_xy},
                      {"maximum_cdm2", m.mastering->maximum_cdm2},
                      {"minimum_cdm2", m.mastering->minimum_cdm2}};
  return j;
}

// json::at and get throw; the one catch is in survey_header_from_json.
template <class T>
T named(const json& j, const char* key, std::optional<T> (*from_name)(std::string_view)) {
  const auto text = j.at(key).get<std::string>();
  const auto value = from_name(text);
  if (!value) throw std::invalid_argument(fmt::format("\"{}\" is no {}", text, key));
  return *value;
}

PictureFormat format_from(const json& j) {
  return {.width = j.at("width").get<int>(),
          .height = j.at("height").get<int>(),
          .bits = j.at("bits").get<int>(),
          .is_float = j.at("float").get<bool>(),
          .chroma = named<Chroma>(j, "chroma", chroma_from_name),
          .range = named<colour::Range>(j, "range", signal::range_from_name),
          .transfer = named<Transfer>(j, "transfer", transfer_from_name),
          .gamut = named<Gamut>(j, "primaries", gamut_from_name),
          .matrix = named<Matrix>(j, "matrix", matrix_from_name),
          .siting = named<Siting>(j, "siting", siting_from_name),
          .peak_cdm2 = j.at("peak_cdm2").get<double>()};
}

StaticMetadata metadata_from(const json& j) {
  StaticMetadata m;
  m.where = j.at("where").get<std::string>();
  if (j.contains("maxcll_cdm2")) m.maxcll_cdm2 = j["maxcll_cdm2"].get<int>();
  if (j.contains("maxfall_cdm2")) m.maxfall_cdm2 = j["maxfall_cdm2"].get<int>();
  if (!j.contains("mastering")) return m;
  const json& from = j["mastering"];
  auto& mastering = m.mastering.emplace(StaticMetadata::Mastering{});
  from.at("primaries_xy").get_to(mastering.primaries_xy);
  from.at("white_xy").get_to(mastering.white_xy);
  mastering.maximum_cdm2 = from.at("maximum_cdm2").get<double>();
  mastering.minimum_cdm2 = from.at("minimum_cdm2").get<double>();
  return m;
}

SurveyHeader header_from(const json& j) {
  const json& s = j.at("source");
  SurveyHeader h;
  h.title = j.at("title").get<std::string>();
  h.source.container = s.at("container").get<std::string>();
  h.source.codec = s.at("codec").get<std::string>();
  h.source.format = format_from(s.at("format"));
  h.source.frame_rate_numerator = s.at("frame_rate").at(0).get<std::int64_t>();
  h.source.frame_rate_denominator = s.at("frame_rate").at(1).get<std::int64_t>();
  h.source.metadata = metadata_from(s.at("metadata"));
  s.at("notes").get_to(h.source.notes);
  h.fingerprint = j.at("fingerprint").get<std::string>();
  h.simd_level = j.at("simd_level").get<std::string>();
  h.software = j.at("software").get<std::string>();
  h.version = j.at("version").get<int>();
  h.live = j.at("live").get<bool>();
  h.title_frames = j.at("title_frames").get<std::int64_t>();
  h.first = j.at("first").get<std::int64_t>();
  h.last = j.at("last").get<std::int64_t>();
  h.measured = j.at("measured").get<std::int64_t>();
  h.dropped = j.at("dropped").get<std::int64_t>();
  h.complete = j.at("complete").get<bool>();
  j.at("troubles").get_to(h.troubles);
  return h;
}

bool is_sound(const SurveyHeader& h) {
  const PictureFormat& f = h.source.format;
  return f.width > 0 && f.height > 0 && f.width <= 65535 && f.height <= 65535 && h.first >= 0 && h.last >= h.first &&
         h.measured >= 0 && h.measured <= h.last - h.first && h.source.frame_rate_denominator > 0;
}

}  // namespace

ordered_json to_json(const SurveyHeader& h) {
  const SourceInfo& s = h.source;
  return {{"title", h.title},
          {"version", h.version},
          {"software", h.software},
          {"simd_level", h.simd_level},
          {"fingerprint", h.fingerprint},
          {"live", h.live},
          {"title_frames", h.title_frames},
          {"first", h.first},
          {"last", h.last},
          {"measured", h.measured},
          {"dropped", h.dropped},
          {"complete", h.complete},
          {"source",
           {{"container", s.container},
            {"codec", s.codec},
            {"format", to_json(s.format)},
            {"frame_rate", {s.frame_rate_numerator, s.frame_rate_denominator}},
            {"metadata", to_json(s.metadata)},
            {"notes", s.notes}}},
          {"troubles", h.troubles}};
}

Result<SurveyHeader> survey_header_from_json(const json& j) {
  const auto refused = [](const std::string& why) {
    return fail(ErrorCode::invalid_input, "the header of the survey is damaged: " + why,
                "Restore the file from a copy, or survey the title again.");
  };
  try {
    SurveyHeader h = header_from(j);
    if (h.version > kSurveyVersion)
      return fail(ErrorCode::conflict,
                  fmt::format("the survey is of version {}, this program knows {}", h.version, kSurveyVersion),
                  "Use a newer version of provenit.");
    if (!is_sound(h)) return refused("a number is outside its range");
    return h;
  } catch (const std::exception& e) {  // json's own errors and invalid_argument
    return refused(e.what());
  }
}

}  // namespace provenit::programme
