#include <fmt/format.h>

#include <iterator>

#include "files/entries.h"
#include "provenit/base/text.h"
#include "provenit/correct/lut_files.h"

namespace provenit::correct {
namespace {

std::string escaped(std::string_view text) {
  std::string out;
  for (const char c : text) {
    if (c == '&')
      out += "&amp;";
    else if (c == '<')
      out += "&lt;";
    else if (c == '"')
      out += "&quot;";
    else
      out += c;
  }
  return out;
}

int entry_bits(const Stage& stage) {
  if (const auto* table = std::get_if<Lut1d>(&stage)) return table->entry_bits;
  if (const auto* lattice = std::get_if<Lut3d>(&stage)) return lattice->entry_bits;
  return 0;
}

/// Bits of the whole numbers between stage i and the next, 0 for single precision. What a matrix reads stays real: its
/// coefficients would have to carry the scale.
int integer_bits_after(const std::vector<Stage>& stages, std::size_t i) {
  const int bits = entry_bits(stages[i]);
  if (bits != 8 && bits != 10 && bits != 12 && bits != 16) return 0;
  if (i + 1 < stages.size() && std::holds_alternative<Affine>(stages[i + 1])) return 0;
  return bits;
}

std::string depth(int bits) {
  return bits == 0 ? "32f" : fmt::format("{}i", bits);
}

class Writer {
 public:
  void head(const Lut& lut, const std::string& id) {
    add("<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n");
    // A name without a value is refused by readers.
    add("<ProcessList xmlns=\"http://www.smpte-ra.org/ns/2136-1/2024\" compCLFversion=\"3.0\" id=\"{}\"{}>\n", id,
        lut.title.empty() ? "" : fmt::format(" name=\"{}\"", escaped(lut.title)));
    if (!lut.title.empty()) add("  <Description>{}</Description>\n", escaped(lut.title));
    if (lut.input) add("  <InputDescriptor>{}</InputDescriptor>\n", text_of(*lut.input));
    if (lut.output) add("  <OutputDescriptor>{}</OutputDescriptor>\n", text_of(*lut.output));
  }
  void stage(const Affine& a, const std::string& depths, int /*bits*/) {
    add("  <Matrix{}>\n    <Array dim=\"3 4\">\n", depths);
    for (std::size_t i = 0; i < 3; ++i)
      add("      {} {} {} {}\n", exact_text(a.matrix(i, 0)), exact_text(a.matrix(i, 1)), exact_text(a.matrix(i, 2)),
          exact_text(a.offset[i]));
    add("    </Array>\n  </Matrix>\n");
  }
  void stage(const Lut1d& table, const std::string& depths, int bits) {
    add("  <LUT1D{} interpolation=\"linear\">\n    <Array dim=\"{} 3\">\n", depths, table.size());
    files::for_entries(table, [&](const Triple& v) { entry(v, bits); });
    add("    </Array>\n  </LUT1D>\n");
  }
  void stage(const Lut3d& table, const std::string& depths, int bits) {
    add("  <LUT3D{} interpolation=\"tetrahedral\">\n    <Array dim=\"{} {} {} 3\">\n", depths, table.size, table.size,
        table.size);
    for (const Triple& v : table.nodes) entry(v, bits);
    add("    </Array>\n  </LUT3D>\n");
  }
  [[nodiscard]] std::string text() && { return fmt::to_string(out_); }

 private:
  template <class... A>
  void add(fmt::format_string<A...> format, A&&... a) {
    fmt::format_to(std::back_inserter(out_), format, std::forward<A>(a)...);
  }
  void entry(const Triple& v, int bits) {
    if (bits == 0) {
      add("{} {} {}\n", static_cast<float>(v[0]), static_cast<float>(v[1]), static_cast<float>(v[2]));
      return;
    }
    const double top = files::top_code(bits);
    add("{} {} {}\n", std::lround(v[0] * top), std::lround(v[1] * top), std::lround(v[2] * top));
  }
  fmt::memory_buffer out_;
};

std::string body(const Lut& lut) {
  Writer writer;
  int before = 0;
  // The format asks for at least one process node.
  const std::vector<Stage> stages = lut.stages.empty() ? std::vector<Stage>{Affine{}} : lut.stages;
  for (std::size_t i = 0; i < stages.size(); ++i) {
    const int after = integer_bits_after(stages, i);
    const std::string depths = fmt::format(" inBitDepth=\"{}\" outBitDepth=\"{}\"", depth(before), depth(after));
    std::visit([&](const auto& s) { writer.stage(s, depths, after); }, stages[i]);
    before = after;
  }
  return std::move(writer).text();
}

}  // namespace

Result<std::string> clf_text(const Lut& lut) {
  if (auto valid = validate(lut); !valid) return tl::unexpected(valid.error());
  const std::string nodes = body(lut);
  Writer head;
  head.head(lut, sha256_hex(nodes).substr(0, 32));
  return std::move(head).text() + nodes + "</ProcessList>\n";
}

}  // namespace provenit::correct
