#include "provenit/forecast/frame.h"

#include <tbb/blocked_range.h>
#include <tbb/parallel_for.h>

#include <algorithm>
#include <cmath>
#include <optional>
#include <utility>

#include "provenit/programme/pixel.h"
#include "scenarios.h"
#include "zones.h"

namespace provenit::forecast {
namespace {

/// Nodes of the maps of light per zone, and of the unevenness.
constexpr int kNodesPerZone = 4, kEvenNodes = 33, kEvenFor = 4;
constexpr int kBandRows = 16;
/// Rows on which scenarios are tried: so many evenly spread, and so many with most of each thing that few have; fewer
/// of wide pictures.
constexpr int kEvenRows = 34, kRichRows = 6, kFewestEven = 12, kFewestRich = 2, kAtWidth = 960;
/// What the form of the forecast leaves out, one standard deviation each: see form_of.
constexpr double kHaloForm = 0.02, kUnzonedHaloForm = 0.18, kShareForm = 0.002, kDimmingForm = 0.13,
                 kDimmingLeast = 0.0006, kHighlightForm = 0.015, kHighlightLeast = 0.0012, kShadowForm = 0.035,
                 kShadowLeast = 0.0045, kUnzonedShadows = 3;

/// n numbers from 0 to 1.
std::vector<double> steps(int n) {
  std::vector<double> out;
  for (int i = 0; i < n; ++i) out.push_back(static_cast<double>(i) / (n - 1));
  return out;
}

/// A map of few numbers that is read at every pixel.
class Smooth {
 public:
  Smooth(int across, int down, int width, int height) : across_(across), down_(down), height_(height) {
    for (int x = 0; x < width; ++x) {
      const double u = (x + 0.5) / width * (across - 1);
      node_.push_back(std::min(static_cast<int>(u), across - 2));
      fraction_.push_back(static_cast<float>(u - node_.back()));
    }
  }
  void row(const std::vector<float>& map, int y, std::vector<float>& out) const {
    const double v = (y + 0.5) / height_ * (down_ - 1);
    const int j = std::min(static_cast<int>(v), down_ - 2);
    const float* above = &map[static_cast<std::size_t>(j) * static_cast<std::size_t>(across_)];
    out.resize(node_.size());
    expand_row(above, above + across_, static_cast<float>(v - j), across_, node_.data(), fraction_.data(), out.data(),
               static_cast<int>(node_.size()));
  }

 private:
  int across_, down_, height_;
  std::vector<std::int32_t> node_;
  std::vector<float> fraction_;
};

/// What a frame asks of the display.
struct Asked {
  std::vector<ZoneContent> zones;
  std::array<double, 3> mean{};
};

/// Where zones and limiter stand.
struct Standing {
  std::vector<double> drives;
  double cap = 1;
};

/// One thread's rows.
struct Rows {
  std::vector<float> r, g, b, light, even;
  explicit Rows(std::size_t n) : r(n), g(n), b(n), light(n, 1.0F), even(n, 1.0F) {}
};

const colour::Primaries<>& primaries_of(programme::Gamut gamut) {
  if (gamut == programme::Gamut::bt709) return colour::bt709_primaries;
  if (gamut == programme::Gamut::p3_d65) return colour::p3_d65_primaries;
  return colour::bt2020_primaries;
}

}  // namespace

struct FrameForecaster::Impl {
  ForecastDisplay display;
  programme::PictureFormat format;
  PixelTables tables;
  PixelModel model;
  int nodes_across, nodes_down;
  std::optional<BacklightMap> backlight;
  Smooth light_rows, even_rows;
  std::vector<float> even;
  std::optional<Standing> standing;

