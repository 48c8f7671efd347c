#include "provenit/programme/picture.h"

#include <fmt/format.h>

#include "provenit/base/names.h"

namespace provenit::programme {
namespace {

constexpr Named<Chroma> kChroma[] = {
    {Chroma::c420, "420"}, {Chroma::c422, "422"}, {Chroma::c444, "444"}, {Chroma::rgb, "rgb"}, {Chroma::grey, "grey"}};
constexpr Named<Matrix> kMatrix[] = {
    {Matrix::bt601, "bt601"}, {Matrix::bt709, "bt709"}, {Matrix::bt2020_ncl, "bt2020_ncl"}, {Matrix::rgb, "rgb"}};
constexpr Named<Transfer> kTransfer[] = {{Transfer::pq, "pq"},
                                         {Transfer::hlg, "hlg"},
                                         {Transfer::bt1886, "bt1886"},
                                         {Transfer::srgb, "srgb"},
                                         {Transfer::linear, "linear"}};
constexpr Named<Gamut> kGamut[] = {{Gamut::bt709, "bt709"}, {Gamut::p3_d65, "p3_d65"}, {Gamut::bt2020, "bt2020"}};
constexpr Named<Siting> kSiting[] = {
    {Siting::left, "left"}, {Siting::centre, "centre"}, {Siting::top_left, "top_left"}, {Siting::top, "top"}};

std::string samples(const PictureFormat& f) {
  const char* depth = f.is_float ? "float" : f.range == colour::Range::narrow ? "narrow" : "full";
  const std::string bits = f.is_float ? "" : fmt::format("{}-bit ", f.bits);
  return fmt::format("{}x{} {}{} {}", f.width, f.height, bits, name_of(f.chroma), depth);
}

}  // namespace

const char* name_of(Chroma value) {
  return row_of(kChroma, value).name;
}
const char* name_of(Matrix value) {
  return row_of(kMatrix, value).name;
}
const char* name_of(Transfer value) {
  return row_of(kTransfer, value).name;
}
const char* name_of(Gamut value) {
  return row_of(kGamut, value).name;
}
const char* name_of(Siting value) {
  return row_of(kSiting, value).name;
}
std::optional<Chroma> chroma_from_name(std::string_view name) {
  return value_of(kChroma, name);
}
std::optional<Matrix> matrix_from_name(std::string_view name) {
  return value_of(kMatrix, name);
}
std::optional<Transfer> transfer_from_name(std::string_view name) {
  return value_of(kTransfer, name);
}
std::optional<Gamut> gamut_from_name(std::string_view name) {
  return value_of(kGamut, name);
}
std::optional<Siting> siting_from_name(std::string_view name) {
  return value_of(kSiting, name);
}

std::string describe(const PictureFormat& f) {
  std::string text = fmt::format("{}, transfer {}, primaries {}", samples(f), name_of(f.transfer), name_of(f.gamut));
  if (f.transfer != Transfer::pq) text += fmt::format(", peak {:g} cd/m2", f.peak_cdm2);
  if (f.chroma != Chroma::rgb && f.chroma != Chroma::grey) text += fmt::format(", matrix {}", name_of(f.matrix));
  if (f.chroma == Chroma::c420 || f.chroma == Chroma::c422) text += fmt::format(", chroma {}", name_of(f.siting));
  return text;
}

}  // namespace provenit::programme
