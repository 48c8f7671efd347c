// What a loan's display will do to programmes: a surveyed title over time and by cause, single frames in full, and the
// readings that a forecast needs.
#include <fmt/format.h>

#include <array>

#include "parts.h"
#include "provenit/forecast/drawing.h"
#include "provenit/loan/forecast_json.h"
#include "sitting.h"

namespace provenit::server {
namespace {

const std::vector<std::string> kSpotCautions{
    "Bright windows and stars follow in a dark room: look away, or announce them.",
    "Static bright signals can leave traces on a self-emissive panel.",
    "Let the display warm up first.",
    "The meter moves between readings: never lean anything against the panel.",
};

Result<Answer> of_display(const Call& call) {
  const auto open = open_loan(call);
  if (!open) return tl::unexpected(open.error());
  const auto forecast = call.parts.forecasts.display(*open->bench, open->loan);
  const bool none = !forecast && forecast.error().code == ErrorCode::not_found;
  return json_answer(
      {{"cautions", kSpotCautions},
       {"forecast", forecast ? Json(loan::to_json(**forecast)) : Json(nullptr)},
       {"next", none ? Json(forecast.error().advice) : Json(nullptr)},
       {"problem", forecast || none ? Json(nullptr) : problem_json(forecast.error(), call.parts.pool.path())}});
}

Result<Answer> of_title(const Call& call) {
  const auto columns = query_integer(call.request, "columns", 1, 10'000),
             moments = query_integer(call.request, "moments", 1, 100);
  if (!columns) return tl::unexpected(columns.error());
  if (!moments) return tl::unexpected(moments.error());
  const auto open = open_loan(call);
  if (!open) return tl::unexpected(open.error());
  const auto outlook = call.parts.forecasts.outlook(*open->bench, open->loan, call.numbers.at(1));
  if (!outlook) return tl::unexpected(outlook.error());
  return json_answer(loan::title_json(**outlook, static_cast<std::size_t>(columns->value_or(600)),
                                      static_cast<std::size_t>(moments->value_or(10))));
}

struct Forecast {
  std::shared_ptr<const LookedAt> looked;
  forecast::FrameForecast frame;
  forecast::ShownLight light;
};
Result<Forecast> of_frame(const Call& call, bool with_light) {
  const auto open = open_loan(call);
  if (!open) return tl::unexpected(open.error());
  const auto fitted = call.parts.forecasts.display(*open->bench, open->loan);
  if (!fitted) return tl::unexpected(fitted.error());
  auto looked = looked_at(call);
  if (!looked) return tl::unexpected(looked.error());
  const auto& picture = (*looked)->picture;
  const auto forecaster = forecast::FrameForecaster::make((*fitted)->display, picture.format);
  if (!forecaster) return tl::unexpected(forecaster.error());
  Forecast out{.looked = std::move(*looked), .frame = {}, .light = {}};
  auto frame = forecaster->still(picture, with_light ? &out.light : nullptr);
  if (!frame) return tl::unexpected(frame.error());
  out.frame = *frame;
  return out;
}

Result<Answer> frame_figures(const Call& call) {
  const auto made = of_frame(call, false);
  if (!made) return tl::unexpected(made.error());
  auto out = loan::to_json(made->frame);
  out["steps_delta_e_itp"] = forecast::kDifferenceSteps;
  out["greys"] = forecast::kDifferenceGreys;
  return json_answer(out);
}

Result<Answer> frame_view(const Call& call) {
  const auto view = query_text(call.request, "view", 20);
  if (!view) return tl::unexpected(view.error());
  if (*view != "shown" && *view != "difference")
    return fail(ErrorCode::invalid_input, "'" + *view + "' is no view of a forecast", "Give shown or difference.",
                {.field = "view"});
  const auto width = query_integer(call.request, "width", 16, 3840);
  if (!width) return tl::unexpected(width.error());
  const int most = static_cast<int>(width->value_or(960));
  const auto made = of_frame(call, true);
  if (!made) return tl::unexpected(made.error());
  const auto& looked = *made->looked;
  auto png = programme::png_of(
      *view == "difference"
          ? forecast::difference_drawing(made->light, most, most)
          : programme::plain_picture(
                programme::PlainView::sdr, forecast::shown_image(looked.light, made->light),
                {.most_width = most, .most_height = most, .source_peak_cdm2 = looked.source_peak_cdm2}));
  if (!png) return tl::unexpected(png.error());
  return Answer{.type = "image/png", .body = std::move(*png)};
}

Result<Answer> read(const Call& call) {
  const auto body = call.body();
  if (!body) return tl::unexpected(body.error());
  Fields in(*body, {"cautions_read", "screen", "part", "again"});
  const auto begun = begun_of(in);
  const auto part = in.needed_choice("part", {"probes", "checks", "eye"});
  const bool again = in.flag("again").value_or(false);
  if (in.error()) return tl::unexpected(*in.error());
  return begin(call, begun,
               {.procedure = "forecast_spots",
                .title = "Spots for a forecast",
                .cautions = kSpotCautions,
                .run = [part = *loan::spot_part_from_name(part), again](auto& bench, const auto& loan, auto& devices,
                                                                        const auto& hooks) {
                  return loan::read_spots(bench, loan, devices, part, again, hooks);
                }});
}

}  // namespace

std::span<const Route> forecast_routes() {
  static constexpr std::array routes{Route{"GET", "/loans/{loan}/forecast", &of_display, {}},
                                     Route{"GET", "/loans/{loan}/forecast/surveys/{survey}", &of_title, {}},
                                     Route{"GET", "/loans/{loan}/forecast/frame", &frame_figures, {}},
                                     Route{"GET", "/loans/{loan}/forecast/view.png", &frame_view, {}},
                                     Route{"POST", "/loans/{loan}/forecast/read", &read, BodyKind::json}};
  return routes;
}

}  // namespace provenit::server
