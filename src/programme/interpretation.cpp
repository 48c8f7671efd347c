#include "provenit/programme/reader.h"
#include "provenit/signal/signal.h"

namespace provenit::programme {
namespace {

/// Sets `field` from `text`, or tells what it takes.
template <class T>
Result<void> take(const std::string& text, std::optional<T> (*from_name)(std::string_view), const std::string& name,
                  const char* names, std::optional<T>& field) {
  if (text.empty()) return {};
  field = from_name(text);
  if (field) return {};
  return fail(ErrorCode::invalid_input, "'" + text + "' is not known", std::string("Give one of: ") + names + ".",
              {.field = name});
}

}  // namespace

Result<Interpretation> interpretation_of(const InterpretationNames& o, std::string_view prefix) {
  Interpretation meant;
  const auto named = [&](const char* field) { return std::string(prefix) + field; };
  if (auto r = take(o.transfer, transfer_from_name, named("transfer"), kTransferNames, meant.transfer); !r)
    return tl::unexpected(r.error());
  if (auto r = take(o.primaries, gamut_from_name, named("primaries"), kGamutNames, meant.gamut); !r)
    return tl::unexpected(r.error());
  if (auto r = take(o.matrix, matrix_from_name, named("matrix"), kMatrixNames, meant.matrix); !r)
    return tl::unexpected(r.error());
  if (auto r = take(o.range, signal::range_from_name, named("range"), kRangeNames, meant.range); !r)
    return tl::unexpected(r.error());
  if (auto r = take(o.siting, siting_from_name, named("siting"), kSitingNames, meant.siting); !r)
    return tl::unexpected(r.error());
  if (o.peak_cdm2 != 0) {
    if (!(o.peak_cdm2 > 0 && o.peak_cdm2 <= 100000))
      return fail(ErrorCode::out_of_range, "the peak is outside the range",
                  "Give more than 0 and at most 100000 cd/m2.", {.field = named("peak")});
    meant.peak_cdm2 = o.peak_cdm2;
  }
  return meant;
}

}  // namespace provenit::programme
