// A colorimeter set right by a reference on a simulated display, in a bench: the truth is inside the intervals, what
// does not fit is said, and the readings stay as they were.
#include "provenit/loan/colorimeter.h"

#include <gmock/gmock.h>

#include <cmath>
#include <cstdlib>
#include <filesystem>
#include <random>

#include "provenit/colour/spaces.h"
#include "provenit/evaluation/measurement_model.h"
#include "provenit/loan/loan.h"
#include "provenit/procedure/runner.h"
#include "provenit/simulated/clock.h"
#include "provenit/simulated/display.h"
#include "provenit/simulated/meter.h"

namespace provenit::loan {
namespace {

using correct::MatrixMethod;
using testing::Contains;
using testing::HasSubstr;
using testing::IsEmpty;

constexpr Timestamp kStart{1.8e9};

/// One warm display, two instruments before it.
class Stand {
 public:
  Stand(store::Bench& bench, const char* display, std::uint64_t seed, bool spectral_reference = false)
      : bench_(bench),
        display_(simulated::vary(simulated::built_in_physics(display).value(), seed), clock_,
                 {.seed = seed, .powered_on = kStart + Seconds{-7200}}) {
    simulated::MeterModel reference;
    reference.certificate = {.luminance_expanded_relative = 0.02, .x_expanded = 0.001, .y_expanded = 0.001};
    reference.capabilities.spectral = spectral_reference;
    reference_ = std::make_unique<simulated::SimulatedMeter>(reference, display_, clock_, 1000 + seed);
    simulated::MeterModel fast;
    fast.certificate = {.luminance_expanded_relative = 0.04, .x_expanded = 0.01, .y_expanded = 0.01};
    fast.mismatch = 0.03;
    fast_ = std::make_unique<simulated::SimulatedMeter>(fast, display_, clock_, 2000 + seed);
    const store::Id unit = bench.put(store::DisplayRecord{.name = "unit", .details = {{"mode", "one"}}}).value();
    const store::Id room = bench.put(store::RoomRecord{.name = "room"}).value();
    reference_loan = loan_of(unit, room, "reference", *reference_);
    loan = loan_of(unit, room, "colorimeter", *fast_);
  }

  store::Id run(const store::LoanRecord& of, const std::string& procedure, nlohmann::json parameters = {}) {
    procedure::Context context{.encoding = bench_.display(of.display).value().encoding, .expected_peak_cdm2 = 600};
    context.parameters = parameters.is_null() ? nlohmann::json::object() : std::move(parameters);
    auto& meter = of.id == loan.id ? *fast_ : *reference_;
    const auto outcome =
        procedure::run_procedure({bench_, meter, display_, clock_}, of.id, *procedure::find_procedure(procedure),
                                 context, {.origin = "simulated"});
    if (!outcome) throw std::runtime_error(outcome.error().text());
    return outcome->run;
  }
  [[nodiscard]] colour::AbsoluteXyz<> truth(const signal::Signal& signal, Timestamp at) const {
    return display_.truth(signal, at);
  }
  /// Colours in a window as the colorimeter reads them, outside the bench: the same at every seed.
  evaluation::RunData read_colours(int count) {
    evaluation::RunData out{.run = {.id = 1, .procedure = "chart_accuracy", .state = store::RunState::finished}};
    std::mt19937 random(5);
    std::uniform_int_distribution<int> code(250, 600);
    for (int i = 0; i < count; ++i) {
      store::ReadingRecord r{.id = i + 1, .run = 1, .sequence = i, .step = "colour_" + std::to_string(i)};
      r.signal = {.encoding = bench_.display(loan.display).value().encoding,
                  .patch = {{code(random), code(random), code(random)}},
                  .surround = {{64, 64, 64}},
                  .geometry = {.shape = signal::Shape::window, .area_fraction = 0.1}};
      if (!display_.show(r.signal)) throw std::runtime_error("not shown");
      clock_.wait(display_.lag());
      r.taken = clock_.now();
      r.measurement = fast_->measure(1000 + i).value();
      out.readings.push_back(std::move(r));
    }
    return out;
  }
  void wait(double seconds) { clock_.wait({seconds}); }

  store::LoanRecord reference_loan, loan;

 private:
  store::LoanRecord loan_of(store::Id display, store::Id room, const char* name,
                            const simulated::SimulatedMeter& meter) {
    store::LoanRecord out{.display = display,
                          .instrument = bench_
                                            .put(store::InstrumentRecord{.name = name,
                                                                         .kind = "import",
                                                                         .certificate = meter.model().certificate,
                                                                         .capabilities = meter.capabilities()})
                                            .value(),
                          .room = room,
                          .starts = kStart,
                          .ends = kStart + Seconds{86400}};
    out.id = bench_.put(out).value();
    return out;
  }

