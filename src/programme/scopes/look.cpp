#include "provenit/programme/look.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "page.h"
#include "provenit/signal/png16.h"

namespace provenit::programme {
namespace {

constexpr std::array<const char*, kViews.size()> kNames{"waveform",  "parade",       "vectorscope", "chromaticity",
                                                        "histogram", "false_colour", "gamut",       "sdr"};

}  // namespace

const char* name_of(View value) {
  return kNames[static_cast<std::size_t>(value)];
}

std::optional<View> view_from_name(std::string_view name) {
  for (const View v : kViews)
    if (name == name_of(v)) return v;
  return std::nullopt;
}

Result<std::string> png_of(const Drawing& drawing) {
  constexpr signal::CodePoints srgb{.primaries = 1, .transfer = 13, .matrix = 0, .full_range = 1};
  return signal::png16(drawing.samples, {.width = drawing.width, .height = drawing.height}, srgb);
}

Drawing draw(View view, const LightImage& image, const PictureLabel& label) {
  switch (view) {
    case View::waveform:
      return drawing::waveform_page(image, label);
    case View::parade:
      return drawing::parade_page(image, label);
    case View::vectorscope:
      return drawing::vectorscope_page(image, label);
    case View::chromaticity:
      return drawing::chromaticity_page(image, label);
    case View::histogram:
      return drawing::histogram_page(image, label);
    case View::false_colour:
      return drawing::false_colour_page(image, label);
    case View::gamut:
      return drawing::gamut_page(image, label);
    case View::sdr:
      return drawing::sdr_page(image, label);
  }
  return {};
}

Drawing contact_sheet(std::span<const SheetEntry> entries, const std::string& title, const std::string& note) {
  if (entries.empty()) return {};
  constexpr int kGap = 24, kLines = 62;
  const int columns = std::min<int>(4, static_cast<int>(entries.size()));
  const int rows = (static_cast<int>(entries.size()) + columns - 1) / columns;
  const int width = 2 * drawing::kMargin + columns * kPreviewWidth + (columns - 1) * kGap;
  const int top = drawing::kHead + 8, step = kPreviewHeight + kLines + kGap;
  drawing::Canvas canvas(std::max(width, 900), top + rows * step + drawing::notes_height(1));
  canvas.text(drawing::kMargin, drawing::kHead / 2.0 + 4, drawing::kTitleSize, drawing::kText, title);
  for (std::size_t i = 0; i < entries.size(); ++i) {
    const auto& e = entries[i];
    const int x = drawing::kMargin + static_cast<int>(i) % columns * (kPreviewWidth + kGap);
    const int y = top + static_cast<int>(i) / columns * step;
    canvas.fill({x, y, kPreviewWidth, kPreviewHeight}, drawing::kPlotGround);
    canvas.copy(e.preview, x + (kPreviewWidth - e.preview.width) / 2, y + (kPreviewHeight - e.preview.height) / 2);
    canvas.text(x, y + kPreviewHeight + 20, drawing::kLabelSize, drawing::kText, e.lines[0]);
    canvas.text(x, y + kPreviewHeight + 46, drawing::kLabelSize, drawing::kFaint, e.lines[1]);
  }
  const std::array<std::string, 1> lines{note};
  drawing::notes(canvas, lines);
  return canvas.take();
}

std::string time_text(double seconds) {
  const auto ms = static_cast<long long>(std::llround(std::max(0.0, seconds) * 1000));
  return fmt::format("{}:{:02d}:{:02d}.{:03d}", ms / 3600000, ms / 60000 % 60, ms / 1000 % 60, ms % 1000);
}

}  // namespace provenit::programme
