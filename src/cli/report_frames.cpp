#include "report_frames.h"

#include <algorithm>
#include <filesystem>

#include "forecast_parts.h"
#include "provenit/forecast/drawing.h"
#include "provenit/programme/plain.h"
#include "provenit/report/base64.h"

namespace provenit::cli {
namespace {

constexpr int kWidth = 480;          ///< px of a picture
constexpr std::size_t kMoments = 6;  ///< that get pictures

Result<std::string> data_address(const programme::Drawing& drawing) {
  const auto png = programme::png_of(drawing);
  if (!png) return tl::unexpected(png.error());
  return "data:image/png;base64," + report::base64(*png);
}

Result<nlohmann::ordered_json> pictures_of(const forecast::ForecastDisplay& display, const programme::Picture& picture,
                                           double source_peak_cdm2) {
  const auto made = forecast_frame(display, picture);
  if (!made) return tl::unexpected(made.error());
  const auto intended = programme::light_image(picture);
  if (!intended) return tl::unexpected(intended.error());
  const auto in_sdr = [&](const programme::LightImage& image) {
    return data_address(
        programme::plain_picture(programme::PlainView::sdr, image,
                                 {.most_width = kWidth, .most_height = kWidth, .source_peak_cdm2 = source_peak_cdm2}));
  };
  const auto meant = in_sdr(*intended), shown = in_sdr(forecast::shown_image(*intended, made->light));
  const auto difference = data_address(forecast::difference_drawing(made->light, kWidth, kWidth));
  for (const auto* one : {&meant, &shown, &difference})
    if (!*one) return tl::unexpected(one->error());
  return nlohmann::ordered_json{{"intended", *meant}, {"shown", *shown}, {"difference", *difference}};
}

Result<void> add_to_title(nlohmann::ordered_json& forecast, const forecast::ForecastDisplay& display,
                          const std::string& film) {
  auto& moments = forecast["moments"];
  std::vector<std::int64_t> frames;
  for (const auto& m : moments)
    if (frames.size() < kMoments) frames.push_back(m["frame"].get<std::int64_t>());
  if (frames.empty()) return {};
  const auto chosen = chosen_frames(film, frames, {});
  if (!chosen) return tl::unexpected(chosen.error());
  for (const auto& picture : chosen->pictures) {
    const auto moment = std::ranges::find_if(
        moments, [&](const auto& m) { return m["frame"].template get<std::int64_t>() == picture.index; });
    if (moment == moments.end()) continue;
    auto pictures = pictures_of(display, picture, programme::sdr_source_peak(chosen->info));
    if (!pictures) return tl::unexpected(pictures.error());
    (*moment)["pictures"] = std::move(*pictures);
  }
  forecast["difference_steps"] = forecast::kDifferenceSteps;
  forecast["difference_greys"] = forecast::kDifferenceGreys;
  return {};
}

}  // namespace

Result<void> add_frames(report::Contents& contents, const store::Bench& bench, const store::LoanRecord& loan,
                        const std::vector<std::string>& films) {
  if (films.empty()) return {};
  const auto made = loan::forecast_of(bench, loan);
  if (!made) return tl::unexpected(made.error());
  for (const auto& film : films) {
    const auto name = std::filesystem::path(film).filename().string();
    const auto title = std::ranges::find_if(
        contents.titles, [&](const auto& t) { return t.value("title", "") == name && t.contains("forecast"); });
    if (title == contents.titles.end())
      return fail(ErrorCode::not_found, "the bench has no forecast of a title of this name",
                  "Survey the film into the bench first: provenit survey.", {.file = film, .field = "--film"});
    if (auto added = add_to_title((*title)["forecast"], made->display, film); !added) return added;
  }
  return {};
}

}  // namespace provenit::cli
