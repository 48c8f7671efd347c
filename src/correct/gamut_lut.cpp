#include <tbb/parallel_for.h>

#include "provenit/correct/gamut_map.h"
#include "solve/light.h"
#include "solve/sizes.h"

namespace provenit::correct {
Result<Lut> gamut_lut(const GamutMap& map, int size, const Values& input, const Values& output) {
  if (auto ok = nodes_allowed(size); !ok) return tl::unexpected(ok.error());
  for (const Values* values : {&input, &output})
    if (auto valid = signal::validate(values->encoding); !valid) return tl::unexpected(valid.error());
  const TableLight in(input), out(output);
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
