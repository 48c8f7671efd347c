#pragma once
// What a picture is made from: encoding, raster and parameters, all checked against their bounds. Faults that show only
// while it is drawn are kept here, the first of them, so that drawing reads straight on; make() returns it.
#include <map>
#include <optional>
#include <string>

#include "pictures/light.h"
#include "provenit/signal/test_picture.h"

namespace provenit::signal::pictures {

class Setting {
 public:
  Setting(const Encoding& of, RasterSize on, std::map<std::string, double> parameters)
      : encoding(of), size(on), light(of), parameters_(std::move(parameters)) {}

  const Encoding encoding;
  const RasterSize size;
  const Light light;

  [[nodiscard]] double number(const std::string& name) const { return parameters_.at(name); }
  [[nodiscard]] int whole(const std::string& name) const;
  [[nodiscard]] bool yes(const std::string& name) const { return number(name) != 0; }

  [[nodiscard]] CodeRgb black() const;
  /// Grey of a luminance in cd/m2. Refused, naming the parameter, if the encoding has no code for it.
  CodeRgb grey(double cdm2, const std::string& parameter);
  /// The same of the parameter's own value.
  CodeRgb grey(const std::string& parameter) { return grey(number(parameter), parameter); }
  /// Colours, refused if the container does not hold them or they are above its peak.
  CodeRgb colour(const colour::AbsoluteRgb<>& light_cdm2, const std::string& parameter);
  CodeRgb colour(const colour::AbsoluteXyz<>& light_cdm2, const std::string& parameter);

  void refuse(std::string message, std::string advice, std::string parameter);
  [[nodiscard]] const std::optional<Error>& error() const { return error_; }

 private:
  CodeRgb held(const std::optional<CodeRgb>& code, const std::string& parameter);
  std::map<std::string, double> parameters_;
  std::optional<Error> error_;
};

}  // namespace provenit::signal::pictures
