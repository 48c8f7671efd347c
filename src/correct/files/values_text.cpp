#include <fmt/format.h>

#include "provenit/base/names.h"
#include "provenit/base/text.h"
#include "provenit/correct/lut_files.h"

namespace provenit::correct {
namespace {

constexpr Named<Scale> kScales[] = {{Scale::signal, "signal"}, {Scale::code, "code"}};

}  // namespace

std::string text_of(const Values& values) {
  const signal::Encoding& e = values.encoding;
  std::string text = fmt::format("{} {} {} {} {}", signal::name_of(e.transfer), signal::name_of(e.container), e.bits,
                                 signal::name_of(e.range), row_of(kScales, values.scale).name);
  if (e.transfer != signal::Transfer::pq) text += " " + exact_text(e.nominal_peak_cdm2);
  return text;
}

std::optional<Values> values_from_text(std::string_view text) {
  const auto words = split(trim(text), ' ');
  if (words.size() < 5 || words.size() > 6) return std::nullopt;
  const auto transfer = signal::transfer_from_name(words[0]);
  const auto container = signal::container_from_name(words[1]);
  const auto bits = parse_integer(words[2]);
  const auto range = signal::range_from_name(words[3]);
  const auto scale = value_of(kScales, words[4]);
  if (!transfer || !container || !bits || *bits < 8 || *bits > 16 || !range || !scale) return std::nullopt;
  Values values{
      .encoding = {.transfer = *transfer, .container = *container, .bits = static_cast<int>(*bits), .range = *range},
      .scale = *scale};
  if ((words.size() == 6) != (*transfer != signal::Transfer::pq)) return std::nullopt;
  if (words.size() == 6) {
    const auto peak = parse_double(words[5]);
    if (!peak) return std::nullopt;
    values.encoding.nominal_peak_cdm2 = *peak;
  }
  if (!signal::validate(values.encoding)) return std::nullopt;
  return values;
}

}  // namespace provenit::correct
