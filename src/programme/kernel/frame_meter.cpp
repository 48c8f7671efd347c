#include "provenit/programme/frame_meter.h"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <array>
#include <optional>

#include "kernel/active_area.h"
#include "kernel/extremes.h"
#include "kernel/level.h"
#include "kernel/plan.h"
#include "provenit/colour/spaces.h"
#include "provenit/programme/pixel.h"

namespace provenit::programme {
namespace {

using kernel::Rect;
using kernel::RectFigures;

/// The cell cut along the edges of the active area: its part inside first, then up to four outside.
std::array<Rect, 5> cut(const Rect& cell, const Rect& active) {
  const Rect in = kernel::intersection(cell, active);
  if (in.empty()) return {Rect{}, cell};
  const int right = cell.x + cell.width, bottom = cell.y + cell.height;
  return {in, Rect{.x = cell.x, .y = cell.y, .width = cell.width, .height = in.y - cell.y},
          Rect{.x = cell.x, .y = in.y + in.height, .width = cell.width, .height = bottom - in.y - in.height},
          Rect{.x = cell.x, .y = in.y, .width = in.x - cell.x, .height = in.height},
          Rect{.x = in.x + in.width, .y = in.y, .width = right - in.x - in.width, .height = in.height}};
}

/// Measures one frame; lives as long as that.
class Measurement {
 public:
  Measurement(const kernel::Plan& plan, const kernel::Level& level, const Picture& picture)
      : plan_(plan), level_(level), picture_(picture), scratch_(kernel::thread_scratch()) {}

  FrameRecord run() {
    FrameFigures& f = record_.figures;
    f.index = picture_.index;
    f.time_s = picture_.time_s;
    f.damaged = picture_.damaged;
    scratch_.tally.clear();
    scratch_.exact.clear();
    f.active = kernel::find_active_area(picture_);
    measure_cells();
    fill_means();
    fill_shares();
    kernel::fill_cell_figures(plan_.grid, scratch_.cells, plan_.decoder.to_xyz(), record_);
    kernel::fill_extremes(plan_, level_, picture_, scratch_, f);
    kernel::fill_robust(plan_, level_, picture_, scratch_, f);
    kernel::fill_light(scratch_.tally.histogram.merge(), pixels(), record_);
    return record_;
  }

 private:
  [[nodiscard]] std::int64_t pixels() const { return std::int64_t{plan_.format.width} * plan_.format.height; }

  void measure_cells() {
    const ActiveArea& a = record_.figures.active;
    const Rect active{.x = a.left, .y = a.top, .width = a.width, .height = a.height};
    scratch_.cells.clear();
    for (int row = 0; row < plan_.grid.rows; ++row)
      for (int column = 0; column < plan_.grid.columns; ++column)
        scratch_.cells.push_back(measure_cell(plan_.grid.cell(column, row), active));
    for (const RectFigures& cell : scratch_.cells) whole_.add(cell);
    if (active.empty()) active_ = whole_;
  }

  RectFigures measure_cell(const Rect& cell, const Rect& active) {
    std::optional<RectFigures> figures;
    const auto parts = cut(cell, active);
    for (std::size_t i = 0; i < parts.size(); ++i) {
      if (parts[i].empty()) continue;
      const RectFigures part = level_.measure(plan_, picture_, parts[i], scratch_.tally, scratch_);
      if (i == 0) active_.add(part);
      if (figures)
        figures->add(part);
      else
        figures = part;
    }
    return *figures;
  }

  void fill_means() {
    FrameFigures& f = record_.figures;
    const ActiveArea& a = f.active;
    const auto all = static_cast<double>(pixels());
    const double inside = a.width > 0 ? static_cast<double>(std::int64_t{a.width} * a.height) : all;
    f.max_rgb_mean = whole_.max_rgb / all;
    f.max_rgb_mean_active = active_.max_rgb / inside;
    const auto mean = plan_.decoder.xyz({.r = whole_.r / all, .g = whole_.g / all, .b = whole_.b / all});
    f.luminance_mean = mean.Y;
    f.luminance_mean_active =
        plan_.decoder.xyz({.r = active_.r / inside, .g = active_.g / inside, .b = active_.b / inside}).Y;
    if (!(mean.Y > 0)) return;
    const auto uv = colour::uv_prime_from_xyz(mean);
    f.mean_u_prime = uv.u;
    f.mean_v_prime = uv.v;
  }

  void fill_shares() {
    FrameFigures& f = record_.figures;
    const auto share = [&](std::int64_t count) { return static_cast<double>(count) / static_cast<double>(pixels()); };
    for (std::size_t i = 0; i < kAboveCdm2.size(); ++i) f.share_above[i] = share(scratch_.tally.above[i]);
    for (std::size_t i = 0; i < kBelowCdm2.size(); ++i) f.share_below[i] = share(scratch_.tally.below[i]);
    f.share_outside_bt709 = share(scratch_.tally.outside_bt709);
    f.share_outside_p3 = share(scratch_.tally.outside_p3);
  }

  const kernel::Plan& plan_;
  const kernel::Level& level_;
  const Picture& picture_;
  kernel::Scratch& scratch_;
  FrameRecord record_;
  RectFigures whole_, active_;
};

}  // namespace

struct FrameMeter::Impl {
  kernel::Plan plan;
  kernel::Level level;
  std::string level_name;
};

std::vector<std::string> simd_levels() {
  return kernel::vector_level_names();
}

Result<FrameMeter> FrameMeter::make(const PictureFormat& format, std::string_view simd_level) {
  if (auto checked = check_format(format); !checked) return tl::unexpected(checked.error());
  const std::vector<std::string> names = simd_levels();
  const std::string name = simd_level.empty() ? names.front() : std::string(simd_level);
  if (std::find(names.begin(), names.end(), name) == names.end())
    return fail(ErrorCode::unsupported, fmt::format("the instruction set '{}' is not available", name),
                fmt::format("This machine runs: {}.", fmt::join(names, ", ")), {.field = "simd level"});
  auto impl = std::make_unique<Impl>(Impl{.plan = kernel::Plan(format), .level = {}, .level_name = name});
  impl->level = impl->plan.vectors ? kernel::vector_level(name) : kernel::plain_level();
  return FrameMeter(std::move(impl));
}

Result<FrameRecord> FrameMeter::measure(const Picture& picture) const {
  if (auto checked = check_picture(picture); !checked) return tl::unexpected(checked.error());
  if (picture.format != impl_->plan.format)
    return fail(ErrorCode::invalid_input,
                fmt::format("the picture is {}, the meter is for {}", describe(picture.format), describe(format())),
                "Make a meter for the new format.", {.frame = picture.index});
  return Measurement(impl_->plan, impl_->level, picture).run();
}

const PictureFormat& FrameMeter::format() const {
  return impl_->plan.format;
}
const std::string& FrameMeter::simd_level() const {
  return impl_->level_name;
}

FrameMeter::FrameMeter(std::unique_ptr<Impl> impl) : impl_(std::move(impl)) {}
FrameMeter::FrameMeter(FrameMeter&&) noexcept = default;
FrameMeter& FrameMeter::operator=(FrameMeter&&) noexcept = default;
FrameMeter::~FrameMeter() = default;

}  // namespace provenit::programme
