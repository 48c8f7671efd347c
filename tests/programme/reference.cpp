#include "reference.h"

#include <algorithm>
#include <cmath>
#include <cstring>
#include <limits>

namespace provenit::programme::testing {
namespace {

using V3 = std::array<double, 3>;
using M33 = std::array<V3, 3>;

// ---- samples

double sample(const Picture& p, int plane, int x, int y) {
  const std::byte* row = p.planes[plane].data + y * p.planes[plane].stride;
  if (p.format.is_float) {
    float f = 0;
    std::memcpy(&f, row + std::ptrdiff_t{4} * x, 4);
    return f;
  }
  if (p.format.bits == 8) return std::to_integer<int>(row[x]);
  std::uint16_t u = 0;
  std::memcpy(&u, row + std::ptrdiff_t{2} * x, 2);
  return u;
}

/// Value at a real position among `count` samples of one line, straight lines between them, ends held.
template <class At>
double along(double position, int count, const At& at) {
  const double clamped = std::clamp(position, 0.0, count - 1.0);
  const int left = static_cast<int>(clamped);
  const double part = clamped - left;
  return part > 0 ? (1 - part) * at(left) + part * at(left + 1) : at(left);
}

/// Chroma sample position of luma position x: H.273 puts chroma sample k at luma 2k (co-sited) or 2k + 1/2 (midway).
double chroma_position(int x, bool halved, bool cosited) {
  if (!halved) return x;
  return cosited ? x / 2.0 : (x - 0.5) / 2;
}

double chroma(const Picture& p, int plane, int x, int y) {
  const PictureFormat& f = p.format;
  const bool half_x = f.chroma == Chroma::c420 || f.chroma == Chroma::c422, half_y = f.chroma == Chroma::c420;
  const bool cosited_x = f.siting == Siting::left || f.siting == Siting::top_left;
  const bool cosited_y = f.siting == Siting::top || f.siting == Siting::top_left;
  const double cx = chroma_position(x, half_x, cosited_x), cy = chroma_position(y, half_y, cosited_y);
  return along(cy, p.planes[plane].height, [&](int row) {
    return along(cx, p.planes[plane].width, [&](int column) { return sample(p, plane, column, row); });
  });
}

// ---- signal: BT.2100-3 quantisation undone, BT.601/709/2020 matrix undone

V3 signal(const Picture& p, int x, int y) {
  const PictureFormat& f = p.format;
  const double scale = std::pow(2.0, f.bits - 8);
  const bool narrow = f.range == colour::Range::narrow;
  const double full = std::pow(2.0, f.bits) - 1;
  const auto luma = [&](double code) { return narrow ? (code / scale - 16) / 219 : code / full; };
  const auto colour_difference = [&](double code) {
    return narrow ? (code / scale - 128) / 224 : (code - 128 * scale) / full;
  };
  const double first = luma(sample(p, 0, x, y));
  if (f.chroma == Chroma::grey) return {first, first, first};
  if (f.chroma == Chroma::rgb) return {first, luma(sample(p, 1, x, y)), luma(sample(p, 2, x, y))};
  const double cb = colour_difference(chroma(p, 1, x, y)), cr = colour_difference(chroma(p, 2, x, y));
  double kr = 0.2627, kb = 0.0593;
  if (f.matrix == Matrix::bt709) kr = 0.2126, kb = 0.0722;
  if (f.matrix == Matrix::bt601) kr = 0.299, kb = 0.114;
  const double r = first + 2 * (1 - kr) * cr, b = first + 2 * (1 - kb) * cb;
  return {r, (first - kr * r - kb * b) / (1 - kr - kb), b};
}

// ---- light

double pq(double e) {
  const double x = std::pow(e, 32.0 / 2523);
  return 10000 * std::pow(std::max(x - 107.0 / 128, 0.0) / (2413.0 / 128 - 2392.0 / 128 * x), 8192.0 / 1305);
}
double pq_signal(double l) {
  const double y = std::pow(std::max(l, 0.0) / 10000, 1305.0 / 8192);
  return std::pow((107.0 / 128 + 2413.0 / 128 * y) / (1 + 2392.0 / 128 * y), 2523.0 / 32);
}
double hlg_scene(double e) {
  const double a = 0.17883277, b = 1 - 4 * a, c = 0.5 - a * std::log(4 * a);
  return e <= 0.5 ? e * e / 3 : (std::exp((e - c) / a) + b) / 12;
}

double channel(const PictureFormat& f, double e) {
  const double v = std::clamp(e, 0.0, 1.0);
  if (f.transfer == Transfer::pq) return pq(v);
  if (f.transfer == Transfer::bt1886) return f.peak_cdm2 * std::pow(v, 2.4);
  if (f.transfer == Transfer::linear) return f.peak_cdm2 * v;
  return f.peak_cdm2 * (v <= 0.04045 ? v / 12.92 : std::pow((v + 0.055) / 1.055, 2.4));
}

V3 hlg(const PictureFormat& f, const V3& s) {
  double top = 1;
  if (f.range == colour::Range::narrow) {
    const double scale = std::pow(2.0, f.bits - 8);
    top = ((255 * scale - 1) / scale - 16) / 219;
  }
  V3 e{};
  for (int i = 0; i < 3; ++i) e[i] = hlg_scene(std::clamp(s[i], 0.0, top));
  const double lw = f.peak_cdm2;
  const double gamma =
      lw >= 400 && lw <= 2000 ? 1.2 + 0.42 * std::log10(lw / 1000) : 1.2 * std::pow(1.111, std::log2(lw / 1000));
  const double y = 0.2627 * e[0] + 0.6780 * e[1] + 0.0593 * e[2];
  const double gain = y > 0 ? lw * std::pow(y, gamma - 1) : 0;
  return {gain * e[0], gain * e[1], gain * e[2]};
}

V3 light(const PictureFormat& f, const Picture& p, int x, int y) {
  if (!f.is_float) {
    const V3 s = signal(p, x, y);
    if (f.transfer == Transfer::hlg) return hlg(f, s);
    return {channel(f, s[0]), channel(f, s[1]), channel(f, s[2])};
  }
  V3 out{};
  for (int i = 0; i < 3; ++i) {
    const double v = sample(p, f.chroma == Chroma::grey ? 0 : i, x, y);
    if (v > 0) out[i] = f.peak_cdm2 * std::min(v, static_cast<double>(std::numeric_limits<float>::max()));
  }
  return out;
}

// ---- colour: SMPTE RP 177 by Cramer's rule

double det(const M33& m) {
  return m[0][0] * (m[1][1] * m[2][2] - m[1][2] * m[2][1]) - m[0][1] * (m[1][0] * m[2][2] - m[1][2] * m[2][0]) +
         m[0][2] * (m[1][0] * m[2][1] - m[1][1] * m[2][0]);
}
V3 solve(const M33& m, const V3& v) {
  V3 out{};
  for (int k = 0; k < 3; ++k) {
    M33 replaced = m;
    for (int i = 0; i < 3; ++i) replaced[i][k] = v[i];
    out[k] = det(replaced) / det(m);
  }
  return out;
}
M33 rgb_to_xyz(Gamut gamut) {
  std::array<std::array<double, 2>, 3> xy{{{0.708, 0.292}, {0.170, 0.797}, {0.131, 0.046}}};
  if (gamut == Gamut::bt709) xy = {{{0.64, 0.33}, {0.30, 0.60}, {0.15, 0.06}}};
  if (gamut == Gamut::p3_d65) xy = {{{0.68, 0.32}, {0.265, 0.69}, {0.15, 0.06}}};
  M33 m{};
  for (int k = 0; k < 3; ++k) {
    m[0][k] = xy[k][0] / xy[k][1];
    m[1][k] = 1;
    m[2][k] = (1 - xy[k][0] - xy[k][1]) / xy[k][1];
  }
  const V3 s = solve(m, {0.3127 / 0.3290, 1, (1 - 0.3127 - 0.3290) / 0.3290});
  for (auto& row : m)
    for (int k = 0; k < 3; ++k) row[k] *= s[k];
  return m;
}
V3 times(const M33& m, const V3& v) {
  V3 out{};
  for (int i = 0; i < 3; ++i) out[i] = m[i][0] * v[0] + m[i][1] * v[1] + m[i][2] * v[2];
  return out;
}

ReferencePixel pixel(const Picture& p, int x, int y, const M33& to_xyz, const M33& m709, const M33& mp3) {
  const PictureFormat& f = p.format;
  ReferencePixel out;
  out.rgb = light(f, p, x, y);
  out.max_rgb = std::max({out.rgb[0], out.rgb[1], out.rgb[2]});
  const V3 xyz = times(to_xyz, out.rgb);
  out.luminance = xyz[1];
  const auto least = [&](const M33& m) {
    const V3 c = solve(m, xyz);
    return out.max_rgb > 0 ? std::min({c[0], c[1], c[2]}) / out.max_rgb : 0;
  };
  if (f.gamut != Gamut::bt709) out.outside_bt709 = least(m709);
  if (f.gamut == Gamut::bt2020) out.outside_p3 = least(mp3);
  if (f.is_float) {
    out.bar = out.max_rgb <= pq(16.0 / 876);
  } else if (f.chroma == Chroma::rgb) {
    const V3 s = signal(p, x, y);
    out.bar = std::max({s[0], s[1], s[2]}) <= 16.0 / 876 + 1e-12;
  } else {
    const double scale = std::pow(2.0, f.bits - 8), code = sample(p, 0, x, y);
    out.bar = f.range == colour::Range::narrow ? code <= 20 * scale
                                               : code / (std::pow(2.0, f.bits) - 1) <= 16.0 / 876 + 1e-12;
  }
  return out;
}

// ---- figures

struct Area {
  int x0, y0, x1, y1;
};

ActiveArea active_area(const std::vector<ReferencePixel>& px, int w, int h) {
  Area a{w, h, 0, 0};
  for (int y = 0; y < h; ++y)
    for (int x = 0; x < w; ++x)
      if (!px[std::size_t(y) * w + x].bar)
        a = {std::min(a.x0, x), std::min(a.y0, y), std::max(a.x1, x + 1), std::max(a.y1, y + 1)};
  if (a.x1 == 0) return {};
  return {a.x0, a.y0, a.x1 - a.x0, a.y1 - a.y0};
}

double robust(const std::vector<ReferencePixel>& px, int w, int h) {
  const int sw = std::min(3, w), sh = std::min(3, h);
  double best = 0;
  for (int y = 0; y + sh <= h; ++y)
    for (int x = 0; x + sw <= w; ++x) {
      double least = std::numeric_limits<double>::infinity();
      for (int j = 0; j < sh; ++j)
        for (int i = 0; i < sw; ++i) least = std::min(least, px[std::size_t(y + j) * w + x + i].max_rgb);
      best = std::max(best, least);
    }
  return best;
}

void means(Reference& r, int w, int h, const M33& to_xyz) {
  FrameFigures& f = r.figures;
  long double all = 0, inside = 0, y_all = 0, y_inside = 0;
  std::array<long double, 3> rgb{};
  const ActiveArea& a = f.active;
  for (int y = 0; y < h; ++y)
    for (int x = 0; x < w; ++x) {
      const ReferencePixel& p = r.pixels[std::size_t(y) * w + x];
      all += p.max_rgb;
      y_all += p.luminance;
      for (int i = 0; i < 3; ++i) rgb[i] += p.rgb[i];
      if (x < a.left || x >= a.left + a.width || y < a.top || y >= a.top + a.height) continue;
      inside += p.max_rgb;
      y_inside += p.luminance;
    }
  const auto n = static_cast<double>(w) * h, ni = static_cast<double>(a.width) * a.height;
  f.max_rgb_mean = static_cast<double>(all) / n;
  f.luminance_mean = static_cast<double>(y_all) / n;
  f.max_rgb_mean_active = ni > 0 ? static_cast<double>(inside) / ni : f.max_rgb_mean;
  f.luminance_mean_active = ni > 0 ? static_cast<double>(y_inside) / ni : f.luminance_mean;
  const V3 xyz = times(to_xyz, {static_cast<double>(rgb[0]), static_cast<double>(rgb[1]), static_cast<double>(rgb[2])});
  const double d = xyz[0] + 15 * xyz[1] + 3 * xyz[2];
  f.mean_u_prime = d > 0 ? 4 * xyz[0] / d : 0;
  f.mean_v_prime = d > 0 ? 9 * xyz[1] / d : 0;
}

void pixelwise(Reference& r, int w) {
  FrameFigures& f = r.figures;
  const auto n = static_cast<double>(r.pixels.size());
  f.max_rgb_max = -1;
  f.luminance_max = 0;
  f.luminance_min = std::numeric_limits<double>::infinity();
  std::vector<double> sorted;
  for (std::size_t i = 0; i < r.pixels.size(); ++i) {
    const ReferencePixel& p = r.pixels[i];
    sorted.push_back(p.luminance);
    if (p.max_rgb > f.max_rgb_max) {
      f.max_rgb_max = p.max_rgb;
      f.brightest_x = static_cast<int>(i) % w;
      f.brightest_y = static_cast<int>(i) / w;
    }
    f.luminance_max = std::max(f.luminance_max, p.luminance);
    f.luminance_min = std::min(f.luminance_min, p.luminance);
    for (std::size_t k = 0; k < kAboveCdm2.size(); ++k) f.share_above[k] += p.luminance > kAboveCdm2[k] ? 1 / n : 0;
    for (std::size_t k = 0; k < kBelowCdm2.size(); ++k) f.share_below[k] += p.luminance < kBelowCdm2[k] ? 1 / n : 0;
    f.share_outside_bt709 += p.outside_bt709 < -1e-6 ? 1 / n : 0;
    f.share_outside_p3 += p.outside_p3 < -1e-6 ? 1 / n : 0;
  }
  std::sort(sorted.begin(), sorted.end());
  for (std::size_t k = 0; k < kPercentiles.size(); ++k) {
    const auto rank = static_cast<std::size_t>(std::max(1.0, std::ceil(kPercentiles[k] * n / 100)));
    f.luminance_percentile[k] = sorted[rank - 1];
  }
}

struct Cell {
  double mean = 0, lowest = std::numeric_limits<double>::infinity(), highest = 0, brightest = 0;
};

Cell cell_of(const Reference& r, int w, const Area& a) {
  Cell c;
  for (int y = a.y0; y < a.y1; ++y)
    for (int x = a.x0; x < a.x1; ++x) {
      const ReferencePixel& p = r.pixels[std::size_t(y) * w + x];
      c.mean += p.luminance / (double(a.x1 - a.x0) * (a.y1 - a.y0));
      c.lowest = std::min(c.lowest, p.luminance);
      c.highest = std::max(c.highest, p.luminance);
      c.brightest = std::max(c.brightest, p.max_rgb);
    }
  return c;
}

void cells(Reference& r, int w, int h) {
  const int e = 16 * ((std::max(w, h) + 1023) / 1024);
  const int columns = (w + e - 1) / e, rows = (h + e - 1) / e;
  std::vector<Cell> all;
  for (int y = 0; y < rows; ++y)
    for (int x = 0; x < columns; ++x)
      all.push_back(cell_of(r, w, {x * e, y * e, std::min(w, x * e + e), std::min(h, y * e + e)}));
  int dark = 0, detail = 0;
  for (int y = 0; y < rows; ++y)
    for (int x = 0; x < columns; ++x) {
      const Cell& c = all[std::size_t(y) * columns + x];
      bool beside = false;
      for (int j = -1; j <= 1; ++j)
        for (int i = -1; i <= 1; ++i)
          if ((i != 0 || j != 0) && x + i >= 0 && x + i < columns && y + j >= 0 && y + j < rows)
            beside = beside || all[std::size_t(y + j) * columns + x + i].brightest >= 100 * (1 - 1e-5);
      dark += c.mean < 1 && beside ? 1 : 0;
      detail += c.mean >= 0.005 && c.mean <= 1 && c.highest >= 1.5 * std::max(c.lowest, 0.005) ? 1 : 0;
    }
  r.figures.dark_beside_bright = double(dark) / (columns * rows);
  r.figures.near_black_detail = double(detail) / (columns * rows);
  r.block_columns = (columns + 3) / 4;
  r.block_rows = (rows + 3) / 4;
  for (int y = 0; y < r.block_rows; ++y)
    for (int x = 0; x < r.block_columns; ++x)
      r.block_mean.push_back(
          cell_of(r, w, {x * 4 * e, y * 4 * e, std::min(w, (x + 1) * 4 * e), std::min(h, (y + 1) * 4 * e)}).mean);
}

}  // namespace

Reference measure_reference(const Picture& picture) {
  const int w = picture.format.width, h = picture.format.height;
  const M33 to_xyz = rgb_to_xyz(picture.format.gamut), m709 = rgb_to_xyz(Gamut::bt709), mp3 = rgb_to_xyz(Gamut::p3_d65);
  Reference r;
  for (int y = 0; y < h; ++y)
    for (int x = 0; x < w; ++x) r.pixels.push_back(pixel(picture, x, y, to_xyz, m709, mp3));
  r.figures.active = active_area(r.pixels, w, h);
  pixelwise(r, w);
  means(r, w, h, to_xyz);
  r.figures.max_rgb_robust = robust(r.pixels, w, h);
  cells(r, w, h);
  return r;
}

double reference_pq_signal(double luminance) {
  return pq_signal(luminance);
}

}  // namespace provenit::programme::testing
