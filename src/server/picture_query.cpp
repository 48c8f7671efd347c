#include "picture_query.h"

#include <array>

#include "parts.h"
#include "provenit/base/text.h"

namespace provenit::server {
namespace {

/// "area_percent=4,level_cdm2=100". Errors: invalid_input.
Result<nlohmann::json> values_of(const std::string& text) {
  auto out = nlohmann::json::object();
  if (text.empty()) return out;
  for (const auto item : split(text, ',')) {
    const auto equals = item.find('=');
    const auto value = equals == std::string_view::npos ? std::nullopt : parse_double(item.substr(equals + 1));
    if (!value)
      return fail(ErrorCode::invalid_input, "'" + std::string(item) + "' sets nothing",
                  "Give name=number, parted by commas.", {.field = "values"});
    out[std::string(item.substr(0, equals))] = *value;
  }
  return out;
}

constexpr std::array kEncodingFields{"transfer", "container", "range", "bits", "peak_cdm2"};

Result<signal::Encoding> encoding_of(const Request& request) {
  std::array<std::string, 3> names;
  for (std::size_t i = 0; i < names.size(); ++i) {
    const auto text = query_text(request, kEncodingFields[i], 20);
    if (!text) return tl::unexpected(text.error());
    names[i] = *text;
  }
  const auto bits = query_integer(request, "bits", 8, 16);
  if (!bits) return tl::unexpected(bits.error());
  const auto peak = query_number(request, "peak_cdm2", 0, 10'000);
  if (!peak) return tl::unexpected(peak.error());
  signal::Encoding out;
  const auto take = [&](const std::string& text, auto found, auto& field, const char* name) -> Result<void> {
    if (text.empty()) return {};
    if (!found) return fail(ErrorCode::invalid_input, "'" + text + "' is not known", {}, {.field = name});
    field = *found;
    return {};
  };
  if (auto r = take(names[0], signal::transfer_from_name(names[0]), out.transfer, "transfer"); !r)
    return tl::unexpected(r.error());
  if (auto r = take(names[1], signal::container_from_name(names[1]), out.container, "container"); !r)
    return tl::unexpected(r.error());
  if (auto r = take(names[2], signal::range_from_name(names[2]), out.range, "range"); !r)
    return tl::unexpected(r.error());
  out.bits = static_cast<int>(bits->value_or(out.bits));
  out.nominal_peak_cdm2 = peak->value_or(out.nominal_peak_cdm2);
  return out;
}

}  // namespace

Result<signal::PictureRequest> picture_request(const Request& request, const signal::RasterSize& size) {
  const auto key = query_text(request, "key", 60);
  if (!key) return tl::unexpected(key.error());
  const auto text = query_text(request, "values", 2000);
  if (!text) return tl::unexpected(text.error());
  auto values = values_of(*text);
  if (!values) return tl::unexpected(values.error());
  const auto encoding = encoding_of(request);
  if (!encoding) return tl::unexpected(encoding.error());
  return signal::PictureRequest{.key = *key, .parameters = std::move(*values), .encoding = *encoding, .size = size};
}

Request as_query(Fields& in) {
  Request out;
  out.query["key"] = in.needed_text("key", 60);
  if (const auto values = in.text("values", 2000)) out.query["values"] = *values;
  for (const char* name : {"transfer", "container", "range"})
    if (const auto text = in.text(name, 20)) out.query[name] = *text;
  if (const auto bits = in.integer("bits", 8, 16)) out.query["bits"] = std::to_string(*bits);
  if (const auto peak = in.number("peak_cdm2", 0, 10'000, true)) out.query["peak_cdm2"] = exact_text(*peak);
  return out;
}

}  // namespace provenit::server
