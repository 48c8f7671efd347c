// Test pictures: what there are, a look at one, and one on a full-screen page.
#include <fmt/format.h>

#include <algorithm>
#include <array>

#include "parts.h"
#include "picture_query.h"
#include "provenit/programme/plain.h"
#include "provenit/signal/showing.h"

namespace provenit::server {
namespace {

const char* unit_of(signal::DefaultUnit unit) {
  if (unit == signal::DefaultUnit::reference_white) return "reference_white";
  return unit == signal::DefaultUnit::nominal_peak ? "nominal_peak" : "number";
}

Json info_json(const signal::PictureInfo& info) {
  Json parameters = Json::array();
  for (const auto& p : info.parameters)
    parameters.push_back({{"name", p.name},
                          {"default", p.value},
                          {"default_unit", unit_of(p.default_unit)},
                          {"least", p.least},
                          {"most", p.most},
                          {"whole", p.whole},
                          {"meaning", p.meaning}});
  return {{"key", info.key},       {"title", info.title},     {"purpose", info.purpose},
          {"source", info.source}, {"caution", info.caution}, {"parameters", std::move(parameters)}};
}

Result<Answer> pictures(const Call&) {
  Json out = Json::array();
  for (const auto& info : signal::test_pictures()) out.push_back(info_json(info));
  return json_answer({{"pictures", std::move(out)}});
}

Result<Answer> cautions(const Call& call) {
  const auto request = picture_request(call.request, {});
  if (!request) return tl::unexpected(request.error());
  const auto picture = signal::TestPicture::make(*request);
  if (!picture) return tl::unexpected(picture.error());
  const auto found = signal::cautions_of(signal::showing_of(*picture));
  if (!found) return tl::unexpected(found.error());
  auto texts = found->texts();
  if (!picture->info().caution.empty()) texts.push_back(picture->info().caution);
  return json_answer({{"cautions", texts},
                      {"needs_confirmation", found->needs_confirmation()},
                      {"frames", picture->frames()},
                      {"values", picture->request().parameters}});
}

// A look
// ----------------------------------------------------------------------------------------------------------------

programme::Transfer transfer_of(signal::Transfer transfer) {
  if (transfer == signal::Transfer::pq) return programme::Transfer::pq;
  return transfer == signal::Transfer::hlg ? programme::Transfer::hlg : programme::Transfer::bt1886;
}
programme::Gamut gamut_of(signal::Container container) {
  if (container == signal::Container::bt709) return programme::Gamut::bt709;
  return container == signal::Container::p3_d65 ? programme::Gamut::p3_d65 : programme::Gamut::bt2020;
}

/// The frame as a film's picture would be decoded: what is known of looking at those serves here, too.
Result<programme::LightImage> light_of(const signal::TestPicture& picture, int frame) {
  const auto& [key, parameters, encoding, size] = picture.request();
  const auto pixels = static_cast<std::size_t>(size.width) * static_cast<std::size_t>(size.height);
  std::array<std::vector<std::uint16_t>, 3> planes;
  for (auto& plane : planes) plane.reserve(pixels);
  for (int y = 0; y < size.height; ++y) {
    const auto row = picture.row(frame, y);
    for (std::size_t i = 0; i < row.size(); ++i) planes[i % 3].push_back(row[i]);
  }
  programme::Picture out;
  out.format = {.width = size.width,
                .height = size.height,
                .bits = encoding.bits,
                .chroma = programme::Chroma::rgb,
                .range = encoding.range,
                .transfer = transfer_of(encoding.transfer),
                .gamut = gamut_of(encoding.container),
                .matrix = programme::Matrix::rgb,
                .peak_cdm2 = encoding.nominal_peak_cdm2};
  // One byte for 8 bits, two for more, as decoders give them.
  std::array<std::vector<std::byte>, 3> bytes;
  for (std::size_t c = 0; c < 3; ++c) {
    const bool narrow = encoding.bits == 8;
    if (narrow)
      for (const auto code : planes[c]) bytes[c].push_back(static_cast<std::byte>(code));
    out.planes[c] = {.data = narrow ? bytes[c].data() : reinterpret_cast<const std::byte*>(planes[c].data()),
                     .stride = std::ptrdiff_t{size.width} * (narrow ? 1 : 2),
                     .width = size.width,
                     .height = size.height};
  }
  return programme::light_image(out);
}

Result<Answer> preview(const Call& call) {
  const auto width = query_integer(call.request, "width", 160, 1920);
  if (!width) return tl::unexpected(width.error());
  const auto frame = query_integer(call.request, "frame", 0, 1'000'000);
  if (!frame) return tl::unexpected(frame.error());
  const int w = static_cast<int>(width->value_or(960));
  const auto request = picture_request(call.request, {.width = w, .height = w * 9 / 16});
  if (!request) return tl::unexpected(request.error());
  const auto picture = signal::TestPicture::make(*request);
  if (!picture) return tl::unexpected(picture.error());
  const int at = static_cast<int>(frame->value_or(0));
  if (at >= picture->frames())
    return fail(ErrorCode::out_of_range, fmt::format("there is no frame {}", at),
                fmt::format("Give 0 to {}.", picture->frames() - 1), {.field = "frame"});
  const auto light = light_of(*picture, at);
  if (!light) return tl::unexpected(light.error());
  const auto peak = std::clamp(request->encoding.nominal_peak_cdm2, programme::kSdrPeak_cdm2, 10'000.0);
  auto png = programme::png_of(programme::plain_picture(programme::PlainView::sdr, *light,
                                                        {.most_width = w, .most_height = w, .source_peak_cdm2 = peak}));
  if (!png) return tl::unexpected(png.error());
  return Answer{.type = "image/png", .body = std::move(*png)};
}

// The page
// ---------------------------------------------------------------------------------------------------------------

Result<Answer> showing(const Call& call) {
  return json_answer(call.parts.show_job.state());
}

Result<Answer> change_showing(const Call& call) {
  const auto body = call.body();
  if (!body) return tl::unexpected(body.error());
  Fields in(*body, {"action", "key", "values", "peak_cdm2", "frame", "cautions_read", "confirm_flashing"});
  const auto action = in.needed_choice("action", {"start", "next", "previous", "stop"});
  auto& job = call.parts.show_job;
  if (action != "start") {
    if (in.error()) return tl::unexpected(*in.error());
    const auto wish = action == "next"       ? show::Wish::next
                      : action == "previous" ? show::Wish::previous
                                             : show::Wish::leave;
    if (auto asked = job.ask(wish); !asked) return tl::unexpected(asked.error());
    return json_answer(job.state(), 202);
  }
  auto named = as_query(in);
  // What a page can show exactly: docs/on-screen.md.
  named.query["transfer"] = "bt1886";
  named.query["container"] = "bt709";
  named.query["range"] = "full";
  named.query["bits"] = "8";
  if (!named.query.contains("peak_cdm2")) named.query["peak_cdm2"] = "100";
  if (!in.flag("cautions_read").value_or(false))
    in.refuse("cautions_read", "nobody has said that the cautions were read",
              "Show them to whoever is in the room, then send true.");
  const bool confirmed = in.flag("confirm_flashing").value_or(false);
  const int first = static_cast<int>(in.integer("frame", 0, 1'000'000).value_or(0));
  if (in.error()) return tl::unexpected(*in.error());
  auto request = picture_request(named, {});
  if (!request) return tl::unexpected(request.error());
  if (auto begun = job.start(*request, first, confirmed); !begun) return tl::unexpected(begun.error());
  return json_answer(job.state(), 202);
}

}  // namespace

std::span<const Route> signal_routes() {
  static constexpr std::array routes{
      Route{"GET", "/test-pictures", &pictures, {}}, Route{"GET", "/test-pictures/preview.png", &preview, {}},
      Route{"GET", "/test-pictures/cautions", &cautions, {}}, Route{"GET", "/showing", &showing, {}},
      Route{"POST", "/showing", &change_showing, BodyKind::json}};
  return routes;
}

}  // namespace provenit::server
