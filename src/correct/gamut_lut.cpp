#include <fmt/format.h>
#include <tbb/parallel_for.h>

#include <cmath>

#include "provenit/colour/transfer.h"
#include "provenit/correct/gamut_map.h"
#include "provenit/signal/encoding.h"

namespace provenit::correct {
namespace {

/// Light of BT.2020 primaries that the reference display of an encoding shows, and back.
class Light {
 public:
  explicit Light(const Values& values)
      : values_(values),
        peak_{.cdm2 = values.encoding.nominal_peak_cdm2},
        hlg_(colour::hlg_display(peak_, colour::Luminance<>{.cdm2 = 0})),
        bt1886_{.peak = peak_, .black = {.cdm2 = 0}},
        to_2020_(rgb_to_rgb_matrix(signal::primaries_of(values.encoding.container), colour::bt2020_primaries)),
        from_2020_(rgb_to_rgb_matrix(colour::bt2020_primaries, signal::primaries_of(values.encoding.container))) {}

  [[nodiscard]] colour::AbsoluteRgb<> of(const Triple& numbers) const {
    const colour::SignalRgb<> e{.r = signal_of(values_, numbers[0]).value,
                                .g = signal_of(values_, numbers[1]).value,
                                .b = signal_of(values_, numbers[2]).value};
    return rgb_from_rgb(shown(e), to_2020_);
  }
  [[nodiscard]] Triple numbers(const colour::AbsoluteRgb<>& light) const {
    colour::AbsoluteRgb<> own = rgb_from_rgb(light, from_2020_);
    for (double* x : {&own.r, &own.g, &own.b}) *x = std::max(*x, 0.0);
    const colour::SignalRgb<> e = signals(own);
    return {number_of(values_, {.value = e.r}), number_of(values_, {.value = e.g}), number_of(values_, {.value = e.b})};
  }

 private:
  [[nodiscard]] colour::AbsoluteRgb<> shown(const colour::SignalRgb<>& e) const {
    switch (values_.encoding.transfer) {
      case signal::Transfer::pq:
        return pq_eotf(e);
      case signal::Transfer::hlg:
        return hlg_eotf(e, hlg_);
      case signal::Transfer::bt1886:
        break;
    }
    return bt1886_eotf(e, bt1886_);
  }
  [[nodiscard]] colour::SignalRgb<> signals(const colour::AbsoluteRgb<>& light) const {
    switch (values_.encoding.transfer) {
      case signal::Transfer::pq:
        return pq_inverse_eotf(light);
      case signal::Transfer::hlg:
        return hlg_inverse_eotf(light, hlg_);
      case signal::Transfer::bt1886:
        break;
    }
    return bt1886_inverse_eotf(light, bt1886_);
  }

  Values values_;
  colour::Luminance<> peak_;
  colour::HlgDisplay<> hlg_;
  colour::Bt1886Display<> bt1886_;
  colour::Matrix3<> to_2020_, from_2020_;
};

}  // namespace

Result<Lut> gamut_lut(const GamutMap& map, int size, const Values& input, const Values& output) {
  if (size < kSmallestTable || size > kLargest3d)
    return fail(ErrorCode::out_of_range, fmt::format("a 3D table of {} nodes along an axis cannot be made", size),
                fmt::format("Use {} to {}.", kSmallestTable, kLargest3d));
  for (const Values* values : {&input, &output})
    if (auto valid = signal::validate(values->encoding); !valid) return tl::unexpected(valid.error());
  const Light in(input), out(output);
  Lut3d table = identity_3d(size);
  tbb::parallel_for(0, size, [&](int r) {
    for (int g = 0; g < size; ++g)
      for (int b = 0; b < size; ++b) {
        Triple& node = table.node(r, g, b);
        node = out.numbers(map.mapped(in.of(node)));
      }
  });
  return Lut{.title = "", .input = input, .output = output, .stages = {std::move(table)}};
}

}  // namespace provenit::correct
