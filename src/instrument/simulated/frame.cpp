#include "provenit/simulated/frame.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <optional>
#include <stdexcept>
#include <thread>
#include <utility>

#include "emitters_internal.h"
#include "panel_internal.h"
#include "picture_internal.h"
#include "view_internal.h"
#include "zone_light_internal.h"

namespace provenit::simulated {
namespace {

/// Half of the rows each to two threads.
template <class F>
void in_two(int rows, F&& work) {
  std::thread other([&] { work(rows / 2, rows); });
  work(0, rows / 2);
  other.join();
}

double most_of(const Drive& d) {
  return std::max({d[0], d[1], d[2]});
}

Emitters spectra_of(const DisplayPhysics& physics) {
  auto made = Emitters::make(physics);
  if (!made) throw std::invalid_argument(made.error().text());
  return *made;
}

/// Sums what the pixels of a picture ask of the zones. A pixel is the rectangle it covers.
class ZoneSums {
 public:
  ZoneSums(int zones, int pixels) : zones_(zones), pixels_(pixels) {}
  /// Calls take(zone, share of the zone) for the zones along one axis that pixel i reaches into.
  template <class F>
  void of(int i, F&& take) const {
    constexpr double hair = 1e-9;  // rounding may leave that much of a neighbour
    const double from = static_cast<double>(i) * zones_ / pixels_, to = static_cast<double>(i + 1) * zones_ / pixels_;
    for (int z = static_cast<int>(from); z < zones_ && z < to; ++z)
      if (const double share = std::min(to, z + 1.0) - std::max(from, static_cast<double>(z)); share > hair)
        take(z, share);
  }

 private:
  int zones_, pixels_;
};

}  // namespace

struct FrameScreen::Impl {
  DisplayPhysics physics;
  Options options;
  Emitters emitters;
  Panel panel;
  Decoder decoder;
  Optics optics;
  std::optional<ZoneLight> zone_light;
  std::optional<Standing> standing;  ///< where the frame before has left it
  mutable std::vector<ViewFactors> view;
  mutable int view_width = 0, view_height = 0;

  Impl(DisplayPhysics p, const Options& o)
      : physics(std::move(p)),
        options(o),
        emitters(spectra_of(physics)),
        panel(physics),
        decoder(physics.decoding),
        optics(physics, PictureControls(physics), 0.5, 0.5) {
    if (physics.zones) zone_light.emplace(*physics.zones, physics.aspect);
  }

  [[nodiscard]] Result<void> check(const CodeFrame& frame) const {
    if (auto valid = signal::validate(frame.encoding); !valid) return valid;
    if (frame.width < 1 || frame.height < 1 ||
        frame.codes.size() != static_cast<std::size_t>(frame.width) * static_cast<std::size_t>(frame.height))
      return fail(ErrorCode::invalid_input,
                  fmt::format("{} pixels for a frame of {} x {}", frame.codes.size(), frame.width, frame.height),
                  "Give one R'G'B' for each pixel.");
    return {};
  }

  [[nodiscard]] std::vector<Drive> drives(const CodeFrame& frame) const {
    std::vector<Drive> out(frame.codes.size());
    in_two(frame.height, [&](int from, int to) {
      for (auto i = static_cast<std::size_t>(from) * frame.width; i < static_cast<std::size_t>(to) * frame.width; ++i) {
        const auto& code = frame.codes[i];
        out[i] = decoder.drive(frame.encoding, {.code = {code[0], code[1], code[2]}});
      }
    });
    return out;
  }

