#include "pictures/setting.h"

#include <fmt/format.h>

#include "provenit/base/text.h"
#include "provenit/signal/codes.h"

namespace provenit::signal::pictures {

int Setting::whole(const std::string& name) const {
  return static_cast<int>(number(name));
}

CodeRgb Setting::black() const {
  return black_code(encoding);
}

CodeRgb Setting::grey(double cdm2, const std::string& parameter) {
  if (!(cdm2 <= light.top_cdm2() * (1 + 1e-9))) {
    refuse(fmt::format("the encoding has no code for {} cd/m2", exact_text(cdm2)),
           fmt::format("Give at most {} cd/m2, or another encoding.", exact_text(light.top_cdm2())), parameter);
    return black();
  }
  const auto code = grey_code(encoding, colour::Luminance<>{.cdm2 = cdm2});
  return code ? *code : black();
}

CodeRgb Setting::held(const std::optional<CodeRgb>& code, const std::string& parameter) {
  if (!code)
    refuse(fmt::format("the container {} does not hold this colour at this level", name_of(encoding.container)),
           "Give a smaller gamut or a lower level, or an encoding with a larger container or a higher peak.",
           parameter);
  return code.value_or(black());
}

CodeRgb Setting::colour(const colour::AbsoluteRgb<>& light_cdm2, const std::string& parameter) {
  return held(light.code(light_cdm2), parameter);
}

CodeRgb Setting::colour(const colour::AbsoluteXyz<>& light_cdm2, const std::string& parameter) {
  return held(light.code(light_cdm2), parameter);
}

void Setting::refuse(std::string message, std::string advice, std::string parameter) {
  if (!error_)
    error_ = Error{ErrorCode::out_of_range, std::move(message), std::move(advice), {.field = std::move(parameter)}};
}

}  // namespace provenit::signal::pictures
