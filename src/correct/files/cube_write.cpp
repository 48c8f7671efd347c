#include <fmt/format.h>

#include <iterator>

#include "files/entries.h"
#include "provenit/correct/lut_files.h"

namespace provenit::correct {
namespace {

/// The stages of a Lut that the format has room for.
struct Parts {
  const Affine* domain = nullptr;
  const Lut1d* curves = nullptr;
  const Lut3d* lattice = nullptr;
};

bool without_mixing(const Affine& a) {
  for (std::size_t i = 0; i < 3; ++i)
    for (std::size_t j = 0; j < 3; ++j)
      if (i == j ? !(a.matrix(i, j) > 0) : a.matrix(i, j) != 0) return false;
  return true;
}

Result<Parts> parts_of(const Lut& lut) {
  Parts parts;
  std::size_t at = 0;
  const auto& stages = lut.stages;
  const auto take = [&](const auto*& part) {
    using T = std::remove_cvref_t<decltype(*part)>;
    if (at < stages.size() && std::holds_alternative<T>(stages[at])) part = &std::get<T>(stages[at++]);
  };
  take(parts.domain);
  take(parts.curves);
  take(parts.lattice);
  const bool both = parts.curves != nullptr && parts.lattice != nullptr;
  const bool none = parts.curves == nullptr && parts.lattice == nullptr;
  if (at < stages.size() || none || (parts.domain != nullptr && (both || !without_mixing(*parts.domain))))
    return fail(ErrorCode::unsupported,
                "a .cube file holds one table, with the range of each channel before it, or a 1D and then a 3D table",
                "Write these stages as .clf.");
  return parts;
}

class CubeWriter {
 public:
  template <class... A>
  void add(fmt::format_string<A...> format, A&&... a) {
    fmt::format_to(std::back_inserter(out_), format, std::forward<A>(a)...);
  }
  void entry(const Triple& v) {
    add("{} {} {}\n", static_cast<float>(v[0]), static_cast<float>(v[1]), static_cast<float>(v[2]));
  }
  void domain(const Affine& a) {
    Triple low{}, high{};
    for (std::size_t c = 0; c < 3; ++c) {
      low[c] = -a.offset[c] / a.matrix(c, c);
      high[c] = (1 - a.offset[c]) / a.matrix(c, c);
    }
    add("DOMAIN_MIN {} {} {}\nDOMAIN_MAX {} {} {}\n", low[0], low[1], low[2], high[0], high[1], high[2]);
  }
  [[nodiscard]] std::string text() const { return fmt::to_string(out_); }

 private:
  fmt::memory_buffer out_;
};

/// A title may not hold the quote that ends it.
std::string unquoted(std::string text) {
  for (char& c : text)
    if (c == '"') c = '\'';
  return text;
}

}  // namespace

Result<std::string> cube_text(const Lut& lut) {
  if (auto valid = validate(lut); !valid) return tl::unexpected(valid.error());
  const auto parts = parts_of(lut);
  if (!parts) return tl::unexpected(parts.error());
  CubeWriter out;
  const bool both = parts->curves != nullptr && parts->lattice != nullptr;
  // The form with two tables has no TITLE; readers of it stop there.
  if (!lut.title.empty() && both) out.add("# Title: {}\n", lut.title);
  if (!lut.title.empty() && !both) out.add("TITLE \"{}\"\n", unquoted(lut.title));
  if (lut.input) out.add("# Input: {}\n", text_of(*lut.input));
  if (lut.output) out.add("# Output: {}\n", text_of(*lut.output));
  if (parts->curves != nullptr && parts->curves->entry_bits != 0)
    out.add("# 1D entries: {} bits\n", parts->curves->entry_bits);
  if (parts->lattice != nullptr && parts->lattice->entry_bits != 0)
    out.add("# 3D entries: {} bits\n", parts->lattice->entry_bits);
  if (parts->lattice != nullptr) out.add("# Interpolation: tetrahedral\n");
  if (parts->curves != nullptr) out.add("LUT_1D_SIZE {}\n", parts->curves->size());
  if (both) out.add("LUT_1D_INPUT_RANGE 0.0 1.0\n");
  if (parts->lattice != nullptr) out.add("LUT_3D_SIZE {}\n", parts->lattice->size);
  if (both) out.add("LUT_3D_INPUT_RANGE 0.0 1.0\n");
  if (parts->domain != nullptr) out.domain(*parts->domain);
  if (parts->curves != nullptr) files::for_entries(*parts->curves, [&](const Triple& v) { out.entry(v); });
  if (parts->lattice != nullptr) {
    const int n = parts->lattice->size;
    for (int b = 0; b < n; ++b)
      for (int g = 0; g < n; ++g)
        for (int r = 0; r < n; ++r) out.entry(parts->lattice->node(r, g, b));
  }
  return out.text();
}

}  // namespace provenit::correct
