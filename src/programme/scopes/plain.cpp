#include "provenit/programme/plain.h"

#include "painted.h"
#include "provenit/colour/transfer_pq.h"

namespace provenit::programme {
namespace {

using namespace drawing;

constexpr std::array<const char*, kPlainViews.size()> kPlainNames{"sdr", "sdr_eetf", "false_colour", "gamut",
                                                                  "excursion"};

struct Excursion {
  bool above = false, below = false, beyond = false;
};
Excursion excursion_of(const LightImage& image, std::size_t i, const ExcursionLimits& limits) {
  const auto& l = image.light[i];
  return {.above = limits.above_cdm2 && *std::ranges::max_element(l) > *limits.above_cdm2,
          .below = limits.below_cdm2 && image.luminance(i) < *limits.below_cdm2,
          .beyond = limits.beyond != GamutNeed::inside_bt709 &&
                    gamut_need({.r = l[0], .g = l[1], .b = l[2]}, image.format.gamut) >= limits.beyond};
}

Excursion any_excursion(const LightImage& image, const Fit& f, int x, int y, const ExcursionLimits& limits) {
  Excursion any;
  for (int v = y * f.reduce; v < std::min((y + 1) * f.reduce, image.height); ++v)
    for (int u = x * f.reduce; u < std::min((x + 1) * f.reduce, image.width); ++u) {
      const auto e = excursion_of(image, image.at(u, v), limits);
      any = {any.above || e.above, any.below || e.below, any.beyond || e.beyond};
    }
  return any;
}

/// Each point through `mark(x, y, ink)`, which may change it; rows in parallel.
template <class Mark>
void mark_all(Drawing& d, Mark mark) {
  tbb::parallel_for(0, d.height, [&](int y) {
    for (int x = 0; x < d.width; ++x) {
      const auto at =
          3 * (static_cast<std::size_t>(y) * static_cast<std::size_t>(d.width) + static_cast<std::size_t>(x));
      if (const std::optional<Ink> colour = mark(x, y))
        std::ranges::copy(*colour, d.samples.begin() + static_cast<std::ptrdiff_t>(at));
    }
  });
}

Drawing gamut_view(const LightImage& image, const Fit& f, double source_peak_cdm2) {
  Drawing d = quiet_grey(image, f, source_peak_cdm2);
  mark_all(d, [&](int x, int y) -> std::optional<Ink> {
    const GamutNeed need = worst(image, f, x, y);
    if (need == GamutNeed::beyond_p3) return dotted(x, y) ? kWhite : ink(0x2b5fb8);
    if (need == GamutNeed::beyond_bt709 && striped(x, y)) return kWarm;
    return std::nullopt;
  });
  return d;
}

Drawing excursion_view(const LightImage& image, const Fit& f, const PlainOptions& options) {
  Drawing d = quiet_grey(image, f, options.source_peak_cdm2);
  mark_all(d, [&](int x, int y) -> std::optional<Ink> {
    const auto e = any_excursion(image, f, x, y, options.excursion);
    constexpr int kAway = 10 * 1000;  // keeps the falling stripes' remainder positive
    if (e.beyond && dotted(x, y)) return kWhite;
    if (e.above && striped(x, y)) return kWarm;
    if (e.below && (x - y + kAway) % 10 < 4) return kCold;
    return std::nullopt;
  });
  return d;
}

}  // namespace

const char* name_of(PlainView value) {
  return kPlainNames[static_cast<std::size_t>(value)];
}

std::optional<PlainView> plain_view_from_name(std::string_view name) {
  for (const PlainView v : kPlainViews)
    if (name == name_of(v)) return v;
  return std::nullopt;
}

ExcursionShares excursion_shares(const LightImage& image, const ExcursionLimits& limits) {
  std::array<std::size_t, 3> count{};
  for (std::size_t i = 0; i < image.light.size(); ++i) {
    const auto e = excursion_of(image, i, limits);
    count[0] += e.above ? 1 : 0;
    count[1] += e.below ? 1 : 0;
    count[2] += e.beyond ? 1 : 0;
  }
  const double n = std::max<double>(1, static_cast<double>(image.light.size()));
  return {static_cast<double>(count[0]) / n, static_cast<double>(count[1]) / n, static_cast<double>(count[2]) / n};
}

Drawing plain_picture(PlainView view, const LightImage& image, const PlainOptions& options) {
  const Fit f = fit(image, options.most_width, options.most_height);
  if (view == PlainView::gamut) return gamut_view(image, f, options.source_peak_cdm2);
  if (view == PlainView::excursion) return excursion_view(image, f, options);
  const auto light = mean_light(image, f);
  if (view == PlainView::false_colour) {
    const FalseColour scale;
    return painted(f, [&](std::size_t i) { return scale.of(luminance(image, light[i])); });
  }
  const auto method = view == PlainView::sdr ? SdrMethod::bt2446_a : SdrMethod::bt2390_eetf;
  return painted(
      f, [&](std::size_t i) { return drawn(to_sdr(light[i], image.format.gamut, method, options.source_peak_cdm2)); });
}

Drawing plain_counts(const Counts& counts, int picture_width) {
  Canvas canvas(counts.columns, counts.rows, kPlotGround);
  draw_counts(canvas, {0, 0, counts.columns, counts.rows}, counts, kWhite, picture_width);
  return canvas.take();
}

Drawing false_colour_bar(int height) {
  const FalseColour scale;
  const Fit f{.width = 1, .height = std::max(1, height)};
  return painted(f, [&](std::size_t i) {
    const double signal = 1 - (static_cast<double>(i) + 0.5) / f.height;
    return scale.of(colour::pq_eotf(colour::Signal<>{.value = signal}).cdm2);
  });
}

}  // namespace provenit::programme
