// One frame of a film or a still of the folder of programmes: as a picture, as scopes, and pixel by pixel.
#include <fmt/format.h>

#include <array>

#include "parts.h"
#include "provenit/programme/probe.h"
#include "provenit/programme/survey_file.h"
#include "provenit/programme/title.h"

namespace provenit::server {
Result<std::shared_ptr<const LookedAt>> looked_at(const Call& call) {
  const auto& request = call.request;
  const auto file = query_text(request, "file", 1000);
  if (!file) return tl::unexpected(file.error());
  const auto path = call.parts.programmes.path_of(*file);
  if (!path) return tl::unexpected(path.error());
  const auto frame = query_integer(request, "frame", 0, kMostFrames);
  if (!frame) return tl::unexpected(frame.error());
  const auto time = query_number(request, "time_s", -1, 1e7);
  if (!time) return tl::unexpected(time.error());
  programme::InterpretationNames names;
  for (auto [key, field] :
       {std::pair("transfer", &names.transfer), std::pair("primaries", &names.primaries),
        std::pair("matrix", &names.matrix), std::pair("range", &names.range), std::pair("siting", &names.siting)}) {
    const auto text = query_text(request, key, 40);
    if (!text) return tl::unexpected(text.error());
    *field = *text;
  }
  const auto peak = query_number(request, "peak_cdm2", 0, 100'000);
  if (!peak) return tl::unexpected(peak.error());
  names.peak_cdm2 = peak->value_or(0);
  const auto meant = programme::interpretation_of(names);
  if (!meant) return tl::unexpected(meant.error());
  programme::FrameChoice choice{.frame = *frame, .time_s = time->value_or(0)};
  if (!choice.frame && !*time) choice.frame = 0;
  return call.parts.pictures.look(*path, choice, {.interpretation = *meant});
}

namespace {

Answer png_answer(std::string bytes) {
  return {.type = "image/png", .body = std::move(bytes)};
}

Result<Answer> picture(const Call& call) {
  const auto looked = looked_at(call);
  if (!looked) return tl::unexpected(looked.error());
  const LookedAt& l = **looked;
  const auto shares = programme::false_colour_shares(l.light);
  const auto gamut = programme::gamut_shares(l.light);
  return json_answer({{"frame", l.record.figures.index},
                      {"frames", l.frames},
                      {"time_s", l.record.figures.time_s},
                      {"width", l.light.width},
                      {"height", l.light.height},
                      {"format", programme::describe(l.picture.format)},
                      {"transfer", programme::name_of(l.picture.format.transfer)},
                      {"matrix", programme::name_of(l.picture.format.matrix)},
                      {"codec", l.info.codec},
                      {"damaged", l.picture.damaged},
                      {"notes", l.info.notes},
                      {"troubles", l.troubles},
                      {"fingerprint", l.fingerprint},
                      {"source_peak_cdm2", l.source_peak_cdm2},
                      {"figures", programme::to_json(l.record.figures)},
                      {"false_colour", {{"steps_cdm2", programme::kFalseColourSteps}, {"shares", shares}}},
                      {"gamut", {{"beyond_bt709", gamut.beyond_bt709}, {"beyond_p3", gamut.beyond_p3}}}});
}

struct ExcursionQuery {
  programme::ExcursionLimits limits;
  std::string name;  ///< for what is kept
};
Result<ExcursionQuery> excursion_of(const Request& request) {
  const auto above = query_number(request, "above_cdm2", 0, 10'000),
             below = query_number(request, "below_cdm2", 0, 10'000);
  if (!above) return tl::unexpected(above.error());
  if (!below) return tl::unexpected(below.error());
  const auto beyond = query_text(request, "beyond", 20);
  if (!beyond) return tl::unexpected(beyond.error());
  ExcursionQuery out{.limits = {.above_cdm2 = *above, .below_cdm2 = *below}};
  if (*beyond == "bt709")
    out.limits.beyond = programme::GamutNeed::beyond_bt709;
  else if (*beyond == "p3_d65")
    out.limits.beyond = programme::GamutNeed::beyond_p3;
  else if (!beyond->empty() && *beyond != "none")
    return fail(ErrorCode::invalid_input, "'" + *beyond + "' is not known", "Give none, bt709 or p3_d65.",
                {.field = "beyond"});
  out.name = fmt::format("{} {} {}", above->value_or(-1), below->value_or(-1), *beyond);
  return out;
}

Result<Answer> view(const Call& call) {
  const auto name = query_text(call.request, "view", 40);
  if (!name) return tl::unexpected(name.error());
  const auto view = programme::plain_view_from_name(*name);
  if (!view)
    return fail(ErrorCode::invalid_input, "'" + *name + "' is no view of a picture",
                "Give sdr, sdr_eetf, false_colour, gamut or excursion.", {.field = "view"});
  const auto width = query_integer(call.request, "width", 16, 3840);
  if (!width) return tl::unexpected(width.error());
  const auto excursion = excursion_of(call.request);
  if (!excursion) return tl::unexpected(excursion.error());
  const auto looked = looked_at(call);
  if (!looked) return tl::unexpected(looked.error());
  const LookedAt& l = **looked;
  const int most = static_cast<int>(width->value_or(1280));
  auto png = l.png(fmt::format("view {} {} {}", *name, most, excursion->name), [&] {
    return programme::plain_picture(*view, l.light,
                                    {.most_width = most,
                                     .most_height = most,
                                     .source_peak_cdm2 = l.source_peak_cdm2,
                                     .excursion = excursion->limits});
  });
  if (!png) return tl::unexpected(png.error());
  return png_answer(std::move(*png));
}

Result<Answer> excursions(const Call& call) {
  const auto excursion = excursion_of(call.request);
  if (!excursion) return tl::unexpected(excursion.error());
  const auto looked = looked_at(call);
  if (!looked) return tl::unexpected(looked.error());
  const auto shares = programme::excursion_shares((*looked)->light, excursion->limits);
  return json_answer({{"above", shares.above}, {"below", shares.below}, {"beyond", shares.beyond}});
}

struct Scope {
  const char* name;
  programme::Counts (*counts)(const programme::LightImage&);
  bool over_width;
};
constexpr std::array scopes{
    Scope{"waveform", [](const programme::LightImage& i) { return programme::luminance_waveform(i); }, true},
    Scope{"red", [](const programme::LightImage& i) { return programme::signal_parade(i)[0]; }, true},
    Scope{"green", [](const programme::LightImage& i) { return programme::signal_parade(i)[1]; }, true},
    Scope{"blue", [](const programme::LightImage& i) { return programme::signal_parade(i)[2]; }, true},
    Scope{"vectorscope", [](const programme::LightImage& i) { return programme::chroma_counts(i); }, false},
    Scope{"chromaticity", [](const programme::LightImage& i) { return programme::chromaticity_counts(i); }, false}};

Result<Answer> scope(const Call& call) {
  const auto name = query_text(call.request, "scope", 40);
  if (!name) return tl::unexpected(name.error());
  const auto found = std::ranges::find(scopes, std::string_view(*name), &Scope::name);
  if (found == scopes.end())
    return fail(ErrorCode::invalid_input, "'" + *name + "' is no scope",
                "Give waveform, red, green, blue, vectorscope or chromaticity.", {.field = "scope"});
  const auto looked = looked_at(call);
  if (!looked) return tl::unexpected(looked.error());
  const LookedAt& l = **looked;
  auto png = l.png("scope " + *name, [&] {
    return programme::plain_counts(found->counts(l.light), found->over_width ? l.light.width : 0);
  });
  if (!png) return tl::unexpected(png.error());
  return png_answer(std::move(*png));
}

Result<Answer> histogram(const Call& call) {
  const auto looked = looked_at(call);
  if (!looked) return tl::unexpected(looked.error());
  const auto h = programme::level_histogram((*looked)->light);
  return json_answer({{"luminance", h.luminance}, {"max_rgb", h.max_rgb}, {"pixels", (*looked)->light.light.size()}});
}

Result<Answer> pixel(const Call& call) {
  const auto x = query_integer(call.request, "x", 0, 1 << 20), y = query_integer(call.request, "y", 0, 1 << 20);
  if (!x) return tl::unexpected(x.error());
  if (!y) return tl::unexpected(y.error());
  const auto looked = looked_at(call);
  if (!looked) return tl::unexpected(looked.error());
  const auto reading =
      programme::probe((*looked)->picture, static_cast<int>(x->value_or(0)), static_cast<int>(y->value_or(0)));
  if (!reading) return tl::unexpected(reading.error());
  return json_answer(programme::to_json(*reading));
}

Result<Answer> scale(const Call&) {
  constexpr int kHeight = 512;
  auto png = programme::png_of(programme::false_colour_bar(kHeight));
  if (!png) return tl::unexpected(png.error());
  return png_answer(std::move(*png));
}

}  // namespace

std::span<const Route> picture_routes() {
  static constexpr std::array routes{Route{"GET", "/pictures", &picture, {}},
                                     Route{"GET", "/pictures/view.png", &view, {}},
                                     Route{"GET", "/pictures/scope.png", &scope, {}},
                                     Route{"GET", "/pictures/excursions", &excursions, {}},
                                     Route{"GET", "/pictures/histogram", &histogram, {}},
                                     Route{"GET", "/pictures/pixel", &pixel, {}},
                                     Route{"GET", "/pictures/false-colour.png", &scale, {}}};
  return routes;
}

}  // namespace provenit::server
