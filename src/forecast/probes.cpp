// Signals that show what the standard procedures leave open, and those of the eye check.
#include <cmath>

#include "provenit/colour/transfer_pq.h"
#include "provenit/forecast/evidence.h"
#include "provenit/signal/codes.h"

namespace provenit::forecast {
namespace {

/// Makes signals of one encoding.
class Maker {
 public:
  explicit Maker(const signal::Encoding& encoding) : encoding_(encoding) {}

  [[nodiscard]] signal::CodeRgb grey(double cdm2) const {
    if (cdm2 <= 0) return signal::black_code(encoding_);
    if (cdm2 >= 10000) return signal::peak_code(encoding_);
    return signal::grey_code(encoding_, colour::pq_inverse_eotf(colour::Luminance<>{.cdm2 = cdm2}));
  }
  /// A window of these shares of width and height.
  [[nodiscard]] signal::Signal window(double side, signal::CodeRgb patch, double surround_cdm2 = 0, double x = 0.5,
                                      double y = 0.5) const {
    return {.encoding = encoding_,
            .patch = patch,
            .surround = grey(surround_cdm2),
            .geometry = {.shape = signal::Shape::window, .area_fraction = side * side, .centre_x = x, .centre_y = y}};
  }
  [[nodiscard]] signal::Signal field(double cdm2) const {
    return {.encoding = encoding_, .patch = grey(cdm2), .surround = grey(cdm2), .geometry = {}};
  }
  [[nodiscard]] signal::Signal checkerboard(int columns, int rows, double cdm2) const {
    return {.encoding = encoding_,
            .patch = grey(cdm2),
            .surround = grey(0),
            .geometry = {.shape = signal::Shape::checkerboard, .columns = columns, .rows = rows}};
  }
  /// One channel of the container at its most.
  [[nodiscard]] signal::CodeRgb channel(std::size_t c) const {
    auto code = signal::black_code(encoding_);
    code.code[c] = signal::peak_code(encoding_).code[c];
    return code;
  }

