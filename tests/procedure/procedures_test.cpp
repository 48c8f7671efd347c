// Whatever is registered is tested here: a new procedure needs no line in this file.
#include <gmock/gmock.h>

#include <map>
#include <set>

#include "play.h"
#include "provenit/procedure/catalogue.h"
#include "provenit/procedure/estimate.h"
#include "provenit/procedure/recording.h"
#include "provenit/signal/codes.h"

namespace provenit::procedure {
namespace {

using testing::HasSubstr;

struct Case {
  std::string procedure;
  signal::Encoding encoding;
  double expected_peak_cdm2;
};

void PrintTo(const Case& tested, std::ostream* out) {
  *out << tested.procedure;
}

std::vector<Case> cases() {
  std::vector<Case> all;
  for (const auto& procedure : all_procedures())
    for (auto transfer : {signal::Transfer::pq, signal::Transfer::hlg, signal::Transfer::bt1886})
      for (auto [bits, range] : {std::pair{10, signal::Range::narrow}, std::pair{12, signal::Range::full}}) {
        const double peak = transfer == signal::Transfer::bt1886 ? 100 : 1000;
        all.push_back(
            {procedure->id(), {.transfer = transfer, .bits = bits, .range = range, .nominal_peak_cdm2 = peak}, peak});
      }
  return all;
}

class EveryProcedure : public testing::TestWithParam<Case> {
 protected:
  const Procedure& procedure = *find_procedure(GetParam().procedure);
  Context context{
      .encoding = GetParam().encoding, .expected_peak_cdm2 = GetParam().expected_peak_cdm2, .parameters = {}};
  double peak = GetParam().expected_peak_cdm2;