  Impl(const ForecastDisplay& d, const programme::PictureFormat& f)
      : display(d),
        format(f),
        tables(tables_of(display.channels())),
        model(pixel_model(display, tables, primaries_of(f.gamut))),
        nodes_across(std::max(2, display.optics().columns * kNodesPerZone + 1)),
        nodes_down(std::max(2, display.optics().rows * kNodesPerZone + 1)),
        light_rows(nodes_across, nodes_down, f.width, f.height),
        even_rows(kEvenNodes, kEvenNodes, f.width, f.height) {
    if (display.optics().zoned()) backlight.emplace(display.optics(), steps(nodes_across), steps(nodes_down));
    for (const double y : steps(kEvenNodes))
      for (const double x : steps(kEvenNodes)) even.push_back(static_cast<float>(display.unevenness().at(x, y)));
  }

  /// Of the pixels of some rows: the largest demand is that of all of them by their largest signal, or that of those
  /// looked at, whichever is more; means are those of the pixels looked at.
  [[nodiscard]] Asked asked(const programme::Picture& picture) const {
    const auto& optics = display.optics();
    const int columns = std::max(optics.columns, 1), rows = optics.zoned() ? optics.rows : 32;
    const int step = std::max(1, format.width / 480);
    std::vector<Asked> parts(static_cast<std::size_t>(rows));
    std::vector<double> counts(static_cast<std::size_t>(rows));
    tbb::parallel_for(0, rows, [&](int row) {
      Rows line(static_cast<std::size_t>(format.width));
      auto& part = parts[static_cast<std::size_t>(row)];
      part.zones.resize(static_cast<std::size_t>(columns));
      std::vector<double> count(static_cast<std::size_t>(columns));
      std::vector<float> most(static_cast<std::size_t>(columns));
      // Rows and columns of pixels belong to the zone in which their middle lies.
      const auto edge = [](int i, int n, int pixels) {
        return static_cast<int>(std::ceil(static_cast<double>(i) * pixels / n - 0.5));
      };
      const int first = edge(row, rows, format.height), last = edge(row + 1, rows, format.height);
      for (int y = first; y < last; ++y) {
        const bool sampled = y % step == step / 2 || last - first < step;
        if (!sampled && !optics.zoned()) continue;
        decode_row(picture, y, line.r.data(), line.g.data(), line.b.data());
        for (int column = 0; column < columns; ++column) {
          const auto k = static_cast<std::size_t>(column);
          const int from = edge(column, columns, format.width), to = edge(column + 1, columns, format.width);
          if (optics.zoned())
            most[k] = std::max(most[k], largest(line.r.data(), line.g.data(), line.b.data(), from, to));
          if (!sampled) continue;
          for (int x = from + std::min(step, to - from) / 2; x < to; x += step) {
            const auto i = static_cast<std::size_t>(x);
            const auto f = channels_at(model, line.r[i], line.g[i], line.b[i]);
            const double demand = std::max({f[0], f[1], f[2]});
            part.zones[k].largest = std::max(part.zones[k].largest, demand);
            part.zones[k].mean += demand;
            for (std::size_t c = 0; c < 3; ++c) part.mean[c] += f[c];
            count[k] += 1;
          }
        }
      }
      for (std::size_t k = 0; k < count.size(); ++k) {
        const auto grey = channels_at(model, most[k], most[k], most[k]);
        part.zones[k].largest = std::max<double>(part.zones[k].largest, std::max({grey[0], grey[1], grey[2]}));
        counts[static_cast<std::size_t>(row)] += count[k];
        part.zones[k].mean /= std::max(count[k], 1.0);
      }
    });
    Asked out;
    double all = 0;
    for (std::size_t row = 0; row < parts.size(); ++row) {
      out.zones.insert(out.zones.end(), parts[row].zones.begin(), parts[row].zones.end());
      for (std::size_t c = 0; c < 3; ++c) out.mean[c] += parts[row].mean[c];
      all += counts[row];
    }
    for (double& v : out.mean) v /= std::max(all, 1.0);
    return out;
  }

  [[nodiscard]] std::pair<Standing, double> target(const programme::Picture& picture) const {
    const auto& optics = display.optics();
    const Asked a = asked(picture);
    Standing out;
    double load = 0;
    if (optics.zoned()) {
      out.drives = zone_drives(optics, a.zones);
      load = mean_of(out.drives);
    } else {
      for (std::size_t c = 0; c < 3; ++c) load += optics.weight[c] * a.mean[c];
    }
    out.cap = optics.cap_at(load);
    return {out, load};
  }

