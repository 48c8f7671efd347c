// Views that show the picture itself: false colour, gamut, SDR.
#include <fmt/format.h>

#include <algorithm>

#include "painted.h"
#include "provenit/colour/primaries.h"
#include "provenit/colour/transfer_pq.h"

namespace provenit::programme::drawing {
namespace {

constexpr int kWidest = 1280, kHighest = 760, kNarrowest = 900;

/// Where the picture lies on a page with `side` pixels of legend beside it.
struct Layout {
  Rect picture;
  int width = 0, height = 0;
};
Layout layout(const Fit& f, int side, std::size_t lines, int least_height = 0) {
  Layout l{.picture = {kMargin, kHead + 8, f.width * f.magnify, f.height * f.magnify}};
  l.width = std::max(kNarrowest, l.picture.right() + kMargin + side);
  l.height = std::max(l.picture.bottom(), kHead + 8 + least_height) + 12 + notes_height(lines);
  return l;
}

/// The steps from light to dark, each with its luminance below and its share of the pixels beside.
void false_colour_legend(Canvas& canvas, const Rect& bar, const FalseColour& scale, const LightImage& image) {
  const auto shares = false_colour_shares(image);
  const std::size_t parts = shares.size();
  const double each = static_cast<double>(bar.height) / static_cast<double>(parts);
  for (std::size_t p = 0; p < parts; ++p) {
    const double low = p == 0 ? 0 : pq_signal(kFalseColourSteps[p - 1]);
    const double high = p + 1 == parts ? 1 : pq_signal(kFalseColourSteps[p]);
    const int bottom = bar.bottom() - static_cast<int>(each * static_cast<double>(p)),
              top = bar.bottom() - static_cast<int>(each * static_cast<double>(p + 1));
    for (int y = top; y < bottom; ++y) {
      const double signal = low + (high - low) * (bottom - y - 0.5) / (bottom - top);
      canvas.fill({bar.x, y, bar.width, 1}, scale.of(colour::pq_eotf(colour::Signal<>{.value = signal}).cdm2));
    }
    if (p > 0) canvas.text(bar.right() + 12, bottom, kLabelSize, kText, number_text(kFalseColourSteps[p - 1]));
    canvas.text(bar.right() + 96, (top + bottom) / 2.0, kLabelSize, shares[p] > 0 ? kFaint : kGrid,
                share_text(shares[p]));
  }
  canvas.text(bar.right() + 12, bar.y, kLabelSize, kText, "10000");
  canvas.text(bar.right() + 12, bar.bottom(), kLabelSize, kText, "0");
  canvas.text(bar.right() + 12, bar.y - 28, kLabelSize, kFaint, "cd/m²");
  canvas.text(bar.right() + 96, bar.y - 28, kLabelSize, kFaint, "pixels");
  canvas.frame(bar, kGrid);
}

void swatch(Canvas& canvas, const Rect& r, GamutNeed need) {
  canvas.fill(r, ink(0x585858));
  for (int y = r.y; y < r.bottom(); ++y)
    for (int x = r.x; x < r.right(); ++x) {
      if (need == GamutNeed::beyond_bt709 && striped(x, y)) canvas.blend(x, y, kWarm, 1);
      if (need == GamutNeed::beyond_p3) canvas.blend(x, y, dotted(x, y) ? kWhite : ink(0x2b5fb8), 1);
    }
  canvas.frame(r, kGrid);
}

}  // namespace

GamutNeed worst(const LightImage& image, const Fit& f, int x, int y) {
  GamutNeed need = GamutNeed::inside_bt709;
  for (int v = y * f.reduce; v < std::min((y + 1) * f.reduce, image.height); ++v)
    for (int u = x * f.reduce; u < std::min((x + 1) * f.reduce, image.width); ++u) {
      const auto& l = image.light[image.at(u, v)];
      need = std::max(need, gamut_need({.r = l[0], .g = l[1], .b = l[2]}, image.format.gamut));
    }
  return need;
}

Drawing quiet_grey(const LightImage& image, const Fit& fit, double source_peak_cdm2) {
  const auto light = mean_light(image, fit);
  return painted(fit, [&](std::size_t i) {
    const double y = luminance(image, light[i]);
    const auto s = to_sdr({.r = y, .g = y, .b = y}, Gamut::bt2020, SdrMethod::bt2446_a, source_peak_cdm2);
    const auto code = static_cast<std::uint16_t>(0.5 * drawn(s)[1] + 3000);
    return Ink{code, code, code};
  });
}

Drawing false_colour_page(const LightImage& image, const PictureLabel& label) {
  const Fit f = fit(image, kWidest, kHighest);
  constexpr std::size_t kLines = 2;
  const Layout l = layout(f, 250, kLines, 560);
  Canvas canvas = page(l.width, l.height, "False colour by luminance", image, label);
  const FalseColour scale;
  const auto light = mean_light(image, f);
  canvas.copy(painted(f, [&](std::size_t i) { return scale.of(luminance(image, light[i])); }), l.picture.x, l.picture.y,
              f.magnify);
  false_colour_legend(canvas, {l.picture.right() + 32, kHead + 52, 40, std::max(l.picture.height, 560) - 60}, scale,
                      image);
  const std::array<std::string, kLines> lines{
      "Lightness rises with luminance; the hue turns between cold and warm at each step of the scale.",
      f.text() + " Shares are of all pixels."};
  notes(canvas, lines);
  return canvas.take();
}

Drawing gamut_page(const LightImage& image, const PictureLabel& label) {
  const Fit f = fit(image, kWidest, kHighest);
  constexpr std::size_t kLines = 2;
  const Layout l = layout(f, 290, kLines, 300);
  Canvas canvas = page(l.width, l.height, "Colours beyond BT.709 and P3", image, label);
  canvas.copy(quiet_grey(image, f, label.source_peak_cdm2), l.picture.x, l.picture.y, f.magnify);
  for (int y = 0; y < f.height; ++y)
    for (int x = 0; x < f.width; ++x) {
      const GamutNeed need = worst(image, f, x, y);
      if (need == GamutNeed::inside_bt709) continue;
      for (int v = y * f.magnify; v < (y + 1) * f.magnify; ++v)
        for (int u = x * f.magnify; u < (x + 1) * f.magnify; ++u) {
          if (need == GamutNeed::beyond_bt709 && striped(u, v))
            canvas.blend(l.picture.x + u, l.picture.y + v, kWarm, 0.85);
          if (need == GamutNeed::beyond_p3)
            canvas.blend(l.picture.x + u, l.picture.y + v, dotted(u, v) ? kWhite : ink(0x2b5fb8), 0.9);
        }
    }
  const GamutShares shares = gamut_shares(image);
  const int x = l.picture.right() + 32;
  const std::array<std::pair<GamutNeed, std::array<std::string, 2>>, 3> keys{
      {{GamutNeed::beyond_p3, {"outside P3-D65", share_text(shares.beyond_p3)}},
       {GamutNeed::beyond_bt709, {"outside BT.709, in P3", share_text(shares.beyond_bt709 - shares.beyond_p3)}},
       {GamutNeed::inside_bt709, {"inside BT.709", share_text(1 - shares.beyond_bt709)}}}};
  int y = kHead + 16;
  for (const auto& [need, text] : keys) {
    swatch(canvas, {x, y, 64, 48}, need);
    canvas.text(x + 78, y + 12, kLabelSize, kText, text[0]);
    canvas.text(x + 78, y + 38, kLabelSize, kFaint, text[1] + " of pixels");
    y += 80;
  }
  const std::array<std::string, kLines> lines{
      "A pixel is outside if a linear component is negative there by more than a millionth of its largest.",
      (f.reduce > 1 ? fmt::format("Each point shows the worst of {} × {} pixels.", f.reduce, f.reduce) : f.text()) +
          " Shares are of all pixels."};
  notes(canvas, lines);
  return canvas.take();
}

Drawing sdr_page(const LightImage& image, const PictureLabel& label) {
  const Fit f = fit(image, kWidest, kHighest);
  constexpr std::size_t kLines = 3;
  const Layout l = layout(f, 0, kLines);
  Canvas canvas = page(l.width, l.height + 34, "SDR by two methods", image, label);
  const auto light = mean_light(image, f);
  const int split = f.width / 2;
  const Drawing both = painted(f, [&](std::size_t i) {
    const bool left = static_cast<int>(i % static_cast<std::size_t>(f.width)) < split;
    return drawn(to_sdr(light[i], image.format.gamut, left ? SdrMethod::bt2390_eetf : SdrMethod::bt2446_a,
                        label.source_peak_cdm2));
  });
  const Rect picture{l.picture.x, l.picture.y + 34, l.picture.width, l.picture.height};
  canvas.copy(both, picture.x, picture.y, f.magnify);
  const int border = picture.x + split * f.magnify;
  canvas.fill({border - 1, picture.y - 30, 2, picture.height + 30}, kWhite);
  canvas.text(border - 12, picture.y - 18, kLabelSize, kText, name_of(SdrMethod::bt2390_eetf), Align::right);
  canvas.text(border + 12, picture.y - 18, kLabelSize, kText, name_of(SdrMethod::bt2446_a));
  const std::array<std::string, kLines> lines{
      fmt::format(
          "Left and right of the line; both from 0 to {} cd/m² to SDR of 100 cd/m² (BT.1886), BT.709 primaries.",
          number_text(label.source_peak_cdm2)),
      "Light above that peak, and colours outside BT.709, are clipped.", f.text()};
  notes(canvas, lines);
  return canvas.take();
}

}  // namespace provenit::programme::drawing

namespace provenit::programme {

Drawing sheet_preview(const LightImage& image, double source_peak_cdm2) {
  const auto f = drawing::fit(image, kPreviewWidth, kPreviewHeight);
  const auto light = drawing::mean_light(image, f);
  return drawing::painted(f, [&](std::size_t i) {
    return drawing::drawn(to_sdr(light[i], image.format.gamut, SdrMethod::bt2446_a, source_peak_cdm2));
  });
}

}  // namespace provenit::programme
