// Camera pictures of a full field: bytes of the bench -> linear light.
#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cstring>
#include <string_view>

#include "provenit/colour/transfer_sdr.h"
#include "recordings_internal.h"
#include "still.h"

namespace provenit::loan {
namespace {

constexpr float kFull = 0.995F;  // of the highest code: from here on a channel counts as saturated

using Coding = float (*)(double);

float as_linear(double value) {
  return static_cast<float>(value);
}
float as_srgb(double value) {
  return static_cast<float>(colour::srgb_eotf(colour::Signal<>{.value = value}).value);
}

/// How whole numbers stand for light. Floats are linear by themselves.
Result<Coding> coding_of(const std::string& coding) {
  if (coding == "linear") return &as_linear;
  if (coding == "srgb") return &as_srgb;
  return fail(
      ErrorCode::invalid_input,
      coding.empty() ? "how its code values stand for light was not stated" : "'" + coding + "' is no coding of light",
      "Develop the camera's raw data to linear light and say --coding linear; --coding srgb takes the curve of "
      "sRGB out.",
      {.field = "--coding"});
}

float sample(const programme::Plane& plane, const programme::PictureFormat& format, Coding coding, int x, int y) {
  const auto* row = plane.data + y * plane.stride;
  if (format.is_float) {
    float value = 0;
    std::memcpy(&value, row + 4 * static_cast<std::ptrdiff_t>(x), sizeof value);
    return value;
  }
  std::uint16_t value = 0;
  if (format.bits == 8) {
    value = std::to_integer<std::uint8_t>(row[x]);
  } else {
    std::memcpy(&value, row + 2 * static_cast<std::ptrdiff_t>(x), sizeof value);
  }
  return coding(static_cast<double>(value) / ((1 << format.bits) - 1));
}

}  // namespace

Result<evaluation::LinearPicture> linear_picture_of(const std::string& bytes, const std::string& name,
                                                    const nlohmann::json& conditions) {
  const auto still = Still::open(bytes, name);
  if (!still) return tl::unexpected(still.error());
  const auto& picture = still->picture();
  const auto& format = picture.format;
  if (format.chroma != programme::Chroma::rgb)
    return fail(ErrorCode::unsupported, "is no still of R, G and B (" + describe(format) + ")",
                "Develop to TIFF or PNG of 16 bits, or OpenEXR.", {.file = name});
  Coding coding = &as_linear;
  if (!format.is_float) {
    const auto stated = coding_of(conditions.value("coding", ""));
    if (!stated) {
      auto error = stated.error();
      error.where.file = name;
      return tl::unexpected(std::move(error));
    }
    coding = *stated;
  }
  evaluation::LinearPicture out{.width = format.width, .height = format.height, .rgb = {}, .saturates = {}};
  if (!format.is_float) out.saturates = coding(static_cast<double>(kFull));
  out.rgb.reserve(3 * static_cast<std::size_t>(out.width) * static_cast<std::size_t>(out.height));
  for (int y = 0; y < out.height; ++y)
    for (int x = 0; x < out.width; ++x)
      for (const auto& plane : picture.planes) out.rgb.push_back(sample(plane, format, coding, x, y));
  return out;
}

Result<std::string> look_at_field_picture(const std::string& bytes, const std::string& name,
                                          const nlohmann::json& conditions) {
  const auto picture = linear_picture_of(bytes, name, conditions);
  if (!picture) return tl::unexpected(picture.error());
  const bool flat = conditions.value("step", "") == "flat";
  auto text = fmt::format("{} x {} pixels", picture->width, picture->height);
  const auto named = [&](Error error) {
    error.where.file = name;
    return tl::unexpected(std::move(error));
  };
  if (auto ok = evaluation::check_exposure(*picture, "picture"); !ok) return named(ok.error());
  if (flat) {
    if (auto ok = evaluation::check_flat_field(*picture); !ok) return named(ok.error());
    return text;
  }
  const auto outline = evaluation::find_display(*picture);
  if (!outline) return named(outline.error());
  const auto& c = outline->corner;
  return text +
         fmt::format(", the display from ({:.1f}, {:.1f}) to ({:.1f}, {:.1f})", c[0][0], c[0][1], c[2][0], c[2][1]);
}

}  // namespace provenit::loan