  [[nodiscard]] Standing moved(const Standing& from, const Standing& to, double s) const {
    const auto& v = display.speeds();
    const auto left = [s](double constant) { return constant > 0 ? std::exp(-s / constant) : 0; };
    const auto move = [](double a, double b, double up, double down) { return b + (a - b) * (b > a ? up : down); };
    Standing out = to;
    out.cap = move(from.cap, to.cap, left(v.limiter_up_s), left(v.limiter_down_s));
    const double up = left(v.zone_rise_s), down = left(v.zone_fall_s);
    for (std::size_t i = 0; i < out.drives.size(); ++i) out.drives[i] = move(from.drives[i], to.drives[i], up, down);
    return out;
  }

  /// Sums over these rows for each model; `single` takes those of each row, and `light` what is shown, by the first.
  [[nodiscard]] std::vector<Sums> measured(const programme::Picture& picture, const std::vector<float>& map,
                                           const std::vector<PixelModel>& models, const std::vector<int>& rows,
                                           ShownLight* light, std::vector<Sums>* single = nullptr) const {
    // Rows that many models look at are shared out one by one.
    const int count = static_cast<int>(rows.size()), band_rows = models.size() > 1 ? 1 : kBandRows;
    const int bands = (count + band_rows - 1) / band_rows;
    std::vector<std::vector<Sums>> parts(static_cast<std::size_t>(bands), std::vector<Sums>(models.size()));
    if (single != nullptr) single->resize(rows.size());
    tbb::parallel_for(0, bands, [&](int band) {
      Rows line(static_cast<std::size_t>(format.width));
      std::vector<Sums> sums(models.size());
      int even_at = -1;
      for (int k = band * band_rows; k < std::min(count, (band + 1) * band_rows); ++k) {
        const int y = rows[static_cast<std::size_t>(k)];
        decode_row(picture, y, line.r.data(), line.g.data(), line.b.data());
        if (backlight) light_rows.row(map, y, line.light);
        // Unevenness hardly changes from row to row.
        if (even_at < 0 || y - even_at >= kEvenFor) even_rows.row(even, even_at = y, line.even);
        const RowInput in{line.r.data(),     line.g.data(),    line.b.data(),
                          line.light.data(), line.even.data(), format.width};
        RowOutput out;
        if (light != nullptr) {
          const auto at = static_cast<std::size_t>(y) * static_cast<std::size_t>(format.width);
          out = {&light->x[at], &light->y[at], &light->z[at], &light->delta_e[at]};
        }
        measure_row(models, in, out, sums);
        if (single != nullptr) (*single)[static_cast<std::size_t>(k)] = sums.front();
        for (std::size_t m = 0; m < models.size(); ++m) parts[static_cast<std::size_t>(band)][m] += sums[m];
      }
    });
    std::vector<Sums> out(models.size());
    for (const auto& part : parts)
      for (std::size_t m = 0; m < out.size(); ++m) out[m] += part[m];
    return out;
  }

  /// The rows that have most of something.
  template <class Part>
  static void add_rows(const std::vector<Sums>& rows, Part part, std::size_t count, std::vector<int>& to) {
    std::vector<int> order(rows.size());
    for (std::size_t i = 0; i < order.size(); ++i) order[i] = static_cast<int>(i);
    const auto most = std::min(count, order.size());
    std::partial_sort(order.begin(), order.begin() + static_cast<std::ptrdiff_t>(most), order.end(), [&](int a, int b) {
      return rows[static_cast<std::size_t>(a)].*part > rows[static_cast<std::size_t>(b)].*part;
    });
    to.insert(to.end(), order.begin(), order.begin() + static_cast<std::ptrdiff_t>(most));
  }

