#include "picture_choice.h"

#include <CLI/CLI.hpp>
#include <optional>

#include "provenit/base/text.h"

namespace provenit::cli {
namespace {

template <class T>
Result<T> named(const std::optional<T>& value, const std::string& text, const char* option, const char* names) {
  if (value) return *value;
  return fail(ErrorCode::invalid_input, "'" + text + "' is not known", std::string("Give ") + names + ".",
              {.field = option});
}

}  // namespace

void add_picture_choice(CLI::App& verb, PictureChoice& choice) {
  verb.add_option("--transfer", choice.transfer, "pq, hlg or bt1886")->capture_default_str();
  verb.add_option("--container", choice.container, "bt709, p3_d65 or bt2020")->capture_default_str();
  verb.add_option("--bits", choice.bits, "8, 10, 12 or 16")->capture_default_str();
  verb.add_option("--range", choice.range, "narrow or full")->capture_default_str();
  verb.add_option("--peak", choice.peak_cdm2, "nominal peak in cd/m2; for PQ the peak claimed")->capture_default_str();
  verb.add_option("--set", choice.set, "a parameter of the picture, name=number; may be given more than once");
}

Result<signal::Encoding> encoding_of(const PictureChoice& o) {
  const auto transfer = named(signal::transfer_from_name(o.transfer), o.transfer, "--transfer", "pq, hlg or bt1886");
  const auto container =
      named(signal::container_from_name(o.container), o.container, "--container", "bt709, p3_d65 or bt2020");
  const auto range = named(signal::range_from_name(o.range), o.range, "--range", "narrow or full");
  if (!transfer) return tl::unexpected(transfer.error());
  if (!container) return tl::unexpected(container.error());
  if (!range) return tl::unexpected(range.error());
  return signal::Encoding{.transfer = *transfer,
                          .container = *container,
                          .bits = o.bits,
                          .range = *range,
                          .nominal_peak_cdm2 = o.peak_cdm2};
}

Result<nlohmann::json> parameters_of(const PictureChoice& choice) {
  auto out = nlohmann::json::object();
  for (const auto& item : choice.set) {
    const auto equals = item.find('=');
    const auto value = equals == std::string::npos ? std::nullopt : parse_double(item.substr(equals + 1));
    if (!value)
      return fail(ErrorCode::invalid_input, "'" + item + "' sets nothing", "Give name=number, e.g. area_percent=4.",
                  {.field = "--set"});
    if (!out.emplace(item.substr(0, equals), *value).second)
      return fail(ErrorCode::invalid_input, item.substr(0, equals) + " is set twice", "Set it once.",
                  {.field = "--set"});
  }
  return out;
}

}  // namespace provenit::cli
