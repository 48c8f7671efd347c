#include "provenit/signal/encoding.h"

#include "provenit/colour/quantise.h"

namespace provenit::signal {

const colour::Primaries<>& primaries_of(Container container) {
  switch (container) {
    case Container::bt709:
      return colour::bt709_primaries;
    case Container::p3_d65:
      return colour::p3_d65_primaries;
    case Container::bt2020:
      break;
  }
  return colour::bt2020_primaries;
}

colour::Signal<> signal_of(const Encoding& encoding, int code) {
  return colour::dequantise({.value = code, .bits = encoding.bits, .range = encoding.range});
}

colour::SignalRgb<> signal_of(const Encoding& encoding, const CodeRgb& code) {
  return {.r = signal_of(encoding, code.code[0]).value,
          .g = signal_of(encoding, code.code[1]).value,
          .b = signal_of(encoding, code.code[2]).value};
}

}  // namespace provenit::signal