  [[nodiscard]] FrameForecast forecast(const programme::Picture& picture, const Standing& now, double load,
                                       ShownLight* light) const {
    const auto& optics = display.optics();
    if (light != nullptr) {
      const auto n = static_cast<std::size_t>(format.width) * static_cast<std::size_t>(format.height);
      light->width = format.width;
      light->height = format.height;
      for (auto* v : {&light->x, &light->y, &light->z, &light->delta_e}) v->resize(n);
    }
    const auto map = backlight ? backlight->at(now.drives) : std::vector<float>{};
    const PixelModel here = limited(model, optics, now.cap);
    std::vector<int> all(static_cast<std::size_t>(format.height)), even_rows_of, rich;
    for (int y = 0; y < format.height; ++y) all[static_cast<std::size_t>(y)] = y;
    std::vector<Sums> single;
    const auto whole = measured(picture, map, {here}, all, light, &single).front();

    // What may be off is tried on some of the rows: evenly spread ones for what all pixels count in, and those that
    // have most dark pixels and detail for the rest.
    const auto unsure = scenarios(here, display, now.cap);
    std::vector<PixelModel> models{here, limited(model, optics, 1)};
    for (const auto& s : unsure) models.insert(models.end(), {s.more, s.less});
    const int even_count = std::max(kFewestEven, std::min(kEvenRows, kEvenRows * kAtWidth / format.width));
    const auto rich_count =
        static_cast<std::size_t>(std::max(kFewestRich, std::min(kRichRows, kRichRows * kAtWidth / format.width)));
    const int step = std::max(1, format.height / even_count);
    for (int y = step / 2; y < format.height; y += step) even_rows_of.push_back(y);
    for (const auto part : {&Sums::high, &Sums::low, &Sums::dark}) add_rows(single, part, rich_count, rich);
    std::ranges::sort(rich);
    rich.erase(std::unique(rich.begin(), rich.end()), rich.end());
    const auto some = measured(picture, map, models, even_rows_of, nullptr),
               best = measured(picture, map, models, rich, nullptr);
    const double unlimited = some[1].shown;
    // The whole picture's sum without the limiter is in the same proportion.
    const double all_unlimited = some[0].shown > 0 ? whole.shown * unlimited / some[0].shown : 0;
    const auto value = numbers_of(whole, all_unlimited);
    FrameForecast out{.index = picture.index, .time_s = picture.time_s, .load = load, .cap = now.cap};
    for (std::size_t q = 0; q < kQuantities; ++q) {
      const auto quantity = static_cast<Quantity>(q);
      const bool of_few =
          quantity == Quantity::highlight_lost || quantity == Quantity::shadow_lost || quantity == Quantity::halo_cdm2;
      const auto& sums = of_few ? best : some;
      const double base = numbers_of(sums[0], unlimited)[q];
      double up = 0, down = 0;
      for (std::size_t k = 0; k < unsure.size(); ++k) {
        if (quantity == Quantity::dimming && !unsure[k].of_limiter) continue;
        if (unsure[k].of_shares_only && quantity != Quantity::share_above_1 && quantity != Quantity::share_above_3)
          continue;
        const double a = numbers_of(sums[2 + 2 * k], unlimited)[q] - base,
                     b = numbers_of(sums[3 + 2 * k], unlimited)[q] - base;
        const double rise = std::max({a, b, 0.0}), fall = std::min({a, b, 0.0});
        up += rise * rise;
        down += fall * fall;
      }
      // What no scenario holds: the form itself.
      const double form = form_of(quantity, value, now.cap < 1.02);
      auto& figure = out.figures[q];
      figure.value = value[q];
      figure.lower = value[q] - kNinety * std::sqrt(down + form * form);
      figure.upper = value[q] + kNinety * std::sqrt(up + form * form);
      const bool share = quantity != Quantity::mean_delta_e && quantity != Quantity::halo_cdm2 &&
                         quantity != Quantity::halo_share && quantity != Quantity::dimming;
      if (share || quantity == Quantity::mean_delta_e) figure.lower = std::max(figure.lower, 0.0);
      if (share) figure.upper = std::min(figure.upper, 1.0);
    }
    return out;
  }

