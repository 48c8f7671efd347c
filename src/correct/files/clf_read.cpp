#include <fmt/format.h>

#include <algorithm>
#include <charconv>
#include <cmath>
#include <pugixml.hpp>

#include "files/entries.h"
#include "provenit/base/text.h"
#include "provenit/correct/lut_files.h"

namespace provenit::correct {
namespace {

/// A bit depth: what stands for 1, and the bits if the numbers are whole.
struct Depth {
  double top = 1;
  int bits = 0;
};

class ClfReader {
 public:
  ClfReader(std::string_view text, const std::string& file) : text_(text), file_(file) {}

  Result<Lut> read() {
    pugi::xml_document document;
    const auto parsed = document.load_buffer(text_.data(), text_.size(), pugi::parse_default, pugi::encoding_utf8);
    if (!parsed) return refuse(parsed.offset, fmt::format("is not well-formed XML: {}", parsed.description()));
    const pugi::xml_node root = document.child("ProcessList");
    if (!root) return refuse(0, "has no ProcessList, so it is not a CLF file");
    Lut lut{.title = one_line(root.child_value("Description"))};
    lut.input = values_from_text(root.child_value("InputDescriptor"));
    lut.output = values_from_text(root.child_value("OutputDescriptor"));
    for (const pugi::xml_node& node : root.children())
      if (auto added = add(node, lut.stages); !added) return tl::unexpected(added.error());
    if (lut.stages.empty()) return refuse(root, "has no process node");
    if (auto valid = validate(lut); !valid) return refuse(root, valid.error().message);
    return lut;
  }

 private:
  static std::string one_line(std::string text) {
    std::ranges::replace_if(
        text, [](char c) { return c == '\n' || c == '\r'; }, ' ');
    return std::string(trim(text));
  }
  [[nodiscard]] tl::unexpected<Error> refuse(std::ptrdiff_t offset, std::string message,
                                             ErrorCode code = ErrorCode::invalid_input) const {
    const auto end = text_.begin() + std::clamp<std::ptrdiff_t>(offset, 0, static_cast<std::ptrdiff_t>(text_.size()));
    const auto line = static_cast<int>(std::count(text_.begin(), end, '\n')) + 1;
    return fail(code, std::move(message), "Nothing was taken from the file.", {.file = file_, .line = line});
  }
  [[nodiscard]] tl::unexpected<Error> refuse(const pugi::xml_node& node, std::string message,
                                             ErrorCode code = ErrorCode::invalid_input) const {
    return refuse(node.offset_debug(), std::move(message), code);
  }

  Result<Depth> depth(const pugi::xml_node& node, const char* attribute) const {
    const std::string_view name = node.attribute(attribute).value();
    if (name == "32f" || name == "16f") return Depth{};
    for (const int bits : {8, 10, 12, 16})
      if (name == fmt::format("{}i", bits)) return Depth{.top = files::top_code(bits), .bits = bits};
    return refuse(node, fmt::format("{} has {}=\"{}\", where 8i, 10i, 12i, 16i, 16f or 32f is possible", node.name(),
                                    attribute, name));
  }

  Result<void> add(const pugi::xml_node& node, std::vector<Stage>& stages) const {
    const std::string_view name = node.name();
    if (node.type() != pugi::node_element || name == "Description" || name == "InputDescriptor" ||
        name == "OutputDescriptor" || name == "Info")
      return {};
    if (name != "Matrix" && name != "LUT1D" && name != "LUT3D" && name != "Range")
      return refuse(node, fmt::format("has a process node {}, which a table cannot hold", name),
                    ErrorCode::unsupported);
    if (std::string_view(node.attribute("bypass").value()) == "true") return {};
    const auto in = depth(node, "inBitDepth"), out = depth(node, "outBitDepth");
    if (!in) return tl::unexpected(in.error());
    if (!out) return tl::unexpected(out.error());
    if (name == "Matrix") return matrix(node, *in, *out, stages);
    if (name == "Range") return range(node, *in, *out, stages);
    return name == "LUT1D" ? curves(node, *out, stages) : lattice(node, *out, stages);
  }

  struct Array {
    std::vector<int> dim;
    std::vector<double> numbers;
  };

  /// The numbers of the node's Array; as many as its dim says.
  Result<Array> array(const pugi::xml_node& node) const {
    const pugi::xml_node element = node.child("Array");
    if (!element) return refuse(node, fmt::format("{} has no Array", node.name()));
    Array array;
    double expected = 1;
    for (const auto& word : split(trim(element.attribute("dim").value()), ' ')) {
      const auto n = parse_integer(word);
      if (!n || *n < 1 || *n > kLargest1d)
        return refuse(element, fmt::format("dim=\"{}\" is not a row of counts", element.attribute("dim").value()));
      array.dim.push_back(static_cast<int>(*n));
    }
    const bool channels_beside = array.dim.size() == 3 && std::string_view(node.name()) == "Matrix";
    for (std::size_t i = 0; i < array.dim.size() - (channels_beside ? 1 : 0); ++i) expected *= array.dim[i];
    for (const pugi::xml_node& part : element.children())
      if (auto added = numbers(part, array.numbers); !added) return tl::unexpected(added.error());
    if (static_cast<double>(array.numbers.size()) != expected)
      return refuse(element, fmt::format("{} has {} numbers where its dim asks for {}", node.name(),
                                         array.numbers.size(), expected));
    return array;
  }
  Result<void> numbers(const pugi::xml_node& part, std::vector<double>& out) const {
    if (part.type() != pugi::node_pcdata) return {};
    const std::string_view text = part.value();
    constexpr const char* blank = " \t\r\n";
    for (std::size_t begin = text.find_first_not_of(blank); begin != std::string_view::npos;) {
      const std::size_t end = std::min(text.find_first_of(blank, begin), text.size());
      double value = 0;
      const auto [rest, fault] = std::from_chars(text.data() + begin, text.data() + end, value);
      if (fault != std::errc() || rest != text.data() + end || !std::isfinite(value))
        return refuse(
            part.offset_debug() + static_cast<std::ptrdiff_t>(begin),
            fmt::format("'{}' is not a finite number", text.substr(begin, std::min(end - begin, std::size_t{40}))));
      out.push_back(value);
      begin = text.find_first_not_of(blank, end);
    }
    return {};
  }

