#include "clip_planes.h"

#include <algorithm>
#include <cmath>

namespace provenit::signal {
namespace {

constexpr std::int64_t kShareUnit = 10000;

/// To the nearest whole number, half up.
std::int64_t rounded(std::int64_t value, std::int64_t divisor) {
  const std::int64_t twice = 2 * value + divisor, by = 2 * divisor;
  return twice >= 0 ? twice / by : -((-twice + by - 1) / by);
}

}  // namespace

colour::YcbcrMatrix clip_matrix(const Encoding& encoding) {
  return encoding.container == Container::bt2020 ? colour::YcbcrMatrix::bt2020_ncl : colour::YcbcrMatrix::bt709;
}

ClipSiting clip_siting(const Encoding& encoding) {
  const bool bt1886 = encoding.transfer == Transfer::bt1886;
  return bt1886 && encoding.container != Container::bt2020 ? ClipSiting::left : ClipSiting::top_left;
}

YcbcrRounding::YcbcrRounding(const Encoding& encoding)
    : limits_(colour::video_data_range(encoding.bits, encoding.range)) {
  const bool narrow = encoding.range == Range::narrow;
  const auto shares = colour::luma_shares(clip_matrix(encoding));
  red_ = std::llround(shares.red * kShareUnit);
  blue_ = std::llround(shares.blue * kShareUnit);
  green_ = kShareUnit - red_ - blue_;
  black_ = narrow ? 16 << (encoding.bits - 8) : 0;
  chroma_zero_ = 1 << (encoding.bits - 1);
  // Cb = (B' - Y') / (2 - 2 Kb). Narrow range gives R'G'B' 219 steps and Cb 224, full range the same number to both.
  chroma_factor_ = narrow ? 224 : 1;
  cb_divisor_ = (narrow ? 219 : 1) * 2 * (kShareUnit - blue_);
  cr_divisor_ = (narrow ? 219 : 1) * 2 * (kShareUnit - red_);
}

YcbcrRounding::Sums YcbcrRounding::sums_of(int r, int g, int b) const {
  const std::int64_t red = r - black_, green = g - black_, blue = b - black_;
  const std::int64_t y = red_ * red + green_ * green + blue_ * blue;
  return {.y = y, .cb = kShareUnit * blue - y, .cr = kShareUnit * red - y};
}

std::uint16_t YcbcrRounding::luma(std::int64_t y) const {
  return static_cast<std::uint16_t>(
      std::clamp<std::int64_t>(rounded(y, kShareUnit) + black_, limits_.lowest, limits_.highest));
}

std::uint16_t YcbcrRounding::chroma(std::int64_t sum, std::int64_t divisor) const {
  const auto code = rounded(sum * chroma_factor_ + chroma_zero_ * divisor, divisor);
  return static_cast<std::uint16_t>(std::clamp<std::int64_t>(code, limits_.lowest, limits_.highest));
}

std::array<int, 3> clip_codes(const Encoding& encoding, ClipChroma chroma, const CodeRgb& code) {
  if (chroma == ClipChroma::rgb) return code.code;
  const YcbcrRounding rounding(encoding);
  const auto sums = rounding.sums_of(code.code[0], code.code[1], code.code[2]);
  return {rounding.luma(sums.y), rounding.cb(sums.cb, 1), rounding.cr(sums.cr, 1)};
}

PlaneMaker::PlaneMaker(const FrameSource& source, ClipChroma chroma)
    : source_(source), chroma_(chroma), rounding_(source.encoding), siting_(clip_siting(source.encoding)) {
  const auto [width, height] = source.size;
  const int across = chroma == ClipChroma::c420 || chroma == ClipChroma::c422 ? 2 : 1;
  const int down = chroma == ClipChroma::c420 ? 2 : 1;
  for (std::size_t i = 0; i < 3; ++i) {
    auto& plane = planes_.plane[i];
    plane.width = i == 0 ? width : width / across;
    plane.height = i == 0 ? height : height / down;
    plane.codes.resize(static_cast<std::size_t>(plane.width) * plane.height);
  }
  cb_.resize(static_cast<std::size_t>(width));
  cr_.resize(static_cast<std::size_t>(width));
}

Result<void> PlaneMaker::make(int frame) {
  row_above_.clear();
  for (int y = 0; y < source_.size.height; ++y) {
    auto row = checked_row(source_, frame, y);
    if (!row) return tl::unexpected(row.error());
    if (chroma_ == ClipChroma::rgb)
      take_rgb(y, *row);
    else
      take_row(y, *row);
    row_above_ = std::move(*row);
  }
  return {};
}

void PlaneMaker::take_rgb(int y, const std::vector<std::uint16_t>& row) {
  for (std::size_t c = 0; c < 3; ++c) {
    auto* const out = planes_.plane[c].row(y);
    for (std::size_t x = 0; 3 * x < row.size(); ++x) out[x] = row[3 * x + c];
  }
}

void PlaneMaker::take_row(int y, const std::vector<std::uint16_t>& row) {
  auto& here = chroma_of_[static_cast<std::size_t>(y % 3)];
  auto* const luma = planes_.plane[0].row(y);
  if (y > 0 && row == row_above_) {  // rows repeat in most pictures
    std::copy_n(planes_.plane[0].row(y - 1), row.size() / 3, luma);
    here = chroma_of_[static_cast<std::size_t>((y + 2) % 3)];
  } else {
    for (std::size_t x = 0; 3 * x < row.size(); ++x) {
      if (x > 0 && std::equal(&row[3 * x], &row[3 * x] + 3, &row[3 * x - 3])) {
        luma[x] = luma[x - 1];
        cb_[x] = cb_[x - 1];
        cr_[x] = cr_[x - 1];
        continue;
      }
      const auto sums = rounding_.sums_of(row[3 * x], row[3 * x + 1], row[3 * x + 2]);
      luma[x] = rounding_.luma(sums.y);
      cb_[x] = sums.cb;
      cr_[x] = sums.cr;
    }
    filter_across(cb_, here.cb);
    filter_across(cr_, here.cr);
  }
  put_chroma_of(y);
}

void PlaneMaker::filter_across(const std::vector<std::int64_t>& in, std::vector<std::int64_t>& out) const {
  if (chroma_ == ClipChroma::c444) {
    out = in;
    return;
  }
  out.resize(in.size() / 2);
  for (std::size_t k = 0; k < out.size(); ++k)  // sizes are even: there is one to the right
    out[k] = in[k == 0 ? 0 : 2 * k - 1] + 2 * in[2 * k] + in[2 * k + 1];
}

/// Writes the chroma row that is complete with row y.
void PlaneMaker::put_chroma_of(int y) {
  const auto row = [&](int i) -> const ChromaRow& { return chroma_of_[static_cast<std::size_t>(i % 3)]; };
  if (chroma_ != ClipChroma::c420) return put_chroma(y, row(y), row(y), row(y), {0, 1, 0});
  if (y % 2 == 0) return;
  put_chroma(y / 2, row(y == 1 ? 0 : y - 2), row(y - 1), row(y),
             siting_ == ClipSiting::top_left ? std::array{1, 2, 1} : std::array{0, 1, 1});
}

void PlaneMaker::put_chroma(int y, const ChromaRow& above, const ChromaRow& here, const ChromaRow& below,
                            const std::array<int, 3>& weights) {
  const int weight = (chroma_ == ClipChroma::c444 ? 1 : 4) * (weights[0] + weights[1] + weights[2]);
  const auto sum = [&](const std::vector<std::int64_t> ChromaRow::*of, std::size_t x) {
    return weights[0] * (above.*of)[x] + weights[1] * (here.*of)[x] + weights[2] * (below.*of)[x];
  };
  auto* const cb = planes_.plane[1].row(y);
  auto* const cr = planes_.plane[2].row(y);
  for (std::size_t x = 0; x < here.cb.size(); ++x) {
    cb[x] = rounding_.cb(sum(&ChromaRow::cb, x), weight);
    cr[x] = rounding_.cr(sum(&ChromaRow::cr, x), weight);
  }
}

}  // namespace provenit::signal
