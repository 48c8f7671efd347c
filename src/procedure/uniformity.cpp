// Uniformity: one grey field, read at the middles of 3 x 3, 5 x 5 or 11 x 9 equal parts of the picture.
// signals  full field of the grey next to level_cdm2, the same for all; the meter moves
//          "point_<column>_<row>", from 1, row by row and every second row backwards, so that moves are short;
//          "reference": the same field at the centre, at the start, after reference_interval_s, and at the end
// cost     points x (move + reading) + 2 moves for each return to the centre
// source   9 points and the middles of equal parts: common practice, no source. 25 and 99 likewise
#include <fmt/format.h>

#include <algorithm>

#include "procedures_internal.h"
#include "provenit/signal/codes.h"
#include "scripted_internal.h"

namespace provenit::procedure {
namespace {

struct Grid {
  int points, columns, rows;
};
constexpr Grid kGrids[] = {{9, 3, 3}, {25, 5, 5}, {99, 11, 9}};

Result<signal::Signal> field(const Setting& setting) {
  const auto& encoding = setting.context.encoding;
  const double level = std::min(setting.number("level_cdm2"), setting.context.expected_peak_cdm2);
  const auto code = signal::grey_code(encoding, colour::Luminance<>{.cdm2 = level});
  if (!code) return tl::unexpected(code.error());
  return full_field(encoding, *code);
}

class Uniformity final : public Scripted {
 public:
  std::string id() const override { return "uniformity"; }
  int version() const override { return 1; }
  std::string title() const override { return "Uniformity"; }
  std::vector<std::string> sources() const override {
    return {"This project (docs/methods/uniformity.md); grids of 9, 25 and 99 points are common practice, no source"};
  }
  std::vector<std::string> quantities() const override {
    return {"luminance_nonuniformity", "uniformity_max_delta_uv"};
  }

 protected:
  std::vector<Parameter> parameters() const override {
    return with_common({{"settle_s", 5.0, 0, 600},
                        {"repeats", 3, 1, 100},
                        {"max_repeats", 3, 1, 100},
                        {"reference_interval_s", 300.0, 1, 36000},
                        {"max_bright_dwell_s", 3600.0, 1, 36000},
                        {"points", 9, 9, 99},
                        {"level_cdm2", 100.0, 0.1, 10000},
                        kMoveParameter});
  }
  Result<Step> reference(const Setting& setting) const override {
    auto shown = field(setting);
    if (!shown) return tl::unexpected(shown.error());
    Step step = step_for(setting, {"reference", *shown, ""}, 0, false);
    step.why = "the centre again, to follow drift";
    return step;
  }
  Result<std::optional<Step>> script(const Setting& setting) const override {
    const int points = setting.integer("points");
    const auto* grid = std::ranges::find(kGrids, points, &Grid::points);
    if (grid == std::end(kGrids))
      return fail(ErrorCode::out_of_range, fmt::format("uniformity: there is no grid of {} points", points),
                  "Give 9, 25 or 99.", {.field = "points"});
    auto shown = field(setting);
    if (!shown) return tl::unexpected(shown.error());
    std::vector<Patch> pass;
    for (int row = 0; row < grid->rows; ++row)
      for (int i = 0; i < grid->columns; ++i) {
        const int column = row % 2 == 0 ? i : grid->columns - 1 - i;
        pass.push_back({fmt::format("point_{}_{}", column + 1, row + 1),
                        *shown,
                        fmt::format("column {} of {}, row {} of {}", column + 1, grid->columns, row + 1, grid->rows),
                        {.x = (column + 0.5) / grid->columns, .y = (row + 0.5) / grid->rows}});
      }
    return next_by_place(setting, pass);
  }
};

}  // namespace

std::unique_ptr<Procedure> make_uniformity() {
  return std::make_unique<Uniformity>();
}

}  // namespace provenit::procedure
