#include "pictures/patches.h"

#include <fmt/format.h>

#include <algorithm>

namespace provenit::signal::pictures {
namespace {

Sheet card(RasterSize size, const CodeRgb& ground, const std::vector<Patch>& patches, int columns) {
  Sheet sheet(size, ground);
  const int rows = (static_cast<int>(patches.size()) + columns - 1) / columns;
  const auto area = inset(whole(size), std::min(size.width, size.height) / 20);
  for (int i = 0; i < static_cast<int>(patches.size()); ++i) {
    const auto& patch = patches[static_cast<std::size_t>(i)];
    const auto box = cell(area, columns, rows, i % columns, i / columns);
    if (patch.code) sheet.place(patch.name, inset(box, std::min(box.width, box.height) / 8), *patch.code);
  }
  return sheet;
}

}  // namespace

std::vector<PictureParameter> with_patch_parameters(std::vector<PictureParameter> own, bool one_per_frame) {
  own.push_back(yes_no("one_per_frame", one_per_frame, "1: one patch per frame in a window; 0: all on one card"));
  own.push_back(number("area_percent", 10, 0.1, 100, "area of the window, if one per frame"));
  own.push_back({.name = "surround_cdm2", .value = 0, .most = 10000, .meaning = "level around the patches"});
  return own;
}

Painter patch_painter(Setting& setting, std::vector<Patch> patches, int columns) {
  const auto ground = setting.grey("surround_cdm2");
  if (!setting.yes("one_per_frame")) return Painter(card(setting.size, ground, patches, columns));
  std::erase_if(patches, [](const Patch& p) { return !p.code; });
  const auto shown = std::make_shared<const std::vector<Patch>>(std::move(patches));
  const auto at = [shown](int frame) -> const Patch& { return (*shown)[static_cast<std::size_t>(frame)]; };
  const auto area = window(setting.size, setting.number("area_percent"));
  const auto make = [at, area, ground, size = setting.size](int frame) {
    Sheet sheet(size, ground);
    sheet.place(at(frame).name, area, *at(frame).code);
    return sheet;
  };
  const int frames = static_cast<int>(shown->size());
  return Painter(frames, make,
                 [at, frames](int frame) { return fmt::format("{} of {}: {}", frame + 1, frames, at(frame).name); });
}

}  // namespace provenit::signal::pictures