  Result<void> matrix(const pugi::xml_node& node, Depth in, Depth out, std::vector<Stage>& stages) const {
    const auto read = array(node);
    if (!read) return tl::unexpected(read.error());
    const auto& dim = read->dim;
    if (dim.size() < 2 || dim.size() > 3 || dim[0] != 3 || (dim[1] != 3 && dim[1] != 4))
      return refuse(node, "Matrix is neither 3 x 3 nor 3 x 4");
    Affine affine;
    const std::size_t columns = dim[1];
    for (std::size_t i = 0; i < 3; ++i) {
      for (std::size_t j = 0; j < 3; ++j) affine.matrix(i, j) = read->numbers[i * columns + j] * in.top / out.top;
      affine.offset[i] = columns == 4 ? read->numbers[i * columns + 3] / out.top : 0;
    }
    stages.emplace_back(affine);
    return {};
  }

  Result<void> curves(const pugi::xml_node& node, Depth out, std::vector<Stage>& stages) const {
    if (node.attribute("halfDomain") || node.attribute("rawHalfs"))
      return refuse(node, "LUT1D is by half floats, which a table cannot hold", ErrorCode::unsupported);
    const std::string_view interpolation = node.attribute("interpolation").value();
    if (!interpolation.empty() && interpolation != "linear")
      return refuse(node, fmt::format("LUT1D asks for {} interpolation", interpolation), ErrorCode::unsupported);
    const auto read = array(node);
    if (!read) return tl::unexpected(read.error());
    if (read->dim.size() != 2 || (read->dim[1] != 1 && read->dim[1] != 3))
      return refuse(node, "LUT1D has neither 1 nor 3 channels");
    Lut1d table;
    const int channels = read->dim[1];
    for (int c = 0; c < 3; ++c)
      for (int i = 0; i < read->dim[0]; ++i)
        table.channel[c].push_back(read->numbers[i * channels + (channels == 3 ? c : 0)] / out.top);
    if (out.bits != 0) static_cast<void>(files::snap_to_codes(table, out.bits));
    stages.emplace_back(std::move(table));
    return {};
  }

  Result<void> lattice(const pugi::xml_node& node, Depth out, std::vector<Stage>& stages) const {
    const std::string_view interpolation = node.attribute("interpolation").value();
    if (interpolation != "tetrahedral")
      return refuse(node,
                    fmt::format("LUT3D asks for {} interpolation, and tables here are tetrahedral",
                                interpolation.empty() ? "trilinear" : interpolation),
                    ErrorCode::unsupported);
    const auto read = array(node);
    if (!read) return tl::unexpected(read.error());
    const auto& dim = read->dim;
    if (dim.size() != 4 || dim[0] != dim[1] || dim[0] != dim[2] || dim[3] != 3)
      return refuse(node, "LUT3D is not a cube of three channels");
    Lut3d table{.size = dim[0], .nodes = {}};
    table.nodes.reserve(read->numbers.size() / 3);
    for (std::size_t i = 0; i + 2 < read->numbers.size(); i += 3)
      table.nodes.push_back(
          {read->numbers[i] / out.top, read->numbers[i + 1] / out.top, read->numbers[i + 2] / out.top});
    if (out.bits != 0) static_cast<void>(files::snap_to_codes(table, out.bits));
    stages.emplace_back(std::move(table));
    return {};
  }

  /// A Range with its four limits: to [0, 1], held there by a table of two entries unless it is told not to, and out.
  Result<void> range(const pugi::xml_node& node, Depth in, Depth out, std::vector<Stage>& stages) const {
    double limit[4] = {};
    const char* names[4] = {"minInValue", "maxInValue", "minOutValue", "maxOutValue"};
    for (std::size_t i = 0; i < 4; ++i) {
      const auto value = parse_double(node.child_value(names[i]));
      if (!value)
        return refuse(node, fmt::format("Range without the number {} cannot be a table", names[i]),
                      ErrorCode::unsupported);
      limit[i] = *value / (i < 2 ? in.top : out.top);
    }
    const double from = limit[1] - limit[0], to = limit[3] - limit[2];
    if (!(from > 0) || !(to > 0)) return refuse(node, "Range has a minimum that is not below its maximum");
    stages.emplace_back(scaled(1 / from, -limit[0] / from));
    if (std::string_view(node.attribute("style").value()) != "noClamp") stages.emplace_back(identity_1d(2));
    stages.emplace_back(scaled(to, limit[2]));
    return {};
  }
  static Affine scaled(double factor, double offset) {
    return {.matrix = colour::diagonal(Triple{factor, factor, factor}), .offset = {offset, offset, offset}};
  }

  std::string_view text_;
  const std::string& file_;
};

}  // namespace

Result<Lut> lut_from_clf(std::string_view text, const std::string& file) {
  return ClfReader(text, file).read();
}

}  // namespace provenit::correct
