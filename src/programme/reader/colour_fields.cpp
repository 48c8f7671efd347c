#include "reader/colour_fields.h"

#include <fmt/format.h>

#include <functional>

#include "provenit/programme/pixel.h"

namespace provenit::programme {
namespace {

constexpr int kUnspecified = 2;

// One field being settled: what is said of it, by whom, and what the user says.
struct Field {
  const std::string& path;
  const char* name;
  const char* option;
  std::vector<std::string>& notes;

  [[nodiscard]] tl::unexpected<Error> missing(const std::string& detail = {}) const {
    return fail(ErrorCode::invalid_input,
                fmt::format("the file does not say its {}{}{}", name, detail.empty() ? "" : ": ", detail),
                fmt::format("Say it with {}, if you know it.", option), {.file = path, .field = name});
  }
  [[nodiscard]] tl::unexpected<Error> unusable(const std::string& value, const std::string& where) const {
    return fail(ErrorCode::unsupported, fmt::format("{} says {} {}, which is not supported", where, name, value),
                fmt::format("If that is wrong, say the right one with {}.", option), {.file = path, .field = name});
  }
  void override_note(const char* chosen, const std::string& said, const std::string& where) const {
    notes.push_back(fmt::format("{} {} as given by the user; {} says {}", name, chosen, where, said));
  }
};

// First specified code point in order of precedence. Later places that say something else are noted.
struct Said {
  int code = kUnspecified;
  std::string where;
};
Said first_said(std::span<const ColourFields> said, int ColourFields::*member, const Field& field) {
  Said first;
  for (const ColourFields& place : said) {
    const int code = place.*member;
    if (code == kUnspecified) continue;
    if (first.code == kUnspecified) {
      first = {.code = code, .where = place.where};
    } else if (code != first.code) {
      field.notes.push_back(fmt::format("{}: {} says {}, {} says {} (H.273 code points); {} counts", field.name,
                                        first.where, first.code, place.where, code, first.where));
    }
  }
  return first;
}

std::optional<Transfer> transfer_of(int code) {
  switch (code) {
    case 1:
    case 6:
    case 14:
    case 15:
      return Transfer::bt1886;
    case 8:
      return Transfer::linear;
    case 13:
      return Transfer::srgb;
    case 16:
      return Transfer::pq;
    case 18:
      return Transfer::hlg;
    default:
      return std::nullopt;
  }
}

std::optional<Gamut> gamut_of(int code) {
  switch (code) {
    case 1:
      return Gamut::bt709;
    case 9:
      return Gamut::bt2020;
    case 12:
      return Gamut::p3_d65;
    default:
      return std::nullopt;
  }
}

std::optional<Matrix> matrix_of(int code, Gamut gamut) {
  switch (code) {
    case 1:
      return Matrix::bt709;
    case 5:
    case 6:
      return Matrix::bt601;
    case 9:
      return Matrix::bt2020_ncl;
    case 12:  // K_R and K_B follow from the primaries: those of the two Recommendations give their own matrices
      if (gamut == Gamut::bt709) return Matrix::bt709;
      if (gamut == Gamut::bt2020) return Matrix::bt2020_ncl;
      return std::nullopt;
    default:
      return std::nullopt;
  }
}

std::string code_text(int code) {
  return fmt::format("H.273 code point {}", code);
}

// The user's value, else the first said one through `convert`.
template <class T>
Result<T> settle(const Field& field, const std::optional<T>& user, const Said& said,
                 const std::function<std::optional<T>(int)>& convert) {
  if (user) {
    if (said.code != kUnspecified && convert(said.code) != user)
      field.override_note(name_of(*user), code_text(said.code), said.where);
    else if (said.code == kUnspecified)
      field.notes.push_back(
          fmt::format("{} {} as given by the user; the file does not say", field.name, name_of(*user)));
    return *user;
  }
  if (said.code == kUnspecified) return field.missing();
  const std::optional<T> value = convert(said.code);
  if (!value) return field.unusable(code_text(said.code), said.where);
  return *value;
}

const char* name_of_range(colour::Range range) {
  return range == colour::Range::full ? "full" : "narrow";
}

Result<colour::Range> settle_range(const Field& field, const SampleLayout& layout, std::span<const ColourFields> said,
                                   std::optional<colour::Range> user) {
  std::optional<colour::Range> first;
  std::string where;
  for (const ColourFields& place : said) {
    if (!place.range) continue;
    if (!first) {
      first = place.range;
      where = place.where;
    } else if (*first != *place.range) {
      field.notes.push_back(fmt::format("range: {} says {}, {} says {}; {} counts", where, name_of_range(*first),
                                        place.where, name_of_range(*place.range), where));
    }
  }
  if (user) {
    if (first && *first != *user) field.override_note(name_of_range(*user), name_of_range(*first), where);
    return *user;
  }
  if (first) return *first;
  if (!layout.silent_range) return field.missing();
  field.notes.push_back(fmt::format("range {}: {}", name_of_range(*layout.silent_range), layout.silent_range_reason));
  return *layout.silent_range;
}

Result<Siting> settle_siting(const Field& field, const SampleLayout& layout, std::span<const ColourFields> said,
                             std::optional<Siting> user) {
  std::optional<int> first;
  std::string where;
  for (const ColourFields& place : said) {
    if (!place.siting || first) continue;
    first = place.siting;
    where = place.where;
  }
  const auto in_range = [](int type) { return type >= 0 && type <= 3; };
  const auto text = [&](int type) {
    return in_range(type) ? std::string(name_of(static_cast<Siting>(type))) : fmt::format("type {}", type);
  };
  if (user) {
    if (first && (!in_range(*first) || static_cast<Siting>(*first) != *user))
      field.override_note(name_of(*user), text(*first), where);
    return *user;
  }
  if (first) {
    if (!in_range(*first)) return field.unusable(fmt::format("type {}", *first), where);
    const auto value = static_cast<Siting>(*first);
    if (layout.chroma == Chroma::c422 && value == Siting::top_left) return Siting::left;  // co-sited, both
    if (layout.chroma == Chroma::c422 && value == Siting::top) return Siting::centre;
    return value;
  }
  if (!layout.silent_siting) return field.missing();
  field.notes.push_back(fmt::format("siting {}: {}", name_of(*layout.silent_siting), layout.silent_siting_reason));
  return *layout.silent_siting;
}

// Peak: documented reference levels where the standard has one.
Result<double> settle_peak(const Field& field, Transfer transfer, std::optional<double> user) {
  if (user) {
    if (!(*user > 0 && *user <= 100000))
      return fail(ErrorCode::out_of_range, fmt::format("peak {} cd/m2 is not in (0, 100000]", *user),
                  "Give the luminance of nominal white in cd/m2.", {.file = field.path, .field = field.name});
    if (transfer == Transfer::pq) field.notes.push_back("peak given by the user is not used: PQ is absolute");
    return transfer == Transfer::pq ? PictureFormat{}.peak_cdm2 : *user;
  }
  switch (transfer) {
    case Transfer::pq:
      return PictureFormat{}.peak_cdm2;
    case Transfer::hlg:
      field.notes.push_back("peak 1000 cd/m2: nominal peak of the HLG reference display (BT.2100)");
      return 1000.0;
    case Transfer::bt1886:
      field.notes.push_back("peak 100 cd/m2: reference white of BT.2035 for the EOTF of BT.1886");
      return 100.0;
    case Transfer::srgb:
      field.notes.push_back("peak 80 cd/m2: reference display of IEC 61966-2-1");
      return 80.0;
    case Transfer::linear:
      break;
  }
  return field.missing("linear light needs the luminance of the value 1.0");
}

// Y'CbCr samples whose stream says "RGB", and the other way about.
Result<Matrix> settle_matrix(const Field& field, const SampleLayout& layout, std::span<const ColourFields> said,
                             std::optional<Matrix> user, Gamut gamut) {
  if (layout.chroma == Chroma::grey) return PictureFormat{}.matrix;
  const Said first = first_said(said, &ColourFields::matrix, field);
  if (layout.chroma == Chroma::rgb) {
    if (user && *user != Matrix::rgb)
      field.notes.push_back("the matrix given by the user is not used: the samples are R'G'B'");
    return Matrix::rgb;
  }
  if (user == Matrix::rgb)
    return fail(ErrorCode::invalid_input, "matrix rgb does not fit: the decoder delivers Y'CbCr",
                "Give the matrix of Y'CbCr with --matrix.", {.file = field.path, .field = field.name});
  if (!user && (first.code == 10 || first.code == 13 || first.code == 14))
    return fail(ErrorCode::unsupported,
                fmt::format("{} says {} (H.273 matrix {}), which is not supported", first.where,
                            first.code == 14 ? "ICtCp" : "constant luminance", first.code),
                "Convert it to non-constant luminance Y'CbCr or R'G'B'.", {.file = field.path, .field = field.name});
  return settle<Matrix>(field, user, first, [gamut](int code) { return matrix_of(code, gamut); });
}

}  // namespace

Result<PictureFormat> settle_format(const std::string& path, const SampleLayout& layout,
                                    std::span<const ColourFields> said, const Interpretation& user,
                                    std::vector<std::string>& notes) {
  PictureFormat f;
  f.width = layout.width;
  f.height = layout.height;
  f.bits = layout.bits;
  f.is_float = layout.is_float;
  f.chroma = layout.chroma;

  const Field transfer{path, "transfer", "--transfer", notes};
  const auto t =
      settle<Transfer>(transfer, user.transfer, first_said(said, &ColourFields::transfer, transfer), transfer_of);
  if (!t) return tl::unexpected(t.error());
  f.transfer = *t;
  const Field primaries{path, "primaries", "--primaries", notes};
  const auto g = settle<Gamut>(primaries, user.gamut, first_said(said, &ColourFields::primaries, primaries), gamut_of);
  if (!g) return tl::unexpected(g.error());
  f.gamut = *g;
  const auto m = settle_matrix({path, "matrix", "--matrix", notes}, layout, said, user.matrix, f.gamut);
  if (!m) return tl::unexpected(m.error());
  f.matrix = *m;
  if (!layout.is_float) {
    const auto r = settle_range({path, "range", "--range", notes}, layout, said, user.range);
    if (!r) return tl::unexpected(r.error());
    f.range = *r;
  }
  if (layout.chroma == Chroma::c420 || layout.chroma == Chroma::c422) {
    const auto s = settle_siting({path, "siting", "--siting", notes}, layout, said, user.siting);
    if (!s) return tl::unexpected(s.error());
    f.siting = *s;
  }
  const auto p = settle_peak({path, "peak", "--peak", notes}, f.transfer, user.peak_cdm2);
  if (!p) return tl::unexpected(p.error());
  f.peak_cdm2 = *p;
  if (auto checked = check_format(f); !checked) {
    checked.error().where.file = path;
    return tl::unexpected(checked.error());
  }
  return f;
}

}  // namespace provenit::programme
