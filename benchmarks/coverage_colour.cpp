// How often the 95 % intervals of the colour methods hold what is true, over simulated runs that differ in display
// unit, meter errors, noise and drift. A sound interval holds it in about 95 of 100. Counts (first code, reversals,
// steps resolved) are whole numbers with intervals that are wide by construction: for them 93 % is the bar.
#include <fmt/format.h>

#include <array>
#include <cstdlib>
#include <functional>
#include <string>
#include <vector>

#include "colour_loans.h"
#include "figure.h"
#include "trials.h"

namespace {

using namespace provenit;

int loans() {
  return bench::trials("COVERAGE_LOANS");
}

struct Asked {
  std::string quantity;
  nlohmann::json conditions;
  std::function<double(const bench::ColourLoan&)> truth;
  bool count = false;
  bool only_where_found = false;  ///< not every display has what is asked for
};

std::string name_of(const Asked& asked, const char* label) {
  std::string name = "coverage_" + asked.quantity;
  for (const auto& [key, value] : asked.conditions.items())
    name += "_" + (value.is_string() ? value.get<std::string>() : fmt::format("{:g}", value.get<double>()));
  return name + label;
}

const store::FindingRecord* find(const std::vector<store::FindingRecord>& findings, const Asked& asked) {
  for (const auto& f : findings)
    if (f.quantity == asked.quantity && f.conditions == asked.conditions) return &f;
  return nullptr;
}

bench::Entry coverage(const std::string& procedure, const bench::ColourOptions& options, std::vector<Asked> asked) {
  bench::Entry entry;
  for (const auto& a : asked) entry.names.push_back(name_of(a, options.label));
  entry.compute = [procedure, options, asked = std::move(asked)] {
    std::vector<int> held(asked.size()), of(asked.size());
    const int n = loans();
    const auto first = bench::first_seed();
    for (int i = 0; i < n; ++i) {
      const auto loan = bench::colour_loan(first + static_cast<std::uint64_t>(i), procedure, options);
      const auto findings = evaluation::evaluate(loan.runs, loan.input);
      if (!findings) {
        fmt::print(stderr, "{}\n", findings.error().text());
        std::exit(3);
      }
      for (std::size_t k = 0; k < asked.size(); ++k) {
        const auto* f = find(*findings, asked[k]);
        if (f == nullptr && asked[k].only_where_found) continue;
        ++of[k];
        const double truth = asked[k].truth(loan);
        const bool holds = f != nullptr && f->lower95 - 1e-9 <= truth && truth <= f->upper95 + 1e-9;
        held[k] += holds;
        if (f != nullptr && std::getenv("COVERAGE_SHOW") != nullptr)
          fmt::print(stderr, "{} {} truth {:.6g} value {:.6g} [{:.6g}, {:.6g}] u {:.3g} {}\n",
                     name_of(asked[k], options.label), first + static_cast<std::uint64_t>(i), truth, f->value,
                     f->lower95, f->upper95, f->standard_uncertainty, f->dominant);
      }
    }
    std::vector<bench::Figure> figures;
    for (std::size_t k = 0; k < asked.size(); ++k) {
      const double percent = of[k] > 0 ? 100.0 * held[k] / of[k] : 0.0;
      const bool holds = percent >= 93 && (asked[k].count || percent <= 97);
      figures.push_back({name_of(asked[k], options.label), percent, "%", asked[k].count ? ">= 93" : "93 to 97", holds});
    }
    return figures;
  };
  return entry;
}

using Loan = bench::ColourLoan;
const nlohmann::json kNone = nlohmann::json::object();

std::vector<Asked> hues(const char* quantity, const std::vector<const char*>& colours, bool against_highest) {
  std::vector<Asked> out;
  for (const char* colour : colours)
    out.push_back({quantity, {{"colour", colour}}, [colour, against_highest](const Loan& l) {
                     return bench::true_hue_change(l, colour, against_highest);
                   }});
  return out;
}

/// How often the kind of emitters is named rightly, over the demo displays and the one with fluoride lines.
std::vector<bench::Figure> emitters_right(bench::ColourOptions options) {
  constexpr std::array<std::pair<const char*, const char*>, 3> kinds{
      {{"tern-32", "quantum dots"}, {"curlew-27", "self-emissive RGB"}, {"fluoride-check", "fluoride phosphor"}}};
  int right = 0;
  const int n = loans();
  for (int i = 0; i < n; ++i) {
    const auto& [display, kind] = kinds[static_cast<std::size_t>(i) % kinds.size()];
    options.display = display;
    const auto loan = bench::colour_loan(static_cast<std::uint64_t>(i) + 1, "spectra", options);
    const auto findings = evaluation::evaluate(loan.runs, loan.input);
    const auto* f = findings ? find(*findings, {"emitter_class", kNone, {}}) : nullptr;
    right += f != nullptr && f->parts["answer"] == kind;
  }
  const double percent = 100.0 * right / n;
  return {{"emitter_class_right", percent, "%", ">= 95", percent >= 95}};
}

/// Volume of the additive display that five readings make against the display's own surface, 17 samples per face and
/// edge, in percent of it.
std::vector<bench::Figure> additive_against_dense() {
  std::vector<bench::Figure> figures;
  for (const char* display : {"tern-32", "curlew-27"}) {
    const auto loan = bench::colour_loan(
        1, "colour_volume",
        {.parameters = {{"patches", 2}, {"additivity_tolerance_percent", 1000.0}}, .faults = 1, .display = display});
    const double percent = 100 * (bench::true_itp_volume(loan) / bench::dense_itp_volume(loan, 17) - 1);
    figures.push_back({std::string("volume_additive_against_dense_") + (display[0] == 't' ? "tern" : "curlew"), percent,
                       "%", "-7 to 7", std::abs(percent) < 7});
  }
  return figures;
}

std::vector<bench::Entry> entries() {
  std::vector<bench::Entry> all;
  all.push_back(
      coverage("colour_volume", {.parameters = {{"patches", 40}, {"additivity_tolerance_percent", 1000.0}}},
               {{"colour_volume", {{"space", "ictcp"}}, bench::true_itp_volume},
                {"colour_volume", {{"space", "lab"}}, bench::true_lab_volume},
                {"colour_volume_coverage",
                 {{"reference", "bt2020"}, {"space", "ictcp"}},
                 [](const Loan& l) { return bench::true_itp_coverage(l, colour::bt2020_primaries); }},
                {"colour_volume_coverage",
                 {{"reference", "p3_d65"}, {"space", "ictcp"}},
                 [](const Loan& l) { return bench::true_itp_coverage(l, colour::p3_d65_primaries); }},
                {"volume_mean_delta_e_itp", kNone, [](const Loan& l) { return bench::true_itp(l, "set_").mean; }},
                {"volume_p95_delta_e_itp", kNone, [](const Loan& l) { return bench::true_itp(l, "set_").p95; }},
                {"volume_max_delta_e_itp", kNone, [](const Loan& l) { return bench::true_itp(l, "set_").largest; }}}));
  // The surface read, of 26 samples.
  all.push_back(coverage(
      "colour_volume",
      {.parameters = {{"patches", 2}, {"additivity_tolerance_percent", 0.0}, {"surface_samples", 3}}, .label = "_read"},
      {{"colour_volume", {{"space", "ictcp"}}, [](const Loan& l) { return bench::true_read_volume(l, 3, true); }},
       {"colour_volume", {{"space", "lab"}}, [](const Loan& l) { return bench::true_read_volume(l, 3, false); }}}));
  all.push_back(coverage(
      "chart_accuracy", {},
      {{"chart_mean_delta_e_itp", kNone, [](const Loan& l) { return bench::true_itp(l, "chart_").mean; }},
       {"chart_p95_delta_e_itp", kNone, [](const Loan& l) { return bench::true_itp(l, "chart_").p95; }},
       {"chart_max_delta_e_itp", kNone, [](const Loan& l) { return bench::true_itp(l, "chart_").largest; }},
       {"chart_mean_ciede2000", kNone, [](const Loan& l) { return bench::true_ciede2000(l, "chart_", 203).mean; }},
       {"chart_p95_ciede2000", kNone, [](const Loan& l) { return bench::true_ciede2000(l, "chart_", 203).p95; }},
       {"chart_max_ciede2000", kNone, [](const Loan& l) { return bench::true_ciede2000(l, "chart_", 203).largest; }}}));
  all.push_back(coverage(
      "near_black", {},
      {{"near_black_mean_luminance_part", kNone,
        [](const Loan& l) { return bench::true_near_black(l).mean_luminance_part; }},
       {"near_black_max_delta_uv", kNone, [](const Loan& l) { return bench::true_near_black(l).max_delta_uv; }},
       {"near_black_first_code", kNone, [](const Loan& l) { return bench::true_near_black(l).first_code; }, true},
       {"near_black_reversals", kNone, [](const Loan& l) { return bench::true_near_black(l).reversals; }, true}}));
  std::vector<Asked> levels;
  for (double level : {1.0, 10.0, 100.0, 400.0})
    levels.push_back({"steps_resolved",
                      {{"level_cdm2", level}},
                      [level](const Loan& l) { return bench::true_resolved(l, level); },
                      true});
  levels.push_back({"effective_bits",
                    {{"level_cdm2", 1.0}},
                    [](const Loan& l) { return 10 + std::log2(bench::true_resolved(l, 1.0) / 100); },
                    true});
  all.push_back(coverage("step_resolution", {}, std::move(levels)));
  all.push_back(coverage("hue_linearity", {},
                         hues("hue_linearity_error", {"red", "yellow", "green", "cyan", "blue", "magenta"}, true)));
  all.push_back(coverage("clip_hue", {},
                         hues("clip_hue_shift", {"red", "yellow", "green", "cyan", "blue", "magenta", "skin"}, false)));
  all.push_back(coverage("greyscale", {},
                         {{"white_tracking_max_delta_uv", kNone, bench::true_white_tracking},
                          {"clip_softness", kNone, bench::true_softness, false, true}}));
  const bench::ColourOptions spectral{.spectral = true, .bandwidth_nm = 5, .wavelength_nm = 0.3};
  std::vector<Asked> spectra;
  for (const char* primary : {"red", "green", "blue"}) {
    spectra.push_back({"peak_wavelength", {{"primary", primary}}, [primary](const Loan& l) {
                         return bench::true_peak(l, primary).centre_nm;
                       }});
    spectra.push_back({"peak_width", {{"primary", primary}}, [primary](const Loan& l) {
                         return bench::true_peak(l, primary).width_nm;
                       }});
  }
  for (const auto& [key, observer] : {std::pair{"cie1931_2deg", colour::Observer::cie1931_2deg},
                                      std::pair{"cie2015_2deg", colour::Observer::cie2015_2deg}})
    spectra.push_back({"white_delta_uv_by_observer", {{"observer", key}}, [who = observer](const Loan& l) {
                         return bench::true_white_by_observer(l, who);
                       }});
  all.push_back(coverage("spectra", spectral, std::move(spectra)));
  all.push_back(
      {{"volume_additive_against_dense_tern", "volume_additive_against_dense_curlew"}, additive_against_dense});
  all.push_back({{"emitter_class_right"}, [spectral] { return emitters_right(spectral); }});
  return all;
}

}  // namespace

int main(int argc, char** argv) {
  return bench::run(argc, argv, entries());
}
