// Whole code values, and what is computed from them.
#include <fmt/format.h>

#include "provenit/base/text.h"
#include "provenit/colour/colour_bars.h"
#include "provenit/colour/light_level.h"
#include "provenit/colour/transfer_pq.h"
#include "provenit/colour/ycbcr.h"
#include "quantity.h"

namespace provenit::selfcheck {
namespace {

using namespace colour;

/// "10bit_narrow" as bits and range.
std::optional<CodeValue> form_of(std::string_view word) {
  const auto parts = split(word, '_');
  if (parts.size() != 2 || !parts[0].ends_with("bit") || (parts[1] != "narrow" && parts[1] != "full")) return {};
  const auto bits = parse_integer(parts[0].substr(0, parts[0].size() - 3));
  if (!bits || *bits < 8 || *bits > 16) return {};
  return CodeValue{.bits = static_cast<int>(*bits), .range = parts[1] == "full" ? Range::full : Range::narrow};
}

Values pq_codes(Reader& in) {
  const auto signal = pq_inverse_eotf(Luminance<>{.cdm2 = in.number("L_cdm2")});
  Values out;
  for (const auto word : split(in.text("order"), ' ')) {
    if (word.empty()) continue;
    const auto form = form_of(word);
    if (!form) {
      in.fail("order", fmt::format("'{}' is no form of code", word), "Write for example 10bit_narrow or 12bit_full.");
      break;
    }
    out.push_back(quantise(signal, form->bits, form->range).value);
  }
  return out;
}

Values pq_of_code(Reader& in) {
  const int bits = in.bits();
  const CodeValue code{in.code(in.number("code"), bits, "code"), bits, in.range()};
  return {pq_eotf(dequantise(code)).cdm2};
}

Values ycbcr(Reader& in) {
  const auto codes =
      quantise(ycbcr_from_rgb(in.rgb<SignalRgb>("RGB_signal"), YcbcrMatrix::bt2020_ncl), in.bits(), in.range());
  return {static_cast<double>(codes.y.value), static_cast<double>(codes.cb.value), static_cast<double>(codes.cr.value)};
}

/// Pixels of "64 64 64|573 573 573" as linear light.
template <class Decode>
std::vector<AbsoluteRgb<>> frame_of(Reader& in, const std::string& key, int bits, Range range, Decode decode) {
  std::vector<AbsoluteRgb<>> frame;
  for (const auto pixel : split(in.text(key), '|')) {
    const auto codes = parse_numbers(pixel);
    if (!codes || codes->size() != 3) {
      in.fail(key, fmt::format("'{}' is not a pixel", trim(pixel)),
              "Give three codes per pixel, pixels parted by '|'.");
      return frame;
    }
    const auto signal = [&](std::size_t i) {
      return dequantise(CodeValue{in.code((*codes)[i], bits, key), bits, range}).value;
    };
    frame.push_back(decode(SignalRgb<>{.r = signal(0), .g = signal(1), .b = signal(2)}));
  }
  return frame;
}

ContentLightLevel light_level(Reader& in) {
  static constexpr std::array<std::string_view, 2> encodings{"PQ RGB", "HLG RGB"};
  const bool is_hlg = in.choice("encoding", encodings) == 1;
  const int bits = in.bits();
  const auto range = in.range();
  const auto display = is_hlg ? hlg_display_of(in) : HlgDisplay<>{};
  const auto decode = [&](const SignalRgb<>& s) { return is_hlg ? hlg_eotf(s, display) : pq_eotf(s); };
  std::vector<std::vector<AbsoluteRgb<>>> frames;
  for (int i = 1; i == 1 || in.has(fmt::format("frame{}", i)); ++i)
    frames.push_back(frame_of(in, fmt::format("frame{}", i), bits, range, decode));
  return content_light_level(frames);
}

Values light_level_cdm2(Reader& in) {
  const auto level = light_level(in);
  return {level.maxcll_cdm2, level.maxfall_cdm2};
}
Values light_level_integer(Reader& in) {
  const auto level = light_level(in);
  return {static_cast<double>(level.maxcll_field()), static_cast<double>(level.maxfall_field())};
}

struct BarKind {
  BarSystem system = BarSystem::pq_display;
  double level = 0.58;
};
/// "HLG 75 % scene referred", "PQ 58 % display referred".
BarKind bar_kind(Reader& in) {
  const auto text = in.text("system");
  std::vector<std::string_view> words;
  for (const auto word : split(text, ' '))
    if (!word.empty()) words.push_back(word);
  const auto percent = words.size() == 5 ? parse_double(words[1]) : std::nullopt;
  const bool is_hlg = words.size() == 5 && words[0] == "HLG" && words[3] == "scene";
  const bool is_pq = words.size() == 5 && words[0] == "PQ" && words[3] == "display";
  if ((!is_hlg && !is_pq) || !percent || !(*percent > 0 && *percent <= 100) || words[2] != "%" ||
      words[4] != "referred") {
    in.fail("system", fmt::format("'{}' is no bar system", text),
            "Write 'HLG 75 % scene referred' or 'PQ 58 % display referred'.");
    return {};
  }
  return {is_hlg ? BarSystem::hlg_scene : BarSystem::pq_display, *percent / 100};
}

Values bar_codes(Reader& in) {
  static constexpr std::array<std::string_view, 8> names{"white",   "yellow", "cyan", "green",
                                                         "magenta", "red",    "blue", "black"};
  static constexpr std::array bars{Bar::white,   Bar::yellow, Bar::cyan, Bar::green,
                                   Bar::magenta, Bar::red,    Bar::blue, Bar::black};
  const auto kind = bar_kind(in);
  const auto codes = bt709_bar_codes(bars[in.choice("bar", names)], kind.system, kind.level, in.bits(), in.range());
  return {static_cast<double>(codes[0].value), static_cast<double>(codes[1].value),
          static_cast<double>(codes[2].value)};
}

constexpr Quantity kCodesQuantities[] = {
    {"pq_codes", pq_codes},
    {"pq_code_to_luminance", pq_of_code},
    {"ycbcr_bt2020_ncl_codes", ycbcr},
    {"maxcll_maxfall_cdm2", light_level_cdm2},
    {"maxcll_maxfall_integer", light_level_integer},
    {"bt2111_709_bar_codes", bar_codes},
};

}  // namespace

std::span<const Quantity> code_quantities() {
  return kCodesQuantities;
}

}  // namespace provenit::selfcheck
