// Charts as they stand in a page, and as files of their own.
#include <cairo.h>
#include <fmt/format.h>
#include <librsvg/rsvg.h>

#include <cmath>
#include <memory>

#include "chart.h"
#include "words.h"

namespace provenit::publish {
namespace {

constexpr std::string_view kFonts = "'DejaVu Sans', Verdana, sans-serif";

struct PlateForm {
  double width = 0, height = 0;  ///< height 0: as the chart needs
  double text = 0, title = 0, margin = 0;
  const Palette* palette = nullptr;
};

PlateForm form_of(Plate plate) {
  if (plate == Plate::video) return {1920, 1080, 26, 46, 90, &dark_palette()};
  return {1200, 0, 19, 30, 40, &light_palette()};
}

/// Broken at blanks where it would be wider than `width`.
std::vector<std::string> lines_of(const std::string& text, double width, double size) {
  const Drawing measure(0, 0, size);
  std::vector<std::string> out{""};
  std::size_t from = 0;
  while (from < text.size()) {
    auto to = text.find(' ', from);
    if (to == std::string::npos) to = text.size();
    const auto word = text.substr(from, to - from);
    if (!out.back().empty() && measure.width_of(out.back() + ' ' + word) > width) out.emplace_back();
    out.back() += (out.back().empty() ? "" : " ") + word;
    from = to + 1;
  }
  return out;
}

struct Unref {
  void operator()(RsvgHandle* handle) const { g_object_unref(handle); }
  void operator()(cairo_surface_t* surface) const { cairo_surface_destroy(surface); }
  void operator()(cairo_t* cairo) const { cairo_destroy(cairo); }
};

tl::unexpected<Error> no_png(const std::string& why) {
  return fail(ErrorCode::io, "a chart could not be drawn as PNG: " + why,
              "Publish without them: provenit publish --no-png.");
}

cairo_status_t append_bytes(void* to, const unsigned char* bytes, unsigned length) {
  static_cast<std::string*>(to)->append(reinterpret_cast<const char*>(bytes), length);
  return CAIRO_STATUS_SUCCESS;
}

}  // namespace

std::string inline_svg(const Chart& chart, bool narrow) {
  constexpr double kWide = 980, kNarrow = 340, kText = 13;
  const double width = narrow ? kNarrow : kWide;
  Drawing d(width, std::round(width * (narrow ? chart.narrow_rise : chart.rise)), kText);
  chart.draw(d);
  return fmt::format(R"(<svg class="{}" viewBox="0 0 {} {}" data-spots="{}" aria-hidden="true">{}</svg>)",
                     narrow ? "narrow" : "wide", coordinate(d.width()), coordinate(d.height()), d.spots(),
                     d.elements());
}

std::string plate_svg(const Chart& chart, Plate plate, const std::string& credit) {
  const auto form = form_of(plate);
  const double inner = form.width - 2 * form.margin, line = 1.45 * form.text;
  const auto titles = lines_of(chart.title, inner, 1.12 * form.title);
  const auto notes = lines_of(chart.caption, inner, form.text);
  const auto credits = lines_of(credit, inner, 0.85 * form.text);
  const double top = form.margin + 1.3 * form.title * static_cast<double>(titles.size()) + 0.4 * line;
  const double foot = line * static_cast<double>(notes.size() + credits.size()) + form.margin;
  const double height = form.height > 0 ? form.height : std::round(top + inner * chart.rise + 0.6 * line + foot);
  Drawing d(inner, height - top - foot - 0.6 * line, form.text);
  chart.draw(d);

  const auto& p = *form.palette;
  auto out = fmt::format(
      "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n"
      R"(<svg xmlns="http://www.w3.org/2000/svg" width="{0}" height="{1}" viewBox="0 0 {0} {1}" role="img" font-family="{2}">)"
      "<title>{3}</title><desc>{4}</desc><style>{5}</style>"
      R"(<rect width="{0}" height="{1}" fill="{6}"/>)",
      coordinate(form.width), coordinate(height), kFonts, escaped(chart.title), escaped(chart.caption + " " + credit),
      drawing_css(p, ""), p.ground);
  const auto text = [&](double y, double size, std::string_view colour, std::string_view weight,
                        const std::string& what) {
    out += fmt::format(R"(<text x="{}" y="{}" font-size="{}" fill="{}" font-weight="{}">{}</text>)",
                       coordinate(form.margin), coordinate(y), coordinate(size), colour, weight, escaped(what));
  };
  double y = form.margin;
  for (const auto& t : titles) text(y += form.title, form.title, p.ink, "600", t), y += 0.3 * form.title;
  out +=
      fmt::format("<g transform=\"translate({} {})\">{}</g>", coordinate(form.margin), coordinate(top), d.elements());
  y = height - foot + 0.5 * line;
  for (const auto& n : notes) text(y += line, form.text, p.ink2, "400", n);
  for (const auto& c : credits) text(y += line, 0.85 * form.text, p.ink3, "400", c);
  return out + "</svg>\n";
}

Result<std::string> png_of(const std::string& svg) {
  GError* failed = nullptr;
  const std::unique_ptr<RsvgHandle, Unref> handle(
      rsvg_handle_new_from_data(reinterpret_cast<const guint8*>(svg.data()), svg.size(), &failed));
  const auto reason = [&] {
    const std::string why = failed != nullptr ? failed->message : "unknown";
    g_clear_error(&failed);
    return no_png(why);
  };
  if (!handle) return reason();
  double width = 0, height = 0;
  if (rsvg_handle_get_intrinsic_size_in_pixels(handle.get(), &width, &height) == FALSE)
    return no_png("it does not say how large it is");
  const std::unique_ptr<cairo_surface_t, Unref> surface(cairo_image_surface_create(
      CAIRO_FORMAT_RGB24, static_cast<int>(std::ceil(width)), static_cast<int>(std::ceil(height))));
  const std::unique_ptr<cairo_t, Unref> cairo(cairo_create(surface.get()));
  const RsvgRectangle all{0, 0, width, height};
  if (rsvg_handle_render_document(handle.get(), cairo.get(), &all, &failed) == FALSE) return reason();
  std::string out;
  if (const auto status = cairo_surface_write_to_png_stream(surface.get(), append_bytes, &out);
      status != CAIRO_STATUS_SUCCESS)
    return no_png(cairo_status_to_string(status));
  return out;
}

}  // namespace provenit::publish
