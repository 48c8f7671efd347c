#pragma once
// What each picture implements, and how the pictures of a family are told to the registry.
#include <functional>
#include <memory>
#include <mutex>
#include <optional>
#include <string>
#include <vector>

#include "pictures/layout.h"
#include "pictures/setting.h"
#include "pictures/sheet.h"

namespace provenit::signal {

/// The frames of a picture. `sheet` and `text` may be called by several threads at once.
class TestPicture::Painter {
 public:
  Painter() = default;
  /// A still.
  explicit Painter(pictures::Sheet sheet);
  /// A picture of several frames, each made when asked for.
  Painter(int frames, std::function<pictures::Sheet(int)> sheet, std::function<std::string(int)> text)
      : frames_(frames), make_(std::move(sheet)), text_(std::move(text)) {}

  [[nodiscard]] int frames() const { return frames_; }
  [[nodiscard]] std::string text(int frame) const { return text_ ? text_(frame) : std::string(); }
  /// The frame last asked for is kept, because its rows are asked for one by one.
  [[nodiscard]] std::shared_ptr<const pictures::Sheet> sheet(int frame) const;

 private:
  struct Kept {
    std::mutex mutex;
    int frame = -1;
    std::shared_ptr<const pictures::Sheet> sheet;
  };
  int frames_ = 1;
  std::function<pictures::Sheet(int)> make_;
  std::function<std::string(int)> text_;
  std::unique_ptr<Kept> kept_ = std::make_unique<Kept>();
};

namespace pictures {

using Painter = TestPicture::Painter;

/// One kind of picture. `make` reads parameters, draws, and refuses through the setting what cannot be.
struct Kind {
  PictureInfo info;
  std::function<Painter(Setting&)> make;
};

std::vector<Kind> field_kinds();
std::vector<Kind> greyscale_kinds();
std::vector<Kind> ramp_kinds();
std::vector<Kind> checkerboard_kinds();
std::vector<Kind> colour_step_kinds();
std::vector<Kind> surface_chart_kinds();
std::vector<Kind> volume_kinds();
std::vector<Kind> uniformity_kinds();
std::vector<Kind> dimming_kinds();
std::vector<Kind> clip_kinds();
std::vector<Kind> motion_kinds();
std::vector<Kind> chroma_kinds();
std::vector<Kind> scaling_kinds();
std::vector<Kind> line_up_kinds();
std::vector<Kind> identification_kinds();

// Parameters that many pictures have, and cautions that many need.
inline constexpr const char* kCommonPractice = "common practice, no source";
inline constexpr const char* kOwnDesign = "own design";
inline constexpr const char* kBrightCaution =
    "Bright for long: can hurt dark-adapted eyes and leave traces on a panel. Announce it, keep it short, end on "
    "black.";
/// For pictures whose frames are steps to be held and not a film.
inline constexpr const char* kStepCaution =
    "Frames shown one after the other at the rate of a film can flash (Rec. ITU-R BT.1702): hold each for a second or "
    "more.";
inline constexpr const char* kMotionCaution =
    "Moving high-contrast bars can trouble photosensitive people (Rec. ITU-R BT.1702): announce it, clear the room of "
    "those who may be affected, keep it short.";

/// Two cautions, one after the other.
[[nodiscard]] inline std::string both(const char* first, const char* second) {
  return std::string(first) + ' ' + second;
}

/// Level in cd/m2, by default this many times the reference white.
[[nodiscard]] PictureParameter white_level(std::string name, std::string meaning, double times = 1);
/// Level in cd/m2, by default this many times the nominal peak.
[[nodiscard]] PictureParameter peak_level(std::string name, std::string meaning, double times = 1);
/// A plain number.
[[nodiscard]] PictureParameter number(std::string name, double value, double least, double most, std::string meaning);
/// A whole number.
[[nodiscard]] PictureParameter count(std::string name, int value, int least, int most, std::string meaning);
[[nodiscard]] PictureParameter yes_no(std::string name, bool value, std::string meaning);

}  // namespace pictures
}  // namespace provenit::signal
