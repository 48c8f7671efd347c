#include <fmt/format.h>

#include <algorithm>

#include "provenit/procedure/follow_schedule.h"

namespace provenit::procedure {
namespace {

constexpr int kVersion = 1;
constexpr std::int64_t kMostFrames = 1'000'000'000;

tl::unexpected<Error> refused(const std::string& field, const std::string& why) {
  return fail(ErrorCode::invalid_input, "the schedule cannot be used: " + why,
              "Use the file that was written beside the clip, unchanged.", {.field = field});
}

/// A whole number from 1 on; nullopt for anything else.
std::optional<std::int64_t> count_at(const nlohmann::json& json, const char* key) {
  if (!json.is_object() || !json.contains(key) || !json[key].is_number_integer()) return std::nullopt;
  const auto value = json[key].get<std::int64_t>();
  return value >= 1 && value <= kMostFrames ? std::optional(value) : std::nullopt;
}

std::optional<std::string> text_at(const nlohmann::json& json, const char* key) {
  if (!json.contains(key) || !json[key].is_string()) return std::nullopt;
  return json[key].get<std::string>();
}

Result<FollowHold> hold_from(const nlohmann::json& json, const std::string& place) {
  FollowHold hold;
  const auto frames = count_at(json, "frames");
  if (!frames) return refused(place + ".frames", "no number of frames from 1 on");
  hold.frames = *frames;
  auto signal = signal::signal_from_json(json.value("signal", nlohmann::json()));
  if (!signal) return refused(place + ".signal", signal.error().text());
  hold.signal = *signal;
  if (json.contains("marker")) {
    const auto marker = count_at(json, "marker");
    if (!marker || *marker > kMostMarkers) return refused(place + ".marker", "no number of a marker");
    hold.marker = static_cast<int>(*marker);
  }
  if (!json.contains("step")) return hold;
  const auto procedure = text_at(json, "procedure"), step = text_at(json, "step"), why = text_at(json, "why");
  const auto readings = count_at(json, "readings");
  if (!procedure || !step || !why || !readings || *readings > 10000)
    return refused(place, "a step without procedure, step, why or readings");
  if (!json.contains("settle_s") || !json["settle_s"].is_number() || json["settle_s"].get<double>() < 0)
    return refused(place + ".settle_s", "no time to settle");
  hold.procedure = *procedure, hold.step = *step, hold.why = *why;
  hold.readings = static_cast<int>(*readings);
  hold.settle = Seconds{json["settle_s"].get<double>()};
  return hold;
}

/// Markers rise by one from 1, each with its lead-in and its symbols.
Result<void> check_markers(const FollowSchedule& schedule) {
  int number = 0, pictures = kMarkerSymbols + 1;
  for (const auto& h : schedule.holds) {
    if (h.marker == 0 || h.marker == number + 1) {
      if (pictures != 0 && pictures != kMarkerSymbols + 1) return refused("holds", "a marker is not whole");
      pictures = h.marker == 0 ? 0 : 1;
      number = std::max(number, h.marker);
    } else if (h.marker == number && pictures > 0) {
      ++pictures;
    } else {
      return refused("holds", "the markers are not in order");
    }
  }
  return number > 0 ? Result<void>{} : refused("holds", "there is no marker");
}

}  // namespace

nlohmann::ordered_json to_json(const FollowSchedule& schedule) {
  nlohmann::ordered_json json{{"version", kVersion},
                              {"encoding", signal::to_json(schedule.encoding)},
                              {"rate", {schedule.rate_numerator, schedule.rate_denominator}},
                              {"symbol_frames", schedule.symbol_frames},
                              {"duration_s", schedule.seconds(schedule.frames()).s}};
  json["runs"] = nlohmann::ordered_json::array();
  for (const auto& run : schedule.runs)
    json["runs"].push_back({{"procedure", run.procedure}, {"version", run.version}, {"parameters", run.parameters}});
  json["holds"] = nlohmann::ordered_json::array();
  std::int64_t at = 0;
  for (const auto& h : schedule.holds) {
    nlohmann::ordered_json hold{{"from_s", schedule.seconds(at).s}, {"frames", h.frames}};
    if (h.marker > 0) hold["marker"] = h.marker;
    if (h.readings > 0) {
      hold["procedure"] = h.procedure;
      hold["step"] = h.step;
      hold["why"] = h.why;
      hold["readings"] = h.readings;
      hold["settle_s"] = h.settle.s;
    }
    hold["signal"] = signal::to_json(h.signal);
    json["holds"].push_back(std::move(hold));
    at += h.frames;
  }
  return json;
}

Result<FollowSchedule> follow_schedule_from_json(const nlohmann::json& json) {
  if (!json.is_object() || !count_at(json, "version")) return refused("version", "it is no schedule of a clip");
  if (json["version"].get<std::int64_t>() != kVersion)
    return fail(ErrorCode::unsupported, fmt::format("a schedule of version {}", json["version"].dump()),
                "Write the clip anew.", {.field = "version"});
  FollowSchedule schedule;
  auto encoding = signal::encoding_from_json(json.value("encoding", nlohmann::json()));
  if (!encoding) return refused("encoding", encoding.error().text());
  schedule.encoding = *encoding;
  const auto rate = json.value("rate", nlohmann::json());
  if (!rate.is_array() || rate.size() != 2 || !rate[0].is_number_integer() || !rate[1].is_number_integer() ||
      rate[0].get<int>() < 1 || rate[1].get<int>() < 1)
    return refused("rate", "no rate of two whole numbers");
  schedule.rate_numerator = rate[0].get<int>(), schedule.rate_denominator = rate[1].get<int>();
  const auto symbol = count_at(json, "symbol_frames");
  if (!symbol) return refused("symbol_frames", "no number of frames");
  schedule.symbol_frames = *symbol;
  for (const auto& run : json.value("runs", nlohmann::json::array())) {
    const auto id = run.is_object() ? text_at(run, "procedure") : std::nullopt;
    const auto version = count_at(run, "version");
    if (!id || !version || !run.contains("parameters")) return refused("runs", "a run without its parameters");
    schedule.runs.push_back({*id, static_cast<int>(*version), run["parameters"]});
  }
  const auto holds = json.value("holds", nlohmann::json());
  if (!holds.is_array() || holds.empty()) return refused("holds", "it holds nothing");
  for (std::size_t i = 0; i < holds.size(); ++i) {
    auto hold = hold_from(holds[i], fmt::format("holds[{}]", i));
    if (!hold) return tl::unexpected(hold.error());
    const auto known = [&](const FollowRun& run) { return run.procedure == hold->procedure; };
    if (hold->readings > 0 && std::ranges::none_of(schedule.runs, known))
      return refused(fmt::format("holds[{}].procedure", i), "it is none of the runs");
    schedule.holds.push_back(std::move(*hold));
  }
  if (auto ordered = check_markers(schedule); !ordered) return tl::unexpected(ordered.error());
  return schedule;
}

}  // namespace provenit::procedure
