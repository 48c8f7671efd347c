#include "provenit/evaluation/spectra.h"

#include <gtest/gtest.h>

#include <cmath>
#include <numbers>

#include "colour_loans.h"
#include "light_source.h"
#include "provenit/colour/illuminant.h"
#include "provenit/colour/spectrum_xyz.h"

namespace provenit::evaluation {
namespace {

using colour::Spectrum;

Spectrum gaussian(double centre_nm, double fwhm_nm, double height = 1, double step_nm = 1) {
  Spectrum s{.start_nm = 380, .step_nm = step_nm};
  for (double nm = 380; nm <= 780; nm += step_nm)
    s.values.push_back(height * std::exp(-4 * std::numbers::ln2 * std::pow((nm - centre_nm) / fwhm_nm, 2)));
  return s;
}

TEST(StrongestPeak, OfAGaussianIsItsCentreAndWidth) {
  for (const double centre : {449.0, 530.3, 631.5})
    for (const double width : {20.0, 35.0, 60.0}) {
      const auto peak = strongest_peak(gaussian(centre, width, 0.03));
      ASSERT_TRUE(peak);
      EXPECT_NEAR(peak->centre_nm, centre, 0.02) << width;
      EXPECT_NEAR(peak->width_nm, width, 0.02) << centre;
      EXPECT_NEAR(peak->height, 0.03, 3e-5);
    }
}

TEST(StrongestPeak, IsLookedForInTheRangeOnly) {
  auto s = gaussian(450, 20, 1);
  const auto other = gaussian(620, 30, 0.4);
  for (int i = 0; i < s.size(); ++i) s.values[i] += other.values[i];
  EXPECT_NEAR(strongest_peak(s)->centre_nm, 450, 0.02);
  EXPECT_NEAR(strongest_peak(s, 560, 700)->centre_nm, 620, 0.05);
}

TEST(StrongestPeak, NoLightOrNoHalfHeightIsNoPeak) {
  EXPECT_FALSE(strongest_peak(Spectrum{.start_nm = 380, .step_nm = 1, .values = std::vector<double>(401, 0.0)}));
  EXPECT_FALSE(strongest_peak(Spectrum{.start_nm = 380, .step_nm = 1, .values = std::vector<double>(401, 1.0)}));
}

// The strongest line of the triband lamp FL11 stands at 545 nm, that of the LED pump of LED-B3 near 450 nm with its
// phosphor far broader. source  CIE 15:2004 table T.6, CIE 15:2018 (tables in data/reference)
TEST(StrongestPeak, OfPublishedLamps) {
  const auto lamp = strongest_peak(*colour::illuminant("FL11"));
  ASSERT_TRUE(lamp);
  EXPECT_NEAR(lamp->centre_nm, 545, 2);
  EXPECT_LT(lamp->width_nm, 12);
  const auto pump = strongest_peak(*colour::illuminant("LED-B3"), 400, 480);
  const auto phosphor = strongest_peak(*colour::illuminant("LED-B3"), 500, 700);
  ASSERT_TRUE(pump && phosphor);
  EXPECT_NEAR(pump->centre_nm, 450, 8);
  EXPECT_LT(pump->width_nm, 40);
  EXPECT_GT(phosphor->width_nm, 90);
}

TEST(Bandwidth, BlurredTwiceIsTakenOutAgain) {
  const auto read = blurred(gaussian(530, 20), 5);
  EXPECT_NEAR(strongest_peak(read)->width_nm, std::hypot(20, 5), 0.02);
  const auto peak = peak_without_bandwidth(read, 5);
  ASSERT_TRUE(peak);
  EXPECT_NEAR(peak->width_nm, 20, 0.02);
  EXPECT_NEAR(peak->centre_nm, 530, 0.02);
}

Spectrum truth_of(const bench::ColourLoan& loan, const std::string& step) {
  const auto s =
      loan.display->truth_spectrum(loan.truth.at(step).first, simulated::SimulatedDisplay::settled_thermal());
  return {.start_nm = s.start_nm, .step_nm = s.step_nm, .values = s.radiance};
}

bench::ColourLoan spectral_loan(const char* display, std::uint64_t seed = 1) {
  return bench::colour_loan(
      seed, "spectra", {.draws = 300, .spectral = true, .bandwidth_nm = 5, .wavelength_nm = 0.3, .display = display});
}

TEST(EmitterClass, NamesTheKindsOfTheSimulatedDisplays) {
  for (const auto& [display, kind] : {std::pair{"tern-32", "quantum dots"}, std::pair{"curlew-27", "self-emissive RGB"},
                                      std::pair{"fluoride-check", "fluoride phosphor"}}) {
    const auto loan = spectral_loan(display);
    const auto found = evaluate(loan.runs, loan.input);
    ASSERT_TRUE(found);
    const auto* f = find(*found, "emitter_class");
    ASSERT_NE(f, nullptr);
    EXPECT_EQ(f->parts["answer"], kind) << f->parts.dump();
    EXPECT_GE(f->value, 0.9);
    EXPECT_EQ(f->parts["evidence"]["fluoride_lines"], std::string_view(display) == "fluoride-check");
  }
}

TEST(EmitterClass, BroadPeaksAreAPhosphorAndStrangeOnesAreNoneOfThese) {
  const EmitterEvidence broad{.peaks = {{{605, 68, 1}, {546, 75, 1}, {451, 21, 1}}}};
  EXPECT_EQ(emitter_shares(broad).front().kind, "broadband phosphor");
  const EmitterEvidence strange{.peaks = {{{580, 12, 1}, {500, 15, 1}, {430, 60, 1}}}};
  EXPECT_EQ(emitter_shares(strange).front().kind, "none of these");
  double sum = 0;
  for (const auto& s : emitter_shares(broad)) sum += s.probability;
  EXPECT_NEAR(sum, 1, 1e-12);
}

TEST(EmitterClass, LinesOfOneWavelengthAreNoFluoride) {
  EXPECT_FALSE(has_fluoride_lines(gaussian(631, 3)));
  auto s = gaussian(631, 4);
  const auto beside = gaussian(613, 4, 0.35);
  for (int i = 0; i < s.size(); ++i) s.values[i] += beside.values[i];
  EXPECT_TRUE(has_fluoride_lines(s));
}

TEST(VisualMatch, NeedsNoOffsetForTheSameSpectra) {
  const auto loan = spectral_loan("tern-32");
  const auto offset = visual_match_offset(
      [&] {
        Spectrum sum = truth_of(loan, "red");
        for (const char* c : {"green", "blue"})
          for (int i = 0; i < sum.size(); ++i) sum.values[i] += truth_of(loan, c).values[i];
        return sum;
      }(),
      {truth_of(loan, "red"), truth_of(loan, "green"), truth_of(loan, "blue")});
  ASSERT_TRUE(offset) << offset.error().text();
  EXPECT_NEAR(offset->dx, 0, 1e-9);
  EXPECT_NEAR(offset->dy, 0, 1e-9);
}

TEST(VisualMatch, IsEqualForTheObserverAndOffForCie1931) {
  const auto a = spectral_loan("fluoride-check"), b = spectral_loan("curlew-27");
  const std::array primaries{truth_of(b, "red"), truth_of(b, "green"), truth_of(b, "blue")};
  const auto white = truth_of(a, "white");
  const auto with_1931 = visual_match_offset(white, primaries, colour::Observer::cie1931_2deg);
  ASSERT_TRUE(with_1931);
  EXPECT_NEAR(std::hypot(with_1931->dx, with_1931->dy), 0, 1e-9);
  const auto offset = visual_match_offset(white, primaries);
  ASSERT_TRUE(offset);
  // Other spectra, other eye: thousandths in x, y, and not tenths.
  EXPECT_GT(std::hypot(offset->dx, offset->dy), 0.0005);
  EXPECT_LT(std::hypot(offset->dx, offset->dy), 0.03);
  const auto blue_only =
      visual_match_offset(primaries[2], {truth_of(a, "red"), truth_of(a, "green"), truth_of(a, "green")});
  EXPECT_FALSE(blue_only);
}

TEST(SpectraFindings, HoldPeaksAndWhitesOfSimulatedDisplays) {
  constexpr int kLoans = 40, kFewest = 34;
  std::map<std::string, int> held;
  for (int i = 0; i < kLoans; ++i) {
    const auto loan = spectral_loan(nullptr, static_cast<std::uint64_t>(i) + 9001);
    const auto found = evaluate(loan.runs, loan.input);
    ASSERT_TRUE(found);
    const auto count = [&](const char* quantity, const nlohmann::json& conditions, double truth) {
      const auto* f = find(*found, quantity, conditions);
      held[quantity + conditions.dump()] += f != nullptr && f->lower95 <= truth && truth <= f->upper95;
    };
    for (const char* primary : {"red", "green", "blue"}) {
      const auto truth = bench::true_peak(loan, primary);
      count("peak_wavelength", {{"primary", primary}}, truth.centre_nm);
      count("peak_width", {{"primary", primary}}, truth.width_nm);
    }
    count("white_delta_uv_by_observer", {{"observer", "cie2015_2deg"}},
          bench::true_white_by_observer(loan, colour::Observer::cie2015_2deg));
  }
  EXPECT_EQ(held.size(), 7u);
  for (const auto& [what, n] : held) EXPECT_GE(n, kFewest) << what;
}

TEST(SpectraFindings, AreNotMadeOfReadingsWithoutSpectra) {
  auto loan = spectral_loan("tern-32");
  for (auto& r : loan.runs[0].readings) r.measurement.spectrum.reset();
  const auto found = evaluate(loan.runs, loan.input);
  ASSERT_TRUE(found);
  EXPECT_TRUE(found->empty());
}

}  // namespace
}  // namespace provenit::evaluation
