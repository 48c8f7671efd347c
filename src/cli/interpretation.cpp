#include "interpretation.h"

#include <CLI/CLI.hpp>

namespace provenit::cli {
void add_interpretation(CLI::App& verb, InterpretationOptions& o) {
  const auto add = [&verb](const char* name, std::string& value, const char* what, const char* names) {
    verb.add_option(name, value, std::string(what) + ", if the file does not say or is wrong: " + names)
        ->group("How the numbers are meant");
  };
  add("--transfer", o.transfer, "transfer", programme::kTransferNames);
  add("--primaries", o.primaries, "primaries", programme::kGamutNames);
  add("--matrix", o.matrix, "matrix", programme::kMatrixNames);
  add("--range", o.range, "range of the codes", programme::kRangeNames);
  add("--siting", o.siting, "place of the chroma samples", programme::kSitingNames);
  verb.add_option("--peak", o.peak_cdm2, "cd/m2 of the nominal peak (HLG, SDR), or of 1.0 in a linear still")
      ->group("How the numbers are meant");
}

}  // namespace provenit::cli
