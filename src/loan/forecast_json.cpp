#include "provenit/loan/forecast_json.h"

#include <cmath>
#include <nlohmann/json.hpp>

namespace provenit::loan {
namespace {

using Json = nlohmann::ordered_json;

/// Seconds between two moments of a list, at least: one passage is not to fill it.
constexpr double kApart_s = 5;

Json figure_json(const forecast::Figure& f) {
  return {{"value", f.value}, {"lower90", f.lower}, {"upper90", f.upper}};
}

/// Four digits: a time line shows no more.
double rounded(double value) {
  if (!(value > 0)) return 0;
  const double scale = std::pow(10, 3 - std::floor(std::log10(value)));
  return std::round(value * scale) / scale;
}
Json rounded(const std::vector<double>& values) {
  Json out = Json::array();
  for (const double v : values) out.push_back(rounded(v));
  return out;
}

const char* name_of(std::size_t cause) {
  return forecast::name_of(static_cast<forecast::Cause>(cause));
}

Json moments_json(std::span<const forecast::Moment> moments) {
  Json out = Json::array();
  for (const auto& m : moments) {
    out.push_back(to_json(m));
    out.back()["cause"] = forecast::leading_part(m.frame);
  }
  return out;
}
Json moments_by_cause(std::span<const forecast::FrameOutlook> frames, forecast::Cause cause, std::size_t count) {
  Json out = Json::array();
  for (const auto& m : forecast::worst_moments(frames, cause, count, kApart_s)) out.push_back(to_json(m));
  return out;
}

}  // namespace

Json to_json(const forecast::Moment& m) {
  Json causes = Json::object();
  for (std::size_t c = 0; c < forecast::kCauses; ++c)
    causes[name_of(c)] = rounded(static_cast<double>(m.frame.by_cause[c]));
  causes[forecast::kTone] = rounded(forecast::tone_part(m.frame));
  return {{"frame", m.frame.index},
          {"time_s", m.frame.time_s},
          {"delta_e_itp", figure_json(m.frame.delta_e)},
          {"cause", forecast::name_of(m.cause)},
          {"by_cause", std::move(causes)}};
}

Json to_json(const LoanForecast& forecast) {
  const auto& d = forecast.display;
  const auto& u = d.unsure();
  Json out{{"peak_cdm2", d.peak_cdm2()},
           {"zone_columns", d.optics().columns},
           {"zone_rows", d.optics().rows},
           {"unsure",
            {{"light", u.light},
             {"scale", u.scale},
             {"halo", u.halo},
             {"black", u.black},
             {"limiter", u.cap},
             {"colour_delta_e_itp", u.colour_delta_e_itp}}},
           {"assumptions", d.assumptions()},
           {"missing", forecast.missing},
           {"eye_check", nullptr}};
  if (!forecast.eye) return out;
  Json spots = Json::array();
  for (const auto& s : forecast.eye->spots)
    spots.push_back({{"name", s.name},
                     {"read_cdm2", s.read_cdm2},
                     {"forecast_cdm2", s.forecast_cdm2},
                     {"lower90_cdm2", s.lower_cdm2},
                     {"upper90_cdm2", s.upper_cdm2},
                     {"holds", s.holds()}});
  out["eye_check"] = {{"verdict", forecast.eye->verdict},
                      {"held", forecast.eye->held},
                      {"median_lit_error", forecast.eye->median_lit_error},
                      {"median_dark_error", forecast.eye->median_dark_error},
                      {"spots", std::move(spots)}};
  return out;
}

Json to_json(const forecast::FrameForecast& frame) {
  Json figures = Json::object();
  for (std::size_t q = 0; q < forecast::kQuantities; ++q)
    figures[forecast::name_of(static_cast<forecast::Quantity>(q))] = figure_json(frame.figures[q]);
  return {{"frame", frame.index},
          {"time_s", frame.time_s},
          {"load", frame.load},
          {"cap", frame.cap},
          {"figures", std::move(figures)}};
}

Json to_json(const forecast::OutlookColumns& columns) {
  Json causes = Json::object();
  for (std::size_t c = 0; c < forecast::kCauses; ++c) causes[name_of(c)] = rounded(columns.by_cause[c]);
  causes[forecast::kTone] = rounded(columns.tone);
  return {{"first", columns.first},
          {"last", columns.last},
          {"frames_per_column", columns.frames_per_column},
          {"time_s", columns.time_s},
          {"delta_e_itp", rounded(columns.delta_e)},
          {"by_cause", std::move(causes)}};
}

Json moments_document(const std::string& title, std::size_t frames, std::span<const forecast::Moment> moments,
                      bool by_lead) {
  Json list = by_lead ? moments_json(moments) : Json::array();
  if (!by_lead)
    for (const auto& m : moments) list.push_back(to_json(m));
  return {{"title", title}, {"frames", frames}, {"moments", std::move(list)}};
}

Json title_json(std::span<const forecast::FrameOutlook> frames, std::size_t columns, std::size_t moments) {
  const auto summary = forecast::summary_of(frames);
  Json causes = Json::object(), mean = Json::object(), led = Json::object();
  for (std::size_t c = 0; c < forecast::kCauses; ++c) {
    const auto cause = static_cast<forecast::Cause>(c);
    causes[name_of(c)] = moments_by_cause(frames, cause, moments);
    mean[name_of(c)] = rounded(summary.mean_by_cause[c]);
    led[name_of(c)] = summary.frames_led[c];
  }
  mean[forecast::kTone] = rounded(summary.mean_tone);
  led[forecast::kTone] = summary.frames_led_by_tone;
  return {{"frames", frames.size()},
          {"mean_delta_e_itp", rounded(summary.mean_delta_e)},
          {"share_of_frames_above_1", rounded(summary.share_above[0])},
          {"share_of_frames_above_3", rounded(summary.share_above[1])},
          {"mean_by_cause", std::move(mean)},
          {"frames_led_by", std::move(led)},
          {"course", to_json(forecast::columns_of(frames, 0, frames.size(), columns))},
          {"moments", moments_json(forecast::worst_moments(frames, moments, kApart_s))},
          {"moments_by_cause", std::move(causes)}};
}

}  // namespace provenit::loan