  store::Bench& bench_;
  simulated::SimulatedClock clock_{kStart};
  simulated::SimulatedDisplay display_;
  std::unique_ptr<simulated::SimulatedMeter> reference_, fast_;
};

class Colorimeter : public testing::Test {
 protected:
  Colorimeter() {
    std::string name = std::filesystem::temp_directory_path() / "provenit-colorimeter-XXXXXX";
    folder_ = mkdtemp(name.data());
  }
  ~Colorimeter() override { std::filesystem::remove_all(folder_); }
  store::Bench bench(const std::string& name = "t.bench") const {
    return store::Bench::create(folder_ + "/" + name, "test", "nobody", kStart).value();
  }

 private:
  std::string folder_;
};

std::vector<std::string> warnings_of(const store::Bench& bench, const store::LoanRecord& loan) {
  return matrix_warnings(bench, loan, reading_basis(bench, loan).value()).value();
}

struct Coverage {
  std::array<int, 3> held{};  ///< u', v', luminance
  int of = 0;
  double sum_read = 0, sum_right = 0;  ///< Delta u'v' from the truth, as read and set right
};

/// How often the intervals of u', v' and luminance of unseen colours hold the truth.
void read_colours(store::Bench& bench, Stand& stand, Coverage& coverage) {
  constexpr int kColours = 12;
  const std::vector runs{stand.read_colours(kColours)};
  const auto& readings = runs[0].readings;
  const auto basis = reading_basis(bench, stand.loan).value();
  ASSERT_TRUE(basis.matrix);
  const auto instrument = bench.instrument(stand.loan.instrument).value();
  const auto light = evaluation::model_light(runs, {.encoding = readings[0].signal.encoding,
                                                    .certificate = basis.certificate,
                                                    .capabilities = instrument.capabilities,
                                                    .matrix = basis.matrix})
                         .value();
  const auto holds = [&](std::size_t part, const colour::Uncertain& value, double truth) {
    const auto r = colour::linear_result(value, light.sources);
    coverage.held[part] += r.interval.lower <= truth && truth <= r.interval.upper;
  };
  for (const auto& step : light.runs[0].steps) {
    if (!(step.light.Y.value() > 1)) continue;
    const auto raw = std::ranges::find(readings, step.readings.front(), &store::ReadingRecord::id);
    const auto truth = stand.truth(step.signal, raw->taken);
    const auto uv = colour::uv_prime_from_xyz(step.light);
    const auto wanted = colour::uv_prime_from_xyz(truth);
    holds(0, uv.u, wanted.u);
    holds(1, uv.v, wanted.v);
    holds(2, step.light.Y, truth.Y);
    ++coverage.of;
    const auto read = colour::uv_prime_from_xyz(raw->measurement.xyz);
    coverage.sum_read += std::hypot(read.u - wanted.u, read.v - wanted.v);
    coverage.sum_right += std::hypot(uv.u.value() - wanted.u, uv.v.value() - wanted.v);
  }
}

TEST_F(Colorimeter, HoldsTheTruthInItsIntervals) {
  // Each unit is one draw of everything the readings share; a chart takes its time.
  constexpr std::uint64_t kUnits = 24, kUnitsWithChart = 8;
  for (const auto method : {MatrixMethod::four_colour, MatrixMethod::least_squares}) {
    Coverage coverage;
    const auto units = method == MatrixMethod::four_colour ? kUnits : kUnitsWithChart;
    for (std::uint64_t seed = 1; seed <= units; ++seed) {
      auto kept = bench(std::to_string(static_cast<int>(method)) + "-" + std::to_string(seed));
      Stand stand(kept, seed % 2 == 0 ? "tern-32" : "curlew-27", seed);
      for (const auto& loan : {stand.reference_loan, stand.loan}) {
        stand.run(loan, "primaries");
        if (method == MatrixMethod::least_squares) stand.run(loan, "chart_accuracy");
      }
      const auto matrix = match_colorimeter(kept, stand.loan, stand.reference_loan, method, kStart);
      ASSERT_TRUE(matrix) << matrix.error().text();
      read_colours(kept, stand, coverage);
    }
    const auto share = [&](std::size_t part) { return static_cast<double>(coverage.held[part]) / coverage.of; };
    for (const std::size_t part : {0, 1}) {
      EXPECT_GE(share(part), 0.9) << part;
      // Few units cannot say more; their luminance is one draw of the reference's scale each.
      if (units == kUnits) {
        EXPECT_LT(share(part), 1) << "intervals wider than what is known: " << part;
        EXPECT_GE(share(2), 0.8) << "luminance";
      }
    }
    EXPECT_LT(coverage.sum_right, 0.25 * coverage.sum_read) << "nearer to the truth than what was read";
  }
}

TEST_F(Colorimeter, FindingsGoThroughItAndReadingsStay) {
  auto kept = bench();
  Stand stand(kept, "curlew-27", 5);
  stand.run(stand.reference_loan, "primaries");
  const auto run = stand.run(stand.loan, "primaries");
  const auto raw = kept.readings(run).value();
  const auto finding = [&] {
    auto evaluated = evaluate(kept, stand.loan, kStart, "test");
    EXPECT_TRUE(evaluated) << evaluated.error().text();
    return *std::ranges::find(evaluated->findings, "gamut_area_ratio", &store::FindingRecord::quantity);
  };
  const auto before = finding();
  const auto of_reference = evaluate(kept, stand.reference_loan, kStart, "test").value();
  const auto wanted = *std::ranges::find(of_reference.findings, "gamut_area_ratio", &store::FindingRecord::quantity);
  const auto matrix =
      match_colorimeter(kept, stand.loan, stand.reference_loan, MatrixMethod::four_colour, kStart).value();
  EXPECT_THAT(matrix.warnings, IsEmpty());
  const auto after = finding();
  EXPECT_FALSE(before.parts.contains("colorimeter_matrix"));
  EXPECT_EQ(after.parts.at("colorimeter_matrix"), matrix.correction);
  EXPECT_LT(std::fabs(after.value - wanted.value), 0.1 * std::fabs(before.value - wanted.value));
  EXPECT_EQ(kept.readings(run).value()[0].measurement.xyz.X, raw[0].measurement.xyz.X);
  EXPECT_TRUE(kept.verify_readings());
}

TEST_F(Colorimeter, SaysWhatHasChangedSince) {
  auto kept = bench();
  Stand stand(kept, "tern-32", 6);
  stand.run(stand.reference_loan, "primaries");
  stand.wait(3 * 3600);
  stand.run(stand.loan, "primaries");
  const auto matrix =
      match_colorimeter(kept, stand.loan, stand.reference_loan, MatrixMethod::four_colour, kStart).value();
  EXPECT_THAT(matrix.warnings, Contains(HasSubstr("apart")));
  EXPECT_THAT(warnings_of(kept, stand.loan), IsEmpty());

  auto display = kept.display(stand.loan.display).value();
  display.details["mode"] = "two";
  ASSERT_TRUE(kept.put(display));
  EXPECT_THAT(warnings_of(kept, stand.loan), Contains(HasSubstr("'one', not for 'two'")));
  display.details["mode"] = "one";
  ASSERT_TRUE(kept.put(display));
  stand.wait(100 * 86400.0);
  stand.run(stand.loan, "white_point");
  EXPECT_THAT(warnings_of(kept, stand.loan), Contains(HasSubstr("100 days old")));
}

TEST_F(Colorimeter, SaysThatTheSpectrumHasChanged) {
  auto kept = bench();
  Stand stand(kept, "tern-32", 7, true), other(kept, "curlew-27", 7, true);
  stand.run(stand.reference_loan, "primaries");
  stand.run(stand.loan, "primaries");
  ASSERT_TRUE(match_colorimeter(kept, stand.loan, stand.reference_loan, MatrixMethod::four_colour, kStart));
  stand.run(stand.reference_loan, "primaries", {{"level_cdm2", 203.0}, {"max_repeats", 2}});
  EXPECT_THAT(warnings_of(kept, stand.loan), IsEmpty()) << "the same display, read again";
  // Another kind of light under the name of this display.
  other.wait(86400);
  auto swapped = other.reference_loan;
  swapped.display = stand.loan.display;
  ASSERT_TRUE(kept.put(swapped));
  other.run(other.reference_loan, "primaries");
  EXPECT_THAT(warnings_of(kept, stand.loan), Contains(HasSubstr("spectrum has changed")));
}

TEST_F(Colorimeter, RefusesWhatDoesNotBelongTogether) {
  auto kept = bench();
  Stand stand(kept, "tern-32", 8), other(kept, "curlew-27", 8);
  const auto refused = [&](const store::LoanRecord& loan, const store::LoanRecord& reference) {
    const auto made = match_colorimeter(kept, loan, reference, MatrixMethod::four_colour, kStart);
    return made ? std::string("made") : made.error().text();
  };
  EXPECT_THAT(refused(stand.loan, other.reference_loan), HasSubstr("two displays"));
  EXPECT_THAT(refused(stand.loan, stand.loan), HasSubstr("one instrument"));
  EXPECT_THAT(refused(stand.loan, stand.reference_loan), HasSubstr("no reading of the same red"));
  stand.run(stand.loan, "primaries");
  stand.run(stand.reference_loan, "primaries", {{"level_cdm2", 50.0}});
  EXPECT_THAT(refused(stand.loan, stand.reference_loan), HasSubstr("no reading of the same red")) << "another level";
  EXPECT_THAT(kept.corrections(stand.loan.id).value(), IsEmpty());
  EXPECT_FALSE(reading_basis(kept, stand.loan).value().matrix);
}

}  // namespace
}  // namespace provenit::loan