 private:
  signal::Encoding encoding_;
};

constexpr double kWhite = 10000;

}  // namespace

std::vector<Probe> probe_signals(const signal::Encoding& encoding, int zone_columns, int zone_rows) {
  const Maker make(encoding);
  std::vector<Probe> out;
  if (zone_columns > 0 && zone_rows > 0) {
    // A star inside the zone right of and below the centre, one on the corner of four zones, and a larger one.
    const double side = 0.6 / std::max(zone_columns, zone_rows);
    const double x = (std::floor(zone_columns / 2.0) + 0.5) / zone_columns,
                 y = (std::floor(zone_rows / 2.0) + 0.5) / zone_rows;
    const double corner_x = std::floor(zone_columns / 2.0) / zone_columns,
                 corner_y = std::floor(zone_rows / 2.0) / zone_rows;
    const auto star = make.window(side, make.grey(kWhite), 0, x, y);
    const auto dim_star = make.window(side, make.grey(300), 0, x, y);
    const auto corner = make.window(side, make.grey(kWhite), 0, corner_x, corner_y);
    const auto large = make.window(2.5 * side, make.grey(kWhite), 0, x, y);
    out = {{"star", star, x, y},
           {"star, black 3 %", star, x + 0.03, y},
           {"star, black 6 %", star, x + 0.06, y},
           {"star, black 12 %", star, x + 0.12, y},
           {"dim star", dim_star, x, y},
           {"dim star, black 3 %", dim_star, x + 0.03, y},
           {"star on a corner", corner, corner_x, corner_y},
           {"star on a corner, black 3 %", corner, corner_x, corner_y + 0.03},
           {"large star", large, x, y},
           {"large star, black 3 %", large, x + 1.25 * side + 0.03, y}};
    for (const double cdm2 : {300.0, 30.0, 3.0}) {
      const auto dim = make.window(0.2, make.grey(cdm2));
      const auto level = std::to_string(static_cast<int>(cdm2));
      out.push_back({level + " cd/m2, black 3 %", dim, 0.63, 0.5});
      out.push_back({level + " cd/m2, black 8 %", dim, 0.68, 0.5});
    }
    const auto hole = make.window(0.25, make.grey(0), 100);
    out.push_back({"black in 100 cd/m2", hole, 0.5, 0.5});
    out.push_back({"100 cd/m2 around black", hole, 0.9, 0.5});
  }
  const char* names[] = {"red", "green", "blue"};
  for (std::size_t c = 0; c < 3; ++c)
    for (const double area : {0.1, 0.6})
      out.push_back({std::string(names[c]) + " on " + std::to_string(std::lround(100 * area)) + " % of the picture",
                     make.window(std::sqrt(area), make.channel(c)), 0.5, 0.5});
  for (const double area : {0.1, 0.25, 0.5}) {
    const auto lit = make.window(std::sqrt(area), make.grey(kWhite), 50);
    out.push_back({"50 cd/m2 beside white on " + std::to_string(std::lround(100 * area)) + " %", lit, 0.93, 0.5});
  }
  for (const double cdm2 : {50.0, 200.0, 400.0})
    out.push_back({"field of " + std::to_string(static_cast<int>(cdm2)) + " cd/m2", make.field(cdm2), 0.5, 0.5});
  return out;
}

std::vector<Probe> check_signals(const signal::Encoding& encoding, bool turned) {
  const Maker make(encoding);
  const double k = turned ? 0.7 : 1;  // of every level below white
  const auto at = [turned](double share) { return turned ? 1 - share : share; };
  const auto window = [&](double side, double cdm2, double surround_cdm2, double x, double y) {
    return make.window(side, make.grey(cdm2), surround_cdm2, at(x), at(y));
  };
  const auto small = window(turned ? 0.11 : 0.14, kWhite, 0, 0.3, 0.4), star = window(0.012, kWhite, 0, 0.7, 0.3),
             dim_star = window(0.02, 300 * k, 0, 0.25, 0.7), four = make.checkerboard(4, 4, turned ? 600 : kWhite),
             nine = make.checkerboard(9, 5, 200 * k), on_grey = window(0.55, 400 * k, 2, 0.5, 0.5),
             bar = window(0.316, kWhite, 0, 0.5, 0.128 + 0.158),
             large = window(turned ? 0.65 : 0.775, kWhite, 0, 0.5, 0.5), low = window(0.1, 1000 * k, 0, 0.5, 0.85),
             hole = window(0.3, 0, 150 * k, 0.5, 0.5);
  return {{"window off centre", small, at(0.3), at(0.4)},
          {"black beside the window", small, at(0.41), at(0.4)},
          {"small star", star, at(0.7), at(0.3)},
          {"black beside the small star", star, at(0.735), at(0.3)},
          {"dim star", dim_star, at(0.25), at(0.7)},
          {"black beside the dim star", dim_star, at(0.29), at(0.7)},
          {"checkerboard 4 x 4", four, 0.625, 0.625},
          {"black of the checkerboard 4 x 4", four, 0.375, 0.625},
          {"checkerboard 9 x 5", nine, 0.5, 0.5},
          {"black of the checkerboard 9 x 5", nine, 0.5 + 1.0 / 9, 0.5},
          {"window on grey", on_grey, 0.5, 0.5},
          {"grey around the window", on_grey, at(0.9), 0.5},
          {"window below a letterbox bar", bar, 0.5, at(0.286)},
          {"letterbox bar", bar, 0.5, at(0.064)},
          {"large window", large, 0.5, 0.5},
          {"bright window near the edge", low, 0.5, at(0.85)},
          {"black beside the bright window", low, 0.5, at(0.7)},
          {"grey around black", hole, at(0.15), 0.5},
          {"black in grey", hole, 0.5, 0.5}};
}

}  // namespace provenit::forecast
