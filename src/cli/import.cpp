// provenit import: readings taken elsewhere, as one run.
#include <fmt/format.h>

#include <CLI/CLI.hpp>
#include <map>
#include <memory>

#include "provenit/colour/observer.h"
#include "provenit/loan/loan.h"
#include "verbs.h"

namespace provenit::cli {
namespace {

struct ImportOptions : LoanChoice {
  std::string file, procedure, scale, spectral_unit, observer, white_step = "white", separator;
  std::vector<std::string> mapping;
  double white_cdm2 = 0, relative_value = 0;
  bool codes = false;
};

const std::map<std::string, colour::Observer> kObservers{{"cie1931_2deg", colour::Observer::cie1931_2deg},
                                                         {"cie1964_10deg", colour::Observer::cie1964_10deg},
                                                         {"cie2015_2deg", colour::Observer::cie2015_2deg},
                                                         {"cie2015_10deg", colour::Observer::cie2015_10deg}};

Result<instrument::ImportOptions> import_options(const ImportOptions& o) {
  instrument::ImportOptions out;
  if (o.scale == "absolute") out.scale = instrument::ValueScale::absolute;
  if (o.scale == "relative") out.scale = instrument::ValueScale::relative;
  if (!o.spectral_unit.empty()) {
    const auto unit = instrument::spectral_unit_of(o.spectral_unit);
    if (!unit)
      return provenit::fail(ErrorCode::invalid_input, "'" + o.spectral_unit + "' is no spectral unit",
                            "Use \"W/(sr m2 nm)\", \"mW/(sr m2 nm)\" or \"relative\".", {.field = "--spectral-unit"});
    out.spectral_unit = *unit;
  }
  if (!o.observer.empty()) {
    const auto found = kObservers.find(o.observer);
    if (found == kObservers.end())
      return provenit::fail(ErrorCode::invalid_input, "'" + o.observer + "' is no observer",
                            "Use cie1931_2deg, cie1964_10deg, cie2015_2deg or cie2015_10deg.", {.field = "--observer"});
    out.observer = found->second;
  }
  if (o.white_cdm2 > 0) {
    instrument::RelativeWhite white{.cdm2 = o.white_cdm2, .step = o.white_step};
    if (o.relative_value > 0) white.step.clear(), white.value = o.relative_value;
    out.relative_white = white;
  }
  if (!o.separator.empty()) out.separator = o.separator == "tab" ? '\t' : o.separator.front();
  out.rgb_fields_are_codes = o.codes;
  for (const auto& text : o.mapping) {
    auto mapping = instrument::parse_mapping(text);
    if (!mapping) return tl::unexpected(mapping.error());
    out.mapping.push_back(std::move(*mapping));
  }
  return out;
}

int import(const Output& output, const ImportOptions& o) {
  auto open = open_loan(o);
  if (!open) return output.fail(open.error());
  auto& [bench, loan] = *open;
  const auto options = import_options(o);
  if (!options) return output.fail(options.error());
  const auto outcome = loan::import_run(bench, loan, o.procedure, o.file, *options, machine_time());
  if (!outcome) return output.fail(outcome.error());
  std::string text =
      fmt::format("Run {}: {} readings of {} rows stored.\n", outcome->run, outcome->stored, outcome->report.rows);
  nlohmann::ordered_json document{{"run", outcome->run}, {"stored", outcome->stored}, {"rows", outcome->report.rows}};
  auto& refused = document["refused"] = nlohmann::ordered_json::array();
  for (const auto& e : outcome->report.refused) {
    text += "refused  " + e.text() + '\n';
    refused.push_back({{"line", e.where.line}, {"field", e.where.field}, {"message", e.message}, {"advice", e.advice}});
  }
  auto& remarks = document["remarks"] = nlohmann::ordered_json::array();
  for (const auto& e : outcome->report.remarks) {
    text += "remark   " + e.text() + '\n';
    remarks.push_back(e.text());
  }
  output.say(text + fmt::format("Next: provenit evaluate {}\n", o.bench), document);
  return outcome->report.refused.empty() ? kDone : kCheckFailed;
}

}  // namespace

void add_import(Command& command) {
  const auto o = std::make_shared<ImportOptions>();
  auto* verb = add_verb(
      command, "import", "readings taken elsewhere: CSV with units, or CGATS.17 / ISO 28178 text",
      "provenit import tern.bench white.csv --procedure white_point\n"
      "provenit import tern.bench primaries.txt --procedure primaries --spectral-unit \"W/(sr m2 nm)\" --observer "
      "cie1931_2deg\n"
      "provenit import tern.bench lab.csv --procedure primaries --map \"Sample 1=red\" --map \"Sample 2=green\"");
  add_loan_choice(*verb, *o);
  verb->add_option("file", o->file, "readings")->required();
  verb->add_option("--procedure", o->procedure, "the procedure these readings belong to")->required();
  verb->add_option("--scale", o->scale, "tristimulus values are absolute (cd/m2) or relative")
      ->check(CLI::IsMember({"absolute", "relative"}));
  verb->add_option("--spectral-unit", o->spectral_unit, "W/(sr m2 nm), mW/(sr m2 nm) or relative");
  verb->add_option("--observer", o->observer,
                   "turns spectra into XYZ: cie1931_2deg, cie1964_10deg, cie2015_2deg, cie2015_10deg");
  verb->add_option("--white", o->white_cdm2, "relative values: luminance of white, cd/m2")->check(CLI::PositiveNumber);
  verb->add_option("--white-step", o->white_step, "relative values: the step that white is");
  verb->add_option("--relative-value", o->relative_value,
                   "relative values: the Y that --white stands for, instead of a step")
      ->check(CLI::PositiveNumber);
  verb->add_option("--separator", o->separator, "CSV: one character, or tab");
  verb->add_option("--map", o->mapping, "SAMPLE=STEP or SAMPLE=STEP:R,G,B; may be repeated");
  verb->add_flag("--codes", o->codes, "CGATS: the RGB fields are code values of this display's encoding");
  verb->callback([&command, o] { command.action = [&command, o] { return import(command.output, *o); }; });
}

}  // namespace provenit::cli
