// Vectorscope and chromaticity.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "page.h"
#include "provenit/colour/colour_bars.h"
#include "provenit/colour/observer.h"
#include "provenit/colour/primaries.h"
#include "provenit/colour/spaces.h"
#include "provenit/colour/ycbcr.h"

namespace provenit::programme::drawing {
namespace {

constexpr int kAxis = 64;

Point in(const Rect& plot, const Counts& c, double x, double y) {
  return {plot.x + (x - c.x_first) / (c.x_last - c.x_first) * plot.width,
          plot.bottom() - (y - c.y_first) / (c.y_last - c.y_first) * plot.height};
}

void axes(Canvas& canvas, const Rect& plot, const Counts& c, double step) {
  canvas.fill(plot, kPlotGround);
  for (int i = static_cast<int>(std::ceil(c.x_first / step)); i * step <= c.x_last; ++i) {
    const Point p = in(plot, c, i * step, i * step);
    const double strength = i == 0 && c.x_first < 0 ? 1 : 0.6;
    canvas.fill({static_cast<int>(std::lround(p.x)), plot.y, 1, plot.height}, kGrid, strength);
    canvas.fill({plot.x, static_cast<int>(std::lround(p.y)), plot.width, 1}, kGrid, strength);
    canvas.text(p.x, plot.bottom() + 20, kLabelSize, kText, fmt::format("{:g}", i * step), Align::centre);
    if (i > 0 || c.x_first < 0)
      canvas.text(plot.x - 10, p.y, kLabelSize, kText, fmt::format("{:g}", i * step), Align::right);
  }
  canvas.frame(plot, kGrid);
}

colour::YcbcrMatrix matrix_of(const Counts& c) {
  return c.x_name.find("2020") != std::string::npos  ? colour::YcbcrMatrix::bt2020_ncl
         : c.x_name.find("601") != std::string::npos ? colour::YcbcrMatrix::bt601
                                                     : colour::YcbcrMatrix::bt709;
}

struct Reference {
  const char* name;
  colour::SignalYcbcr<> at;
};
/// Colour bars: those of BT.2111 for PQ and HLG, the picture's own primaries at 75 % for the rest.
std::vector<Reference> references(const LightImage& image, colour::YcbcrMatrix matrix) {
  using colour::Bar;
  constexpr std::array<std::pair<const char*, Bar>, 6> bars{{{"R", Bar::red},
                                                             {"Yl", Bar::yellow},
                                                             {"G", Bar::green},
                                                             {"Cy", Bar::cyan},
                                                             {"B", Bar::blue},
                                                             {"Mg", Bar::magenta}}};
  std::vector<Reference> list;
  for (const auto& [name, bar] : bars) {
    const auto f = image.format.transfer;
    colour::SignalRgb<> s;
    if (f == Transfer::hlg) {
      s = colour::bt709_bar_signal(bar, colour::BarSystem::hlg_scene, 0.75);
    } else if (f == Transfer::bt1886 || f == Transfer::srgb) {
      const auto on = [&](Bar a, Bar b, Bar c) { return bar == a || bar == b || bar == c ? 0.75 : 0.0; };
      s = {.r = on(Bar::red, Bar::yellow, Bar::magenta),
           .g = on(Bar::green, Bar::yellow, Bar::cyan),
           .b = on(Bar::blue, Bar::cyan, Bar::magenta)};
    } else {
      s = colour::bt709_bar_signal(bar, colour::BarSystem::pq_display, 0.58);
    }
    list.push_back({name, colour::ycbcr_from_rgb(s, matrix)});
  }
  return list;
}

void outline(Canvas& canvas, const Rect& plot, const Counts& c, const colour::Primaries<>& p, const Ink& colour,
             Dash dash) {
  const std::array corners{p.red, p.green, p.blue, p.red};
  for (std::size_t i = 0; i < 3; ++i) {
    const auto a = colour::uv_prime_from_xy(corners[i]), b = colour::uv_prime_from_xy(corners[i + 1]);
    canvas.line(in(plot, c, a.u, a.v), in(plot, c, b.u, b.v), colour, 1.8, dash);
  }
}

/// The border of all chromaticities.
void locus(Canvas& canvas, const Rect& plot, const Counts& c) {
  const auto at = [&](double nm) {
    const auto m = colour::matching_functions(colour::Observer::cie1931_2deg, {.nm = nm});
    const auto uv = colour::uv_prime_from_xyz(colour::AbsoluteXyz<>{.X = m.x, .Y = m.y, .Z = m.z});
    return in(plot, c, uv.u, uv.v);
  };
  for (double nm = 410; nm < 690; nm += 2) canvas.line(at(nm), at(nm + 2), kFaint, 1);
  canvas.line(at(410), at(690), kFaint, 1, Dash::dotted);
}

enum class Sign { solid, dashed, dotted, plus, cross };
struct Key {
  Ink colour;
  Sign sign;
  std::string name, value;
};
void legend(Canvas& canvas, double x, double y, std::span<const Key> keys) {
  for (const auto& key : keys) {
    const double middle = x + 23;
    if (key.sign == Sign::plus) {
      canvas.line({middle - 9, y}, {middle + 9, y}, key.colour, 1.6);
      canvas.line({middle, y - 9}, {middle, y + 9}, key.colour, 1.6);
    } else if (key.sign == Sign::cross) {
      canvas.line({middle - 8, y - 8}, {middle + 8, y + 8}, key.colour, 1.4);
      canvas.line({middle - 8, y + 8}, {middle + 8, y - 8}, key.colour, 1.4);
    } else {
      const Dash dash = key.sign == Sign::solid ? Dash::solid : key.sign == Sign::dashed ? Dash::dashed : Dash::dotted;
      canvas.line({x, y}, {x + 46, y}, key.colour, 2.2, dash);
    }
    canvas.text(x + 60, y, kLabelSize, kText, key.name);
    if (!key.value.empty()) canvas.text(x + 60, y + 26, kLabelSize, kFaint, key.value);
    y += key.value.empty() ? 34 : 64;
  }
}

/// The counts on the usual axes, or on axes of half the range if every pixel and the bars lie there (most PQ pictures).
struct FittingCounts {
  Counts counts;
  bool magnified = false;
};
FittingCounts fitting_counts(const LightImage& image) {
  Counts half = chroma_counts(image, kChromaRange / 2);
  const auto inside = [](const Reference& r) {
    return std::abs(r.at.cb) < 0.45 * kChromaRange && std::abs(r.at.cr) < 0.45 * kChromaRange;
  };
  if (half.left_out == 0 && std::ranges::all_of(references(image, matrix_of(half)), inside))
    return {std::move(half), true};
  return {chroma_counts(image), false};
}

}  // namespace

Drawing vectorscope_page(const LightImage& image, const PictureLabel& label) {
  const auto [c, magnified] = fitting_counts(image);
  const Rect plot{kMargin + kAxis, kHead + 34, c.columns, c.rows};
  constexpr std::size_t kLines = 2;
  Canvas canvas = page(plot.right() + 330, plot.bottom() + 44 + notes_height(kLines), "Vectorscope", image, label);
  axes(canvas, plot, c, magnified ? 0.05 : 0.1);
  draw_counts(canvas, plot, c, kWhite);
  canvas.clip(plot);
  const auto matrix = matrix_of(c);
  // The border of all R'G'B' in [0, 1]: the hexagon of the six full colours.
  constexpr std::array<colour::SignalRgb<>, 7> full{
      {{1, 0, 0}, {1, 1, 0}, {0, 1, 0}, {0, 1, 1}, {0, 0, 1}, {1, 0, 1}, {1, 0, 0}}};
  for (std::size_t i = 0; i + 1 < full.size(); ++i) {
    const auto a = colour::ycbcr_from_rgb(full[i], matrix), b = colour::ycbcr_from_rgb(full[i + 1], matrix);
    canvas.line(in(plot, c, a.cb, a.cr), in(plot, c, b.cb, b.cr), kFaint, 1.2, Dash::dashed);
  }
  for (const auto& [name, at] : references(image, matrix)) {
    const Point p = in(plot, c, at.cb, at.cr);
    canvas.line({p.x - 9, p.y}, {p.x + 9, p.y}, kWarm, 1.6);
    canvas.line({p.x, p.y - 9}, {p.x, p.y + 9}, kWarm, 1.6);
    canvas.text(p.x + 14, p.y - 14, kLabelSize, kWarm, name);
  }
  canvas.clip_nothing();
  canvas.text(plot.right() + 16, plot.bottom() + 20, kLabelSize, kFaint, "Cb");
  canvas.text(plot.x - 10, plot.y - 16, kLabelSize, kFaint, "Cr", Align::right);
  const bool sdr = image.format.transfer == Transfer::bt1886 || image.format.transfer == Transfer::srgb;
  const bool hlg = image.format.transfer == Transfer::hlg;
  const std::array<Key, 2> keys{{{kFaint, Sign::dashed, "all R′G′B′ of 0 to 100 %", ""},
                                 {kWarm, Sign::plus,
                                  sdr   ? "bars at 75 %"
                                  : hlg ? "BT.2111 bars, 75 % HLG"
                                        : "BT.2111 bars, 58 % PQ",
                                  ""}}};
  // Magnified, the border lies outside the plot.
  legend(canvas, plot.right() + 24, plot.y + 16, std::span(keys).subspan(magnified ? 1 : 0));
  const std::array<std::string, kLines> lines{
      fmt::format("Colour differences of every pixel, {}, chroma interpolated.{}", c.x_name.substr(4),
                  magnified ? " Axes of half the usual range." : ""),
      image.format.transfer == Transfer::linear ? "The linear light is coded to PQ first."
                                                : "Brightness by the logarithm of the count."};
  notes(canvas, lines);
  return canvas.take();
}

Drawing chromaticity_page(const LightImage& image, const PictureLabel& label) {
  const Counts c = chromaticity_counts(image);
  const Rect plot{kMargin + kAxis, kHead + 34, c.columns, c.rows};
  constexpr std::size_t kLines = 2;
  Canvas canvas =
      page(plot.right() + 330, plot.bottom() + 44 + notes_height(kLines), "Chromaticity u′v′", image, label);
  axes(canvas, plot, c, 0.1);
  draw_counts(canvas, plot, c, kWhite);
  locus(canvas, plot, c);
  outline(canvas, plot, c, colour::bt2020_primaries, kFaint, Dash::solid);
  outline(canvas, plot, c, colour::p3_d65_primaries, kCold, Dash::dashed);
  outline(canvas, plot, c, colour::bt709_primaries, kWarm, Dash::solid);
  const auto white = colour::uv_prime_from_xy(colour::d65_video);
  const Point w = in(plot, c, white.u, white.v);
  canvas.line({w.x - 8, w.y - 8}, {w.x + 8, w.y + 8}, kWarm, 1.4);
  canvas.line({w.x - 8, w.y + 8}, {w.x + 8, w.y - 8}, kWarm, 1.4);
  canvas.text(plot.right() + 16, plot.bottom() + 20, kLabelSize, kFaint, "u′");
  canvas.text(plot.x - 10, plot.y - 16, kLabelSize, kFaint, "v′", Align::right);
  const GamutShares shares = gamut_shares(image);
  const std::array<Key, 4> keys{{{kWarm, Sign::solid, "BT.709", share_text(shares.beyond_bt709) + " of pixels outside"},
                                 {kCold, Sign::dashed, "P3-D65", share_text(shares.beyond_p3) + " of pixels outside"},
                                 {kFaint, Sign::solid, "BT.2020, spectral locus", ""},
                                 {kWarm, Sign::cross, "D65", ""}}};
  legend(canvas, plot.right() + 24, plot.y + 16, keys);
  const double left_out =
      static_cast<double>(c.left_out) / std::max<double>(1, static_cast<double>(image.light.size()));
  const std::array<std::string, kLines> lines{
      "Chromaticity (CIE 1976) of every pixel; brightness by the logarithm of the count.",
      fmt::format("Left out: {} of the pixels, darker than {} cd/m².", share_text(left_out),
                  number_text(kDarkestWithColour_cdm2))};
  notes(canvas, lines);
  return canvas.take();
}

}  // namespace provenit::programme::drawing
