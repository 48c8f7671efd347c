#include "provenit/programme/picture.h"

#include <fmt/format.h>

#include <utility>

namespace provenit::programme {
namespace {

template <class T, std::size_t N>
using Names = std::array<std::pair<T, const char*>, N>;

constexpr Names<Chroma, 5> kChroma{{{Chroma::c420, "420"},
                                    {Chroma::c422, "422"},
                                    {Chroma::c444, "444"},
                                    {Chroma::rgb, "rgb"},
                                    {Chroma::grey, "grey"}}};
constexpr Names<Matrix, 4> kMatrix{
    {{Matrix::bt601, "bt601"}, {Matrix::bt709, "bt709"}, {Matrix::bt2020_ncl, "bt2020_ncl"}, {Matrix::rgb, "rgb"}}};
constexpr Names<Transfer, 5> kTransfer{{{Transfer::pq, "pq"},
                                        {Transfer::hlg, "hlg"},
                                        {Transfer::bt1886, "bt1886"},
                                        {Transfer::srgb, "srgb"},
                                        {Transfer::linear, "linear"}}};
constexpr Names<Gamut, 3> kGamut{{{Gamut::bt709, "bt709"}, {Gamut::p3_d65, "p3_d65"}, {Gamut::bt2020, "bt2020"}}};
constexpr Names<Siting, 4> kSiting{
    {{Siting::left, "left"}, {Siting::centre, "centre"}, {Siting::top_left, "top_left"}, {Siting::top, "top"}}};

template <class T, std::size_t N>
const char* name_in(const Names<T, N>& names, T value) {
  for (const auto& [v, name] : names)
    if (v == value) return name;
  return "?";
}

template <class T, std::size_t N>
std::optional<T> value_in(const Names<T, N>& names, std::string_view text) {
  for (const auto& [v, name] : names)
    if (text == name) return v;
  return std::nullopt;
}

std::string samples(const PictureFormat& f) {
  const char* depth = f.is_float ? "float" : f.range == colour::Range::narrow ? "narrow" : "full";
  const std::string bits = f.is_float ? "" : fmt::format("{}-bit ", f.bits);
  return fmt::format("{}x{} {}{} {}", f.width, f.height, bits, name_of(f.chroma), depth);
}

}  // namespace

const char* name_of(Chroma value) {
  return name_in(kChroma, value);
}
const char* name_of(Matrix value) {
  return name_in(kMatrix, value);
}
const char* name_of(Transfer value) {
  return name_in(kTransfer, value);
}
const char* name_of(Gamut value) {
  return name_in(kGamut, value);
}
const char* name_of(Siting value) {
  return name_in(kSiting, value);
}
std::optional<Chroma> chroma_from_name(std::string_view name) {
  return value_in(kChroma, name);
}
std::optional<Matrix> matrix_from_name(std::string_view name) {
  return value_in(kMatrix, name);
}
std::optional<Transfer> transfer_from_name(std::string_view name) {
  return value_in(kTransfer, name);
}
std::optional<Gamut> gamut_from_name(std::string_view name) {
  return value_in(kGamut, name);
}
std::optional<Siting> siting_from_name(std::string_view name) {
  return value_in(kSiting, name);
}

std::string describe(const PictureFormat& f) {
  std::string text = fmt::format("{}, transfer {}, primaries {}", samples(f), name_of(f.transfer), name_of(f.gamut));
  if (f.transfer != Transfer::pq) text += fmt::format(", peak {:g} cd/m2", f.peak_cdm2);
  if (f.chroma != Chroma::rgb && f.chroma != Chroma::grey) text += fmt::format(", matrix {}", name_of(f.matrix));
  if (f.chroma == Chroma::c420 || f.chroma == Chroma::c422) text += fmt::format(", chroma {}", name_of(f.siting));
  return text;
}

}  // namespace provenit::programme
