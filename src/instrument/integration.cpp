#include <algorithm>
#include <cmath>

#include "provenit/instrument/instrument.h"

namespace provenit::instrument {

Seconds IntegrationModel::expected(colour::Luminance<> luminance) const {
  // !(L > 0) also catches NaN: an unknown luminance costs the longest reading.
  if (!(luminance.cdm2 > 0)) return overhead + maximum;
  const double wanted = reference.s * std::pow(reference_cdm2 / luminance.cdm2, exponent);
  return overhead + Seconds{std::max(minimum.s, std::min(wanted, maximum.s))};
}

}  // namespace provenit::instrument
