#pragma once
// A drawing as SVG: shapes with a style by name, text, and the spots that can be read. Coordinates in px, y downwards.
#include <span>
#include <string>
#include <string_view>
#include <vector>

namespace provenit::publish {

struct Place {
  double x = 0, y = 0;
};
struct Box {
  double left = 0, top = 0, right = 0, bottom = 0;
  [[nodiscard]] double width() const { return right - left; }
  [[nodiscard]] double height() const { return bottom - top; }
};
enum class Anchor { start, middle, end };

/// Colours of a drawing. On a page they are the page's variables, so that it is light or dark with its reader.
struct Palette {
  std::string_view ground, ink, ink2, ink3, rule, accent, band, red, green, blue;
};
[[nodiscard]] const Palette& page_palette();
[[nodiscard]] const Palette& light_palette();
[[nodiscard]] const Palette& dark_palette();
/// What every style looks like, as CSS below `scope` (".chart ", or empty).
[[nodiscard]] std::string drawing_css(const Palette& palette, std::string_view scope);

class Drawing {
 public:
  /// `text`: size of its letters, by which margins, dots and lines go too.
  Drawing(double width, double height, double text) : width_(width), height_(height), text_(text) {}
  [[nodiscard]] double width() const { return width_; }
  [[nodiscard]] double height() const { return height_; }
  [[nodiscard]] double text() const { return text_; }
  [[nodiscard]] Box whole() const { return {0, 0, width_, height_}; }

  void line(std::string_view style, Place from, Place to);
  void path(std::string_view style, std::span<const Place> places, bool closed = false);
  /// The area between two courses of the same length.
  void area(std::string_view style, std::span<const Place> upper, std::span<const Place> lower);
  /// `radius` in sizes of a letter.
  void dot(std::string_view style, Place at, double radius = 0.28);
  /// A mark for what lies beyond the edge, pointing up or down.
  void beyond(Place at, bool up);
  /// `scale`: of the letters.
  void say(std::string_view style, Place at, Anchor anchor, std::string_view text, double scale = 1);
  /// The spot of the next row of the chart's numbers.
  void spot(Place at) { spots_.push_back(at); }

  [[nodiscard]] const std::string& elements() const { return elements_; }
  /// "12,34.5 56,7": the spots, for the page's script.
  [[nodiscard]] std::string spots() const;
  /// About how wide a text is, px.
  [[nodiscard]] double width_of(std::string_view text, double scale = 1) const;

 private:
  double width_, height_, text_;
  std::string elements_;
  std::vector<Place> spots_;
};

/// "12.3": a coordinate in as few letters as a tenth of a px needs.
[[nodiscard]] std::string coordinate(double value);

}  // namespace provenit::publish
