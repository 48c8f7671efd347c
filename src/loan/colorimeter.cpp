// The matrix of a colorimeter, from what two loans of one display have read.
#include "provenit/loan/colorimeter.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>

#include "colorimeter_file.h"
#include "provenit/colour/spaces.h"
#include "provenit/evaluation/measurement_model.h"

namespace provenit::loan {
namespace {

using colour::AbsoluteXyz;
using colour::Uncertain;
using evaluation::RunLight;
using evaluation::StepLight;

constexpr double kDarkest_cdm2 = 1;            ///< of a pair; common practice, no source
constexpr double kLargestUncertainty = 0.005;  ///< of x and y of a pair, as instrument_matrix.h demands
constexpr Seconds kLongestGap{2 * 3600.0};     ///< between the two instruments; common practice, no source
constexpr double kDisplayDrift = 0.01;         ///< of white's luminance in that time; common practice, no source

struct Side {
  evaluation::Light light;
  std::map<store::Id, std::pair<store::Id, Timestamp>> taken;  ///< by reading: its run, and when
};

/// The readings without the certificate's errors: those of the colorimeter go with the matrix, those of the reference
/// come back with its certificate.
Result<Side> side_of(const store::Bench& bench, const store::LoanRecord& loan, const signal::Encoding& encoding) {
  const auto instrument = bench.instrument(loan.instrument);
  if (!instrument) return tl::unexpected(instrument.error());
  const auto runs = bench.runs(loan.id);
  if (!runs) return tl::unexpected(runs.error());
  Side out;
  std::vector<evaluation::RunData> data;
  for (const auto& run : *runs) {
    if (run.state == store::RunState::aborted || run.procedure == "balance") continue;
    auto readings = bench.readings(run.id);
    if (!readings) return tl::unexpected(readings.error());
    for (const auto& r : *readings) out.taken[r.id] = {run.id, r.taken};
    if (!readings->empty()) data.push_back({run, std::move(*readings)});
  }
  evaluation::EvaluationInput input{
      .encoding = encoding, .certificate = instrument->certificate, .capabilities = instrument->capabilities};
  input.certificate.luminance_expanded_relative = 0;
  input.certificate.x_expanded = input.certificate.y_expanded = 0;
  auto light = evaluation::model_light(data, input);
  if (!light) return tl::unexpected(light.error());
  out.light = std::move(*light);
  return out;
}

/// The same light and covariance, of sources of its own in `sources`.
Result<AbsoluteXyz<Uncertain>> moved(const AbsoluteXyz<Uncertain>& c, const colour::Sources& from, const char* name,
                                     colour::Sources& sources) {
  const std::array<const Uncertain*, 3> part{&c.X, &c.Y, &c.Z};
  std::vector<colour::Source> errors;
  std::vector<double> correlation;
  for (const auto* p : part) {
    errors.push_back({.name = name, .standard_uncertainty = standard_uncertainty(*p, from)});
    for (const auto* q : part) correlation.push_back(p == q ? 1 : colour::correlation(*p, *q, from));
  }
  const auto first = sources.add_correlated(errors, correlation);
  if (!first) return tl::unexpected(first.error());
  return AbsoluteXyz<Uncertain>{.X = Uncertain(c.X.value(), *first),
                                .Y = Uncertain(c.Y.value(), *first + 1),
                                .Z = Uncertain(c.Z.value(), *first + 2)};
}

nlohmann::json place_of(const StepLight& step) {
  return step.context.value("placement", nlohmann::json());
}

bool tells_chromaticity(const StepLight& step, const colour::Sources& sources) {
  if (!(step.light.Y.value() >= kDarkest_cdm2)) return false;
  const auto xy = colour::xy_from_xyz(step.light);
  return std::max(standard_uncertainty(xy.x, sources), standard_uncertainty(xy.y, sources)) <= kLargestUncertainty;
}

struct Match {
  std::string procedure;
  const StepLight *colorimeter, *reference;
};

/// Steps that both loans have of one signal at one place; the newest run of each first.
std::vector<Match> matches_of(const Side& colorimeter, const Side& reference) {
  std::vector<Match> out;
  for (const auto& run : colorimeter.light.runs) {
    if (run.watches_drift) continue;
    for (const auto& step : run.steps)
      for (const auto& other : reference.light.runs) {
        const auto* found = other.procedure == run.procedure ? other.find(step.key) : nullptr;
        if (found == nullptr || found->signal != step.signal || place_of(*found) != place_of(step)) continue;
        const bool known = std::ranges::any_of(
            out, [&](const Match& m) { return m.procedure == run.procedure && m.colorimeter->key == step.key; });
        if (!known) out.push_back({run.procedure, &step, found});
        break;
      }
  }
  return out;
}

Result<std::vector<Match>> four_of(const std::vector<Match>& all, const store::Bench& bench,
                                   const store::LoanRecord& loan, const store::LoanRecord& reference) {
  std::vector<Match> out;
  for (const char* name : {"red", "green", "blue", "white"}) {
    const auto found = std::ranges::find_if(
        all, [&](const Match& m) { return m.procedure == "primaries" && m.colorimeter->key == name; });
    if (found == all.end())
      return fail(ErrorCode::not_found,
                  fmt::format("loans {} and {} have no reading of the same {} in runs of `primaries`", loan.id,
                              reference.id, name),
                  fmt::format("Ask a question about primaries in both and run them with the same window and level: "
                              "provenit run {} --loan N",
                              bench.path()));
    out.push_back(*found);
  }
  return out;
}

/// The clear pairs of one procedure, of that which has most of them and more than greys: between two runs the display
/// may have changed, and a matrix of both would turn that into colour.
Result<std::vector<Match>> most_of(const std::vector<Match>& all, const Side& colorimeter, const Side& reference,
                                   const store::Bench& bench, const store::LoanRecord& loan,
                                   const store::LoanRecord& other, std::size_t& left_out) {
  std::map<std::string, std::vector<Match>> groups;
  std::map<std::string, std::size_t> dark;
  for (const auto& m : all) {
    const bool clear = tells_chromaticity(*m.colorimeter, colorimeter.light.sources) &&
                       tells_chromaticity(*m.reference, reference.light.sources);
    if (clear)
      groups[m.procedure].push_back(m);
    else
      ++dark[m.procedure];
  }
  const std::vector<Match>* best = nullptr;
  for (const auto& [procedure, group] : groups) {
    const bool coloured = std::ranges::any_of(group, [](const Match& m) {
      const auto& code = m.colorimeter->signal.patch.code;
      return code[0] != code[1] || code[1] != code[2];
    });
    if (coloured && (best == nullptr || group.size() > best->size())) best = &group;
  }
  if (best == nullptr) return four_of(all, bench, loan, other);  // which says what is missing
  left_out = dark[best->front().procedure];
  return *best;
}

std::string duration_warning(const std::vector<Match>& pairs, const Side& colorimeter, const Side& reference) {
  double longest = 0;
  for (const auto& m : pairs) {
    const auto a = colorimeter.taken.at(m.colorimeter->readings.front()).second,
               b = reference.taken.at(m.reference->readings.front()).second;
    longest = std::max(longest, std::fabs((a - b).s));
  }
  if (longest <= kLongestGap.s) return {};
  return fmt::format("The two instruments read {:.1f} h apart; what the display did meanwhile is in the matrix.",
                     longest / 3600);
}

std::string luminance_warning(const std::vector<Match>& pairs, const instrument::Certificate& a,
                              const instrument::Certificate& b) {
  const auto brightest =
      std::ranges::max_element(pairs, {}, [](const Match& m) { return m.reference->light.Y.value(); });
  const double off = brightest->colorimeter->light.Y.value() / brightest->reference->light.Y.value() - 1;
  const auto standard = [](const instrument::Certificate& c) {
    return c.luminance_expanded_relative / c.coverage_factor;
  };
  const double allowed = 2 * std::hypot(standard(a), standard(b), kDisplayDrift);
  if (std::fabs(off) <= allowed) return {};
  return fmt::format(
      "The colorimeter reads '{}' {:+.1f} % off the reference, where the two certificates let expect {:.1f} %: look at "
      "both instruments, and at whether the display was in the same state.",
      brightest->colorimeter->key, 100 * off, 100 * allowed);
}

/// How an earlier matrix does on these pairs.
Result<std::string> earlier_warning(const store::Bench& bench, const store::LoanRecord& loan,
                                    std::span<const correct::PairedReading> pairs, colour::Sources sources) {
  const auto earlier = reading_basis(bench, loan);
  if (!earlier || !earlier->matrix) return std::string();  // one that cannot be read is replaced now
  const auto matrix = instrument_matrix_of(*earlier->matrix, sources);
  if (!matrix) return tl::unexpected(matrix.error());
  std::string off;
  for (const auto& pair : pairs) {
    const auto held = correct::check(*matrix, pair, sources);
    if (!held) return tl::unexpected(held.error());
    if (!held->holds) off += (off.empty() ? "" : ", ") + pair.name;
  }
  if (off.empty()) return off;
  return fmt::format("The earlier matrix (correction {}) does not fit {} any more.", earlier->record.id, off);
}

}  // namespace

Result<LoanMatrix> match_colorimeter(store::Bench& bench, const store::LoanRecord& loan,
                                     const store::LoanRecord& reference, correct::MatrixMethod method, Timestamp now) {
  if (loan.display != reference.display)
    return fail(ErrorCode::invalid_input, fmt::format("loans {} and {} are of two displays", loan.id, reference.id),
                "A matrix holds for the display it was made on: name two loans of that one.", {.field = "--reference"});
  if (loan.instrument == reference.instrument)
    return fail(ErrorCode::invalid_input,
                fmt::format("loans {} and {} are read with one instrument", loan.id, reference.id),
                "Describe the reference as an instrument of its own, and a loan that is read with it.",
                {.field = "--reference"});
  const auto display = bench.display(loan.display);
  if (!display) return tl::unexpected(display.error());
  const auto instrument = bench.instrument(loan.instrument), standard = bench.instrument(reference.instrument);
  if (!instrument) return tl::unexpected(instrument.error());
  if (!standard) return tl::unexpected(standard.error());
  const auto ours = side_of(bench, loan, display->encoding);
  if (!ours) return tl::unexpected(ours.error());
  const auto theirs = side_of(bench, reference, display->encoding);
  if (!theirs) return tl::unexpected(theirs.error());

  LoanMatrix out;
  const auto all = matches_of(*ours, *theirs);
  auto chosen = method == correct::MatrixMethod::four_colour
                    ? four_of(all, bench, loan, reference)
                    : most_of(all, *ours, *theirs, bench, loan, reference, out.left_out);
  if (!chosen) return tl::unexpected(chosen.error());

  std::vector<correct::PairedReading> pairs;
  ColorimeterFile file{.method = method,
                       .reference_loan = reference.id,
                       .reference_instrument = standard->name,
                       .reference_certificate = standard->certificate};
  Timestamp made{};
  for (const auto& m : *chosen) {
    const std::string& name = m.colorimeter->key;
    auto a = moved(m.colorimeter->light, ours->light.sources, "noise of the colorimeter's pair", out.sources);
    if (!a) return tl::unexpected(a.error());
    auto b = moved(m.reference->light, theirs->light.sources, "noise of the reference's pair", out.sources);
    if (!b) return tl::unexpected(b.error());
    pairs.push_back({.name = name, .colorimeter = std::move(*a), .reference = std::move(*b)});
    const auto& [our_run, our_time] = ours->taken.at(m.colorimeter->readings.back());
    const auto& [their_run, their_time] = theirs->taken.at(m.reference->readings.back());
    file.pairs.push_back({name, m.procedure, m.colorimeter->key, our_run, their_run});
    made = std::max({made, our_time, their_time});
  }
  auto found = method == correct::MatrixMethod::four_colour
                   ? correct::four_colour(std::span<const correct::PairedReading, 4>(pairs.data(), 4), out.sources)
                   : correct::least_squares(pairs, out.sources);
  if (!found) return tl::unexpected(found.error());
  out.found = std::move(*found);
  auto earlier = earlier_warning(bench, loan, pairs, out.sources);
  if (!earlier) return tl::unexpected(earlier.error());
  for (auto& text : {duration_warning(*chosen, *ours, *theirs),
                     luminance_warning(*chosen, instrument->certificate, standard->certificate), *earlier})
    if (!text.empty()) out.warnings.push_back(text);

  const auto conditions = conditions_of(bench, loan, made);
  if (!conditions) return tl::unexpected(conditions.error());
  file.conditions = *conditions;
  file.matrix = reading_matrix_of(out.found, out.sources);
  out.reference_instrument = standard->name;
  out.colorimeter = instrument->name;
  double largest = 0;
  for (const auto& r : out.found.residuals) largest = std::max(largest, std::hypot(r.du.value(), r.dv.value()));
  const auto id = bench.add_correction({.loan = loan.id,
                                        .run = file.pairs.front().colorimeter_run,
                                        .name = "colorimeter.json",
                                        .goal = {{"shape", kColorimeterShape},
                                                 {"method", name_of(method)},
                                                 {"pairs", pairs.size()},
                                                 {"reference_loan", reference.id},
                                                 {"reference_instrument", standard->name},
                                                 {"largest_residual_delta_uv", largest}},
                                        .added = now},
                                       text_of(file));
  if (!id) return tl::unexpected(id.error());
  out.correction = *id;
  return out;
}

}  // namespace provenit::loan