  /// One standard deviation of what the form of the forecast leaves out: of halo what pictures ask beyond windows, of
  /// lost detail the display's own steps and ripples. Where no zones lift the black both lie lower, where readings
  /// hardly tell light from noise. Our own choice, from simulated displays (docs/forecast.md says which).
  [[nodiscard]] double form_of(Quantity quantity, const std::array<double, kQuantities>& values, bool now_felt) const {
    const auto& u = display.unsure();
    const double value = values[static_cast<std::size_t>(quantity)];
    const bool zoned = display.optics().zoned();
    const auto halo_form = [&](double cdm2) {
      return std::hypot((zoned ? kHaloForm : kUnzonedHaloForm) * cdm2, u.dark_cdm2);
    };
    switch (quantity) {
      case Quantity::share_above_1:
      case Quantity::share_above_3:
        return kShareForm;
      case Quantity::halo_cdm2:
        return halo_form(value);
      case Quantity::halo_share: {
        const double cdm2 = values[static_cast<std::size_t>(Quantity::halo_cdm2)];
        return cdm2 != 0 ? std::abs(value / cdm2) * halo_form(cdm2) : 0;
      }
      case Quantity::highlight_lost:
        return kHighlightForm * value * (1 - value) + kHighlightLeast;
      case Quantity::shadow_lost:
        return (zoned ? 1 : kUnzonedShadows) * (kShadowForm * value * (1 - value) + kShadowLeast);
      case Quantity::dimming:
        return now_felt ? std::hypot(kDimmingForm * value, kDimmingLeast) : 0;
      default:
        return 0;
    }
  }

  [[nodiscard]] Result<void> fits(const programme::Picture& picture) const {
    if (auto ok = programme::check_picture(picture); !ok) return ok;
    if (picture.format == format) return {};
    return fail(ErrorCode::invalid_input, "the picture's format is another than the forecast was prepared for",
                "Make one forecaster for each format.", {.frame = picture.index});
  }
};

FrameForecaster::FrameForecaster(std::unique_ptr<Impl> impl) : impl_(std::move(impl)) {}
FrameForecaster::FrameForecaster(FrameForecaster&&) noexcept = default;
FrameForecaster& FrameForecaster::operator=(FrameForecaster&&) noexcept = default;
FrameForecaster::~FrameForecaster() = default;

Result<FrameForecaster> FrameForecaster::make(const ForecastDisplay& display, const programme::PictureFormat& format) {
  if (auto ok = programme::check_format(format); !ok) return tl::unexpected(ok.error());
  if (format.transfer != programme::Transfer::pq || format.is_float)
    return fail(ErrorCode::unsupported, "the display was measured in PQ, and these pictures are not",
                "Give pictures in PQ, or measure the display's other mode.", {.field = "transfer"});
  return FrameForecaster(std::make_unique<Impl>(display, format));
}

Result<FrameForecast> FrameForecaster::still(const programme::Picture& picture, ShownLight* light) const {
  if (auto ok = impl_->fits(picture); !ok) return tl::unexpected(ok.error());
  const auto [now, load] = impl_->target(picture);
  return impl_->forecast(picture, now, load, light);
}

Result<FrameForecast> FrameForecaster::next(const programme::Picture& picture, Seconds duration, ShownLight* light) {
  if (auto ok = impl_->fits(picture); !ok) return tl::unexpected(ok.error());
  if (!(duration.s > 0))
    return fail(ErrorCode::out_of_range, "a frame is shown for some time", "Give a duration above 0.",
                {.field = "duration"});
  const auto [to, load] = impl_->target(picture);
  const Standing before = impl_->standing.value_or(to);
  const Standing middle = impl_->moved(before, to, duration.s / 2);
  impl_->standing = impl_->moved(before, to, duration.s);
  return impl_->forecast(picture, middle, load, light);
}

void FrameForecaster::cut() {
  impl_->standing.reset();
}

}  // namespace provenit::forecast
