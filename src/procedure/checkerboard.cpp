// Checkerboard contrast: the same square, white in one phase and black in the other.
// signals  "check_white", "check_black": columns x rows squares (odd), code black and the grey next to level_cdm2, or
// the
//          highest code for level_cdm2 = 0; the centre square is the one that is read
// cost     2 x (settle + reading) + rests on black, per pass
// source   ICDM IDMS, n x m checkerboard (name from memory; there usually 4 x 4 and more). Ours: odd counts, so that
//          one square is centred and both phases are read at the same spot
#include <fmt/format.h>

#include "procedures_internal.h"
#include "provenit/signal/codes.h"
#include "scripted_internal.h"

namespace provenit::procedure {
namespace {

class Checkerboard final : public Scripted {
 public:
  std::string id() const override { return "checkerboard"; }
  int version() const override { return 1; }
  std::string title() const override { return "Checkerboard contrast"; }
  std::vector<std::string> sources() const override {
    return {"ICDM IDMS, n x m checkerboard contrast (name from memory; section not opened)"};
  }
  std::vector<std::string> quantities() const override { return {"checkerboard_contrast"}; }

 protected:
  std::vector<Parameter> parameters() const override {
    return with_common(
        {{"max_repeats", 5, 1, 100}, {"columns", 5, 3, 255}, {"rows", 5, 3, 255}, {"level_cdm2", 0.0, 0, 10000}});
  }
  Result<std::optional<Step>> script(const Setting& setting) const override {
    const auto& encoding = setting.context.encoding;
    for (const char* key : {"columns", "rows"})
      if (setting.integer(key) % 2 == 0)
        return fail(ErrorCode::out_of_range, fmt::format("checkerboard: {} = {}", key, setting.integer(key)),
                    "Give an odd number, so that one square is centred.", {.field = key});
    signal::CodeRgb white = signal::peak_code(encoding);
    if (const double level = setting.number("level_cdm2"); level > 0) {
      const auto code = signal::grey_code(encoding, colour::Luminance<>{.cdm2 = level});
      if (!code) return tl::unexpected(code.error());
      white = *code;
    }
    const auto black = signal::black_code(encoding);
    const signal::Geometry squares{.shape = signal::Shape::checkerboard,
                                   .area_fraction = 1,
                                   .columns = setting.integer("columns"),
                                   .rows = setting.integer("rows")};
    return next_in_passes(setting, {{"check_black",
                                     {.encoding = encoding, .patch = black, .surround = white, .geometry = squares},
                                     "checkerboard, centre black"},
                                    {"check_white",
                                     {.encoding = encoding, .patch = white, .surround = black, .geometry = squares},
                                     "checkerboard, centre white"}});
  }
};

}  // namespace

std::unique_ptr<Procedure> make_checkerboard() {
  return std::make_unique<Checkerboard>();
}

}  // namespace provenit::procedure
