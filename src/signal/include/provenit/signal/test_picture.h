#pragma once
// Pictures that test a display, exact to the code value on any raster: ramps, charts, patterns that move. A test
// picture is asked for by key and parameters, says what it is for, and names the places whose codes are known, so that
// whoever writes, plays or reads it can check it.
#include <cstdint>
#include <memory>
#include <nlohmann/json.hpp>
#include <string>
#include <vector>

#include "provenit/base/error.h"
#include "provenit/signal/raster.h"
#include "provenit/signal/signal.h"

namespace provenit::signal {

/// What a parameter's `value` is counted in if nothing is given.
enum class DefaultUnit {
  number,           ///< the value itself
  reference_white,  ///< times the encoding's reference white in cd/m2: reference_white_cdm2
  nominal_peak      ///< times the encoding's nominal peak in cd/m2 (for PQ: the peak claimed for the display)
};

/// A number that a picture takes.
struct PictureParameter {
  std::string name;  ///< with its unit: "area_percent", "level_cdm2", "columns"
  double value = 0;  ///< if nothing is given, in default_unit
  double least = 0, most = 0;
  bool whole = false;  ///< takes whole numbers only
  std::string meaning;
  DefaultUnit default_unit = DefaultUnit::number;
};

/// 203 cd/m2 for PQ; what 75 % signal shows for HLG (203 at a nominal peak of 1000); the nominal peak for BT.1886.
/// source  Report ITU-R BT.2408 (PQ, HLG); BT.1886: its white is its peak
[[nodiscard]] double reference_white_cdm2(const Encoding& encoding);
/// The parameter's value if nothing is given, within its bounds.
[[nodiscard]] double default_of(const PictureParameter& parameter, const Encoding& encoding);

struct PictureInfo {
  std::string key;      ///< "luminance_ramp", lower case with underscores
  std::string title;    ///< "Luminance ramp"
  std::string purpose;  ///< what is looked for or measured, and what a good display shows
  std::string source;   ///< document and clause, or "common practice, no source", or "own design"
  std::string caution;  ///< flashing, long bright stay; empty: none
  std::vector<PictureParameter> parameters;
};

/// Every picture there is, in the order of docs/test-pictures.md.
[[nodiscard]] const std::vector<PictureInfo>& test_pictures();

/// A rectangle of one code value.
struct PicturePlace {
  std::string name;  ///< unique in its frame: "step 12", "red 3", "centre"
  PixelRectangle area;
  CodeRgb code;
};

struct PictureRequest {
  std::string key;
  nlohmann::json parameters = nlohmann::json::object();  ///< by name; those not given have their default
  Encoding encoding;
  RasterSize size;
};

/// One test picture on one raster. Frames are made row by row when asked for. Calls on one object may run at once.
class TestPicture {
 public:
  /// Errors: not_found for an unknown key (the keys are named); invalid_input for an unknown parameter; out_of_range
  /// for a parameter, encoding or raster that the picture cannot be made with, with what would do.
  [[nodiscard]] static Result<TestPicture> make(const PictureRequest& request);

  [[nodiscard]] const PictureInfo& info() const;
  [[nodiscard]] const PictureRequest& request() const;  ///< with every parameter filled in
  /// 1 for a still; the walk, motion or steps of the others, shown at the rate of the clip.
  [[nodiscard]] int frames() const;
  /// What this frame shows, for the record: "box at column 12 of 80". Empty for a still.
  [[nodiscard]] std::string frame_text(int frame) const;
  /// Row y of a frame, three values per pixel (R', G', B'), each a code value of the encoding's bit depth.
  [[nodiscard]] std::vector<std::uint16_t> row(int frame, int y) const;
  /// Places of one code in this frame; those a reading is taken of come first.
  [[nodiscard]] std::vector<PicturePlace> places(int frame) const;

  TestPicture(TestPicture&&) noexcept;
  TestPicture& operator=(TestPicture&&) noexcept;
  ~TestPicture();

  class Painter;  ///< what each picture implements: pictures/painter.h

 private:
  TestPicture(std::unique_ptr<const Painter> painter, PictureRequest request, const PictureInfo& info);
  std::unique_ptr<const Painter> painter_;
  PictureRequest request_;
  const PictureInfo* info_;
};

}  // namespace provenit::signal