  void SetUp() override {
    context.parameters = nlohmann::json::object();
    if (procedure.default_parameters().contains("max_repeats")) context.parameters["max_repeats"] = 3;
  }
  double light(const signal::Signal& signal) const {
    return std::max(0.0003 * peak, ideal_luminance_cdm2(signal, peak));
  }
  Played play_whole() const {
    auto played = play(procedure, context, [this](const auto& s, double) { return light(s); });
    EXPECT_TRUE(played) << played.error().text();
    return played ? *played : Played{};
  }
};

TEST_P(EveryProcedure, EndsAndItsSignalsAreValid) {
  const auto played = play_whole();
  ASSERT_FALSE(played.steps.empty());
  for (const auto& step : played.steps) {
    EXPECT_TRUE(signal::validate(step.signal)) << step.key;
    EXPECT_EQ(step.signal.encoding, context.encoding) << step.key;
    EXPECT_GE(step.settle.s, 0) << step.key;
    EXPECT_GT(step.expected_cdm2, 0) << step.key;
    EXPECT_FALSE(step.why.empty()) << step.key;
  }
}

TEST_P(EveryProcedure, ReferenceBracketsTheRun) {
  const auto played = play_whole();
  EXPECT_EQ(played.steps.front().key, "reference");
  EXPECT_EQ(played.steps.back().key, "reference");
  std::set<std::string> references;
  for (const auto& step : played.steps)
    if (step.key == "reference") references.insert(signal::to_json(step.signal).dump());
  EXPECT_EQ(references.size(), 1u) << "the reference patch must stay the same";
}

TEST_P(EveryProcedure, ReferenceComesBackInTime) {
  if (!procedure.default_parameters().contains("reference_interval_s")) return;  // watches the drift itself
  context.parameters["reference_interval_s"] = 20.0;
  const auto played = play_whole();
  double last = played.readings.front().taken.unix_s;
  for (std::size_t i = 1; i < played.readings.size(); ++i) {
    const auto& before = played.readings[i - 1];
    if (before.taken.unix_s - last > 20) {
      EXPECT_EQ(played.steps[i].key, "reference") << "step " << i;
    }
    if (played.steps[i].key == "reference") {
      EXPECT_NE(played.steps[i - 1].key, "reference");
      last = played.readings[i].taken.unix_s;
    }
  }
}

TEST_P(EveryProcedure, OneKeyMeansOneSignal) {
  std::map<std::string, signal::Signal> signals;
  for (const auto& step : play_whole().steps)
    EXPECT_EQ(signals.try_emplace(step.key, step.signal).first->second, step.signal);
}

TEST_P(EveryProcedure, CodesAreWholeAndLieBetweenBlackAndPeak) {
  const auto black = signal::black_code(context.encoding), white = signal::peak_code(context.encoding);
  for (const auto& step : play_whole().steps)
    for (const auto& code : {step.signal.patch, step.signal.surround})
      for (std::size_t i = 0; i < 3; ++i) {
        EXPECT_GE(code.code[i], black.code[i]) << step.key;
        EXPECT_LE(code.code[i], white.code[i]) << step.key;
      }
}

TEST_P(EveryProcedure, SameReadingsGiveTheSameStepWhereverTheRunWasCut) {
  const auto played = play_whole();
  for (std::size_t k = 0; k <= played.readings.size(); ++k) {
    const std::vector<store::ReadingRecord> so_far(played.readings.begin(),
                                                   played.readings.begin() + static_cast<std::ptrdiff_t>(k));
    const auto step = procedure.next(context, so_far);
    ASSERT_TRUE(step);
    ASSERT_EQ(step->has_value(), k < played.steps.size()) << k;
    if (!*step) continue;
    EXPECT_EQ((*step)->key, played.steps[k].key) << k;
    EXPECT_EQ((*step)->signal, played.steps[k].signal) << k;
    EXPECT_EQ((*step)->why, played.steps[k].why) << k;
    EXPECT_EQ((*step)->rest, played.steps[k].rest) << k;
  }
}

TEST_P(EveryProcedure, WithoutOptionalRepeatsItEndsSoonWithTheReference) {
  const auto played = play_whole();
  context.optional_repeats = false;
  for (std::size_t k = 0; k <= played.readings.size(); ++k) {
    if (k < played.steps.size() && !played.steps[k].optional_repeat) continue;
    std::vector<store::ReadingRecord> readings(played.readings.begin(),
                                               played.readings.begin() + static_cast<std::ptrdiff_t>(k));
    const auto step = procedure.next(context, readings);
    ASSERT_TRUE(step);
    if (!*step) {
      EXPECT_EQ(readings.back().step, "reference");
    } else {
      EXPECT_EQ((*step)->key, "reference") << k;
    }
  }
}

TEST_P(EveryProcedure, RepeatsAreTakenAsAskedAndOnlyTheOnesBeyondAreOptional) {
  if (!context.parameters.contains("max_repeats")) return;  // has no repeats
  context.parameters["repeats"] = 2;
  context.parameters["max_repeats"] = 4;
  if (procedure.id() == "black_level") context.parameters["target_standard_error_cdm2"] = 0.0;
  // A little noise, so that no adaptive rule is content at once.
  int n = 0;
  const auto played =
      play(procedure, context, [&](const auto& s, double) { return light(s) * (1 + 1e-5 * (n++ % 3)); });
  ASSERT_TRUE(played);
  std::map<std::string, int> total, required;
  for (const auto& step : played->steps) {
    if (step.key == "reference") continue;
    ++total[step.key];
    if (!step.optional_repeat) ++required[step.key];
  }
  ASSERT_FALSE(total.empty());
  for (const auto& [key, count] : total) {
    EXPECT_EQ(count, 4) << key;
    EXPECT_EQ(required[key], 2) << key;
  }
}

TEST_P(EveryProcedure, ParametersItDoesNotKnowAreRefused) {
  context.parameters["stpes"] = 3;
  const auto step = procedure.next(context, {});
  ASSERT_FALSE(step);
  EXPECT_EQ(step.error().code, ErrorCode::invalid_input);
  EXPECT_THAT(step.error().text(), HasSubstr("stpes"));
}

TEST_P(EveryProcedure, ParametersOutOfRangeOrOfAnotherKindAreRefused) {
  const auto defaults = procedure.default_parameters();
  for (const auto& [key, standard] : defaults.items()) {
    Context wrong = context;
    wrong.parameters = {{key, "text"}};
    auto step = procedure.next(wrong, {});
    ASSERT_FALSE(step) << key;
    EXPECT_EQ(step.error().code, ErrorCode::invalid_input) << key;
    EXPECT_EQ(step.error().where.field, key);
    if (standard.is_boolean() || standard.is_string()) continue;
    wrong.parameters = {{key, standard}};
    if (standard.is_array()) {
      wrong.parameters[key] = nlohmann::json::array({1e9});
    } else if (standard.is_number_integer()) {
      wrong.parameters[key] = -1;
    } else {
      wrong.parameters[key] = 1e9;
    }
    step = procedure.next(wrong, {});
    ASSERT_FALSE(step) << key;
    EXPECT_EQ(step.error().code, ErrorCode::out_of_range) << key;
  }
}

TEST_P(EveryProcedure, TheEstimateCountsTheReadingsOfARun) {
  const auto known = procedure.default_parameters();
  Context fixed = context;
  if (known.contains("repeats")) fixed.parameters["repeats"] = fixed.parameters["max_repeats"] = 2;
  const auto estimated = estimate(procedure, fixed, 2);
  ASSERT_TRUE(estimated) << estimated.error().text();
  EXPECT_GT(estimated->readings, 2);
  EXPECT_GE(estimated->at_most, estimated->total);
  const auto more = estimate(procedure, fixed, 4);
  ASSERT_TRUE(more);
  if (known.contains("repeats")) {
    EXPECT_GT(more->total, estimated->total);
  }
}

std::string name_of_case(const testing::TestParamInfo<Case>& tested) {
  return tested.param.procedure + "_" + signal::name_of(tested.param.encoding.transfer) + "_" +
         std::to_string(tested.param.encoding.bits);
}
INSTANTIATE_TEST_SUITE_P(Registered, EveryProcedure, testing::ValuesIn(cases()), name_of_case);

TEST(Registry, IdsAreUniqueAndFound) {
  std::set<std::string> ids;
  for (const auto& procedure : all_procedures()) {
    EXPECT_TRUE(ids.insert(procedure->id()).second);
    EXPECT_EQ(find_procedure(procedure->id()), procedure.get());
    EXPECT_FALSE(procedure->sources().empty());
    EXPECT_FALSE(procedure->title().empty());
    EXPECT_GE(procedure->version(), 1);
  }
  EXPECT_EQ(find_procedure("nothing"), nullptr);
}

TEST(Catalogue, EveryQuantityHasItsProcedureAndBothSaySo) {
  std::set<std::string> answered;
  for (const auto& procedure : all_procedures())
    for (const auto& key : procedure->quantities()) {
      EXPECT_NE(find_quantity(key), nullptr) << key;
      answered.insert(key);
    }
  for (const auto& recording : all_recordings()) {
    EXPECT_EQ(find_procedure(recording.id), nullptr) << recording.id;
    for (const auto& key : recording.quantities) {
      ASSERT_NE(find_quantity(key), nullptr) << key;
      EXPECT_EQ(find_quantity(key)->procedure, recording.id) << key;
      EXPECT_TRUE(answered.insert(key).second) << key;
    }
  }
  for (const auto& quantity : catalogue()) {
    if (quantity.procedure == "correction_proof" || quantity.procedure == "forecast_spots")
      continue;  // of a correction or a forecast that was made, not of a plan
    EXPECT_TRUE(answered.contains(std::string(quantity.key))) << quantity.key;
    for (auto transfer : {signal::Transfer::pq, signal::Transfer::hlg, signal::Transfer::bt1886})
      for (const auto& id : required_procedures(quantity, transfer))
        EXPECT_TRUE(find_procedure(id) != nullptr || find_recording(id) != nullptr) << id;
  }
}

TEST(Catalogue, SomeQuantitiesNeedSeveralRuns) {
  using testing::ElementsAre;
  const auto needs = [](const char* key, signal::Transfer transfer) {
    return required_procedures(*find_quantity(key), transfer);
  };
  EXPECT_THAT(needs("sequential_contrast", signal::Transfer::pq), ElementsAre("black_level", "window_peak"));
  EXPECT_THAT(needs("eotf_mean_delta_e_itp", signal::Transfer::pq), ElementsAre("greyscale"));
  EXPECT_THAT(needs("eotf_mean_delta_e_itp", signal::Transfer::hlg),
              ElementsAre("greyscale", "black_level", "window_peak"));
  EXPECT_THAT(needs("clip_luminance", signal::Transfer::hlg), ElementsAre("greyscale"));
  EXPECT_THAT(condition_keys(*find_quantity("gamut_coverage")), ElementsAre("reference", "plane"));
  EXPECT_THAT(condition_keys(*find_quantity("drift")), ElementsAre());
}

}  // namespace
}  // namespace provenit::procedure
