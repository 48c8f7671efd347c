#include "pictures/painter.h"

namespace provenit::signal {

TestPicture::Painter::Painter(pictures::Sheet sheet) {
  kept_->frame = 0;
  kept_->sheet = std::make_shared<const pictures::Sheet>(std::move(sheet));
}

std::shared_ptr<const pictures::Sheet> TestPicture::Painter::sheet(int frame) const {
  const std::lock_guard lock(kept_->mutex);
  if (kept_->frame != frame) {
    kept_->sheet = std::make_shared<const pictures::Sheet>(make_(frame));
    kept_->frame = frame;
  }
  return kept_->sheet;
}

namespace pictures {

namespace {
constexpr double kMostCdm2 = 10000;
}

PictureParameter white_level(std::string name, std::string meaning, double times) {
  return {.name = std::move(name),
          .value = times,
          .most = kMostCdm2,
          .meaning = std::move(meaning),
          .default_unit = DefaultUnit::reference_white};
}

PictureParameter peak_level(std::string name, std::string meaning, double times) {
  return {.name = std::move(name),
          .value = times,
          .most = kMostCdm2,
          .meaning = std::move(meaning),
          .default_unit = DefaultUnit::nominal_peak};
}

PictureParameter number(std::string name, double value, double least, double most, std::string meaning) {
  return {.name = std::move(name), .value = value, .least = least, .most = most, .meaning = std::move(meaning)};
}

PictureParameter count(std::string name, int value, int least, int most, std::string meaning) {
  auto parameter = number(std::move(name), value, least, most, std::move(meaning));
  parameter.whole = true;
  return parameter;
}

PictureParameter yes_no(std::string name, bool value, std::string meaning) {
  return count(std::move(name), value ? 1 : 0, 0, 1, std::move(meaning));
}

}  // namespace pictures
}  // namespace provenit::signal