  [[nodiscard]] Demand demand(const CodeFrame& frame, const std::vector<Drive>& drives) const {
    Drive mean{};
    for (const auto& d : drives)
      for (std::size_t c = 0; c < 3; ++c) mean[c] += d[c] / static_cast<double>(drives.size());
    std::vector<ZoneContent> content;
    if (physics.zones) {
      const int columns = physics.zones->columns, rows = physics.zones->rows;
      content.resize(static_cast<std::size_t>(columns) * static_cast<std::size_t>(rows));
      const ZoneSums across(columns, frame.width), down(rows, frame.height);
      for (int y = 0; y < frame.height; ++y)
        for (int x = 0; x < frame.width; ++x) {
          const double asked = most_of(drives[static_cast<std::size_t>(y) * frame.width + x]);
          down.of(y, [&](int row, double high) {
            across.of(x, [&](int column, double wide) {
              auto& zone = content[static_cast<std::size_t>(row) * static_cast<std::size_t>(columns) +
                                   static_cast<std::size_t>(column)];
              zone.largest = std::max(zone.largest, asked);
              zone.mean += high * wide * asked;
            });
          });
        }
    }
    Demand out = optics.demand(content, mean);
    if (!options.limited) out.cap = 1;
    return out;
  }

  void see(int width, int height) const {
    if (view_width == width && view_height == height) return;
    view.clear();
    for (int y = options.stride / 2; y < height; y += options.stride)
      for (int x = options.stride / 2; x < width; x += options.stride)
        view.push_back(view_factors(physics, {.x = (x + 0.5) / width, .y = (y + 0.5) / height}));
    view_width = width;
    view_height = height;
  }

  [[nodiscard]] FrameLight light(const CodeFrame& frame, const std::vector<Drive>& drives, const Standing& now,
                                 double load) const {
    see(frame.width, frame.height);
    const int stride = options.stride, first = stride / 2;
    FrameLight out{.width = (frame.width - first + stride - 1) / stride,
                   .height = (frame.height - first + stride - 1) / stride,
                   .xyz = {},
                   .load = load,
                   .cap = now.cap};
    out.xyz.resize(static_cast<std::size_t>(out.width) * static_cast<std::size_t>(out.height));
    const auto nodes = zone_light ? zone_light->nodes(now.zones) : ZoneLight::Nodes{};
    const double dim = std::pow(now.cap, physics.limiter.dim_share);
    in_two(out.height, [&](int from, int to) {
      for (int j = from; j < to; ++j)
        for (int i = 0; i < out.width; ++i) {
          const int x = first + i * stride, y = first + j * stride;
          Backlight behind{.cap = now.cap, .dim = dim};
          if (zone_light) {
            const auto at = zone_light->at(nodes, (x + 0.5) / frame.width, (y + 0.5) / frame.height);
            behind.actual = at.actual * now.cap;
            behind.estimate = at.estimate * now.cap;
          }
          const auto k = static_cast<std::size_t>(j) * out.width + i;
          const auto& drive = drives[static_cast<std::size_t>(y) * frame.width + x];
          const auto xyz = emitters.xyz(view[k].applied(panel.mixture(drive, behind, options.state)));
          out.xyz[k] = {static_cast<float>(xyz.X), static_cast<float>(xyz.Y), static_cast<float>(xyz.Z)};
        }
    });
    return out;
  }
};

FrameScreen::FrameScreen(DisplayPhysics physics, const Options& options)
    : impl_(std::make_unique<Impl>(std::move(physics), options)) {}
FrameScreen::~FrameScreen() = default;
FrameScreen::FrameScreen(FrameScreen&&) noexcept = default;
FrameScreen& FrameScreen::operator=(FrameScreen&&) noexcept = default;

Result<FrameLight> FrameScreen::settled(const CodeFrame& frame) const {
  if (auto valid = impl_->check(frame); !valid) return tl::unexpected(valid.error());
  const auto drives = impl_->drives(frame);
  const Demand asked = impl_->demand(frame, drives);
  return impl_->light(frame, drives, {.cap = asked.cap, .zones = asked.zones}, asked.load);
}

Result<FrameLight> FrameScreen::step(const CodeFrame& frame, Seconds duration) {
  if (auto valid = impl_->check(frame); !valid) return tl::unexpected(valid.error());
  const auto drives = impl_->drives(frame);
  const Demand asked = impl_->demand(frame, drives);
  const Standing before = impl_->standing.value_or(Standing{.cap = asked.cap, .zones = asked.zones});
  const Standing middle = impl_->optics.standing(before, asked, Seconds{duration.s / 2});
  impl_->standing = impl_->optics.standing(before, asked, duration);
  return impl_->light(frame, drives, middle, asked.load);
}

}  // namespace provenit::simulated
