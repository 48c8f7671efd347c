#include "interpretation.h"

#include <CLI/CLI.hpp>

#include "provenit/signal/signal.h"

namespace provenit::cli {
namespace {

constexpr const char* kTransfers = "pq, hlg, bt1886, srgb, linear";
constexpr const char* kPrimaries = "bt709, p3_d65, bt2020";
constexpr const char* kMatrices = "bt601, bt709, bt2020_ncl, rgb";
constexpr const char* kRanges = "narrow, full";
constexpr const char* kSitings = "left, centre, top_left, top";

/// Sets `field` from `text`, or tells what the option takes.
template <class T>
Result<void> take(const std::string& text, std::optional<T> (*from_name)(std::string_view), const char* option,
                  const char* names, std::optional<T>& field) {
  if (text.empty()) return {};
  field = from_name(text);
  if (field) return {};
  return fail(ErrorCode::invalid_input, "'" + text + "' is not known", std::string("Give one of: ") + names + ".",
              {.field = option});
}

}  // namespace

void add_interpretation(CLI::App& verb, InterpretationOptions& o) {
  const auto add = [&verb](const char* name, std::string& value, const char* what, const char* names) {
    verb.add_option(name, value, std::string(what) + ", if the file does not say or is wrong: " + names)
        ->group("How the numbers are meant");
  };
  add("--transfer", o.transfer, "transfer", kTransfers);
  add("--primaries", o.primaries, "primaries", kPrimaries);
  add("--matrix", o.matrix, "matrix", kMatrices);
  add("--range", o.range, "range of the codes", kRanges);
  add("--siting", o.siting, "place of the chroma samples", kSitings);
  verb.add_option("--peak", o.peak_cdm2, "cd/m2 of the nominal peak (HLG, SDR), or of 1.0 in a linear still")
      ->group("How the numbers are meant");
}

Result<programme::Interpretation> interpretation_of(const InterpretationOptions& o) {
  programme::Interpretation meant;
  if (auto r = take(o.transfer, programme::transfer_from_name, "--transfer", kTransfers, meant.transfer); !r)
    return tl::unexpected(r.error());
  if (auto r = take(o.primaries, programme::gamut_from_name, "--primaries", kPrimaries, meant.gamut); !r)
    return tl::unexpected(r.error());
  if (auto r = take(o.matrix, programme::matrix_from_name, "--matrix", kMatrices, meant.matrix); !r)
    return tl::unexpected(r.error());
  if (auto r = take(o.range, signal::range_from_name, "--range", kRanges, meant.range); !r)
    return tl::unexpected(r.error());
  if (auto r = take(o.siting, programme::siting_from_name, "--siting", kSitings, meant.siting); !r)
    return tl::unexpected(r.error());
  if (o.peak_cdm2 != 0) {
    if (!(o.peak_cdm2 > 0 && o.peak_cdm2 <= 100000))
      return fail(ErrorCode::out_of_range, "the peak is outside the range",
                  "Give more than 0 and at most 100000 cd/m2.", {.field = "--peak"});
    meant.peak_cdm2 = o.peak_cdm2;
  }
  return meant;
}

}  // namespace provenit::cli
