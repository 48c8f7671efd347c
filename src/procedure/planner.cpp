#include "provenit/procedure/planner.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>

#include "provenit/procedure/catalogue.h"
#include "provenit/procedure/decision.h"
#include "provenit/procedure/estimate.h"
#include "provenit/procedure/recording.h"
#include "words_internal.h"

namespace provenit::procedure {
namespace {

constexpr std::array<int, 6> kRepeats{0, 1, 2, 3, 5, 10};
constexpr double kProbabilityStep = 0.005;  // smaller gains are not worth any time
constexpr double kHour = 3600;

/// A run that could be made: a procedure with the parameters its questions ask for, or a recording by hand.
struct Candidate {
  const Procedure* procedure = nullptr;  ///< nullptr: a recording
  nlohmann::json parameters = nlohmann::json::object();
  std::array<Estimate, kRepeats.size()> estimate;
  const Recording* recording = nullptr;
  [[nodiscard]] std::string id() const { return procedure != nullptr ? procedure->id() : recording->id; }
};

struct Goal {
  std::size_t question = 0;
  std::vector<int> candidates;
  std::vector<double> probability;  ///< by level, exact
  bool measured_only = false;
};

struct Problem {
  std::vector<Candidate> candidates;
  std::vector<Goal> goals;
  std::vector<LeftOut> left_out;
  double total_weight = 0;
};

const store::FindingRecord* finding_for(const PlanRequest& request, const store::QuestionRecord& question) {
  for (const auto& finding : request.findings)
    if (finding.quantity == question.quantity && finding.conditions == question.conditions) return &finding;
  return nullptr;
}

/// The parameters that a question's conditions ask of the procedure; nothing where any run answers it.
nlohmann::json wanted_parameters(const Procedure& procedure, const store::QuestionRecord& question) {
  nlohmann::json wanted = nlohmann::json::object();
  const nlohmann::json known = procedure.default_parameters();
  for (const auto& [key, value] : question.conditions.items())
    if (known.contains(key)) wanted[key] = value;
  return wanted;
}

/// Index of the candidate that serves the question, made if there is none. Values that a procedure takes as a list are
/// collected in one run; other conditions make a run of their own.
int candidate_for(std::vector<Candidate>& candidates, const Procedure& procedure,
                  const store::QuestionRecord& question) {
  const nlohmann::json wanted = wanted_parameters(procedure, question);
  for (std::size_t i = 0; i < candidates.size(); ++i) {
    if (candidates[i].procedure != &procedure) continue;
    nlohmann::json merged = candidates[i].parameters;
    merged.update(wanted);
    if (merged == candidates[i].parameters) return static_cast<int>(i);
  }
  candidates.push_back({.procedure = &procedure, .parameters = wanted});
  return static_cast<int>(candidates.size()) - 1;
}

/// Index of the candidate for a recording, made if there is none.
int candidate_for(std::vector<Candidate>& candidates, const Recording& recording) {
  const auto known = std::ranges::find(candidates, &recording, &Candidate::recording);
  if (known != candidates.end()) return static_cast<int>(known - candidates.begin());
  candidates.push_back({.recording = &recording});
  return static_cast<int>(candidates.size()) - 1;
}

/// The list of a procedure's parameters that a question's condition has to be in, and the value there; an empty name
/// where there is none. `alone`: without those it holds by default.
struct ListEntry {
  std::string parameter;
  double value = 0;
  bool alone = false;
};
ListEntry list_entry(const store::QuestionRecord& question, const std::string& condition) {
  const double value = question.conditions[condition].get<double>();
  if (condition == "window_percent") return {"areas_percent", value};
  if (condition == "distance_percent") return {"distances_percent", value};
  if (condition == "level_cdm2") return {"levels_cdm2", value};
  if (condition == "tolerance_percent") return {"tolerances_percent", value, true};
  if (condition == "minutes")
    return {question.quantity == "recovery_luminance" ? "recovery_minutes" : "stay_minutes", value};
  if (condition == "angle_deg") {
    const auto direction = question.conditions.value("direction", "");
    const bool upright = direction == "above" || direction == "below";
    return {upright ? "vertical_angles_deg" : "horizontal_angles_deg",
            direction == "left" || direction == "below" ? -value : value};
  }
  return {};
}

/// Values that questions ask for in one run: each goes into the procedure's list of them.
void add_to_lists(Candidate& candidate, const store::QuestionRecord& question) {
  const nlohmann::json known = candidate.procedure->default_parameters();
  for (const auto& [condition, asked] : question.conditions.items()) {
    if (!asked.is_number()) continue;
    const auto entry = list_entry(question, condition);
    if (!known.contains(entry.parameter)) continue;
    const auto standard = entry.alone ? nlohmann::json::array() : known[entry.parameter];
    auto list = candidate.parameters.value(entry.parameter, standard).get<std::vector<double>>();
    if (std::ranges::find(list, entry.value) != list.end()) continue;
    list.insert(std::ranges::upper_bound(list, entry.value), entry.value);
    candidate.parameters[entry.parameter] = list;
  }
}

Result<std::vector<double>> probabilities(const PlanRequest& request, const store::QuestionRecord& question,
                                          const Quantity& quantity) {
  std::vector<double> by_level(kRepeats.size(), 1);
  by_level[0] = 0;
  if (!question.lower && !question.upper) return by_level;
  Belief belief = belief_from_limit(quantity, question);
  if (const auto* finding = finding_for(request, question))
    belief = {.mean = finding->value, .spread = finding->standard_uncertainty};
  const auto uncertainty = expected_uncertainty(quantity, belief.mean, request.certificate,
                                                request.context.capabilities, request.context.expected_peak_cdm2);
  for (std::size_t level = 1; level < kRepeats.size(); ++level)
    by_level[level] = decision_probability(question.lower, question.upper, belief, uncertainty.after(kRepeats[level]));
  return by_level;
}

void leave_out(Problem& problem, const store::QuestionRecord& question, std::size_t index, LeftOut::Reason reason,
               std::string text) {
  problem.left_out.push_back({index, question.key, reason, std::move(text)});
}

Result<void> add_question(Problem& problem, const PlanRequest& request, std::size_t index) {
  const auto& question = request.questions[index];
  const Quantity* quantity = find_quantity(question.quantity);
  if (!quantity)
    return fail(ErrorCode::invalid_input,
                fmt::format("question '{}' asks for the unknown quantity '{}'", question.key, question.quantity),
                "Use a quantity of the catalogue.", {.field = question.key});
  if (!(question.weight >= 0))
    return fail(ErrorCode::invalid_input, fmt::format("question '{}' has the weight {}", question.key, question.weight),
                "Give a weight of 0 or more.", {.field = question.key});
  if (const auto* finding = finding_for(request, question); finding && is_decided(question, *finding)) {
    leave_out(problem, question, index, LeftOut::Reason::decided_already, "decided by the findings so far");
    return {};
  }
  Goal goal{.question = index, .measured_only = !question.lower && !question.upper};
  problem.total_weight += question.weight * (goal.measured_only ? request.open_question_worth : 1);
  for (const std::string& id : required_procedures(*quantity, request.context.encoding.transfer)) {
    if (const auto* recording = find_recording(id)) {
      goal.candidates.push_back(candidate_for(problem.candidates, *recording));
      continue;
    }
    const Procedure* procedure = find_procedure(id);
    if (!procedure) {
      leave_out(problem, question, index, LeftOut::Reason::no_procedure, fmt::format("no procedure '{}' here", id));
      return {};
    }
    if (procedure->needs_spectrum() && !request.context.capabilities.spectral) {
      leave_out(problem, question, index, LeftOut::Reason::other_instrument,
                fmt::format("'{}' needs an instrument that reads spectra, and the one of this loan does not", id));
      return {};
    }
    const int candidate = candidate_for(problem.candidates, *procedure, question);
    add_to_lists(problem.candidates[candidate], question);
    goal.candidates.push_back(candidate);
  }
  auto by_level = probabilities(request, question, *quantity);
  if (!by_level) return tl::unexpected(by_level.error());
  goal.probability = std::move(*by_level);
  problem.goals.push_back(std::move(goal));
  return {};
}

Result<Problem> pose(const PlanRequest& request) {
  Problem problem;
  for (std::size_t i = 0; i < request.questions.size(); ++i)
    if (auto added = add_question(problem, request, i); !added) return tl::unexpected(added.error());
  const Procedure* warm_up = find_procedure("warm_up");
  const bool there = std::ranges::any_of(problem.candidates, [&](const auto& c) { return c.procedure == warm_up; });
  if (!request.warmed_up && !there && warm_up) problem.candidates.push_back({.procedure = warm_up});
  for (Candidate& candidate : problem.candidates)
    for (std::size_t level = 1; level < kRepeats.size(); ++level) {
      if (candidate.recording != nullptr) {
        candidate.estimate[level] = {.total = candidate.recording->total(), .at_most = candidate.recording->total()};
        continue;
      }
      Context context = request.context;
      context.parameters = candidate.parameters;
      auto cost = estimate(*candidate.procedure, context, kRepeats[level]);
      if (!cost) return tl::unexpected(cost.error());
      candidate.estimate[level] = *cost;
    }
  return problem;
}

/// Probability as the choice counts it: in steps, but never nothing where there is something.
double counted(double probability) {
  if (probability <= 0) return 0;
  return std::max(kProbabilityStep, kProbabilityStep * std::floor(probability / kProbabilityStep + 1e-9));
}

Choice choose(const Problem& problem, const PlanRequest& request, double budget_s) {
  ChoiceProblem choice{.jobs = {}, .goals = {}, .budget = budget_s, .entry_job = -1};
  for (std::size_t i = 0; i < problem.candidates.size(); ++i) {
    ChoiceJob job;
    for (const Estimate& estimate : problem.candidates[i].estimate) job.cost.push_back(estimate.total.s);
    choice.jobs.push_back(std::move(job));
    if (!request.warmed_up && problem.candidates[i].id() == "warm_up") choice.entry_job = static_cast<int>(i);
  }
  for (const Goal& goal : problem.goals) {
    const double worth = goal.measured_only ? request.open_question_worth : 1;
    ChoiceGoal one{.weight = worth * request.questions[goal.question].weight, .jobs = goal.candidates};
    for (double p : goal.probability) one.probability.push_back(counted(p));
    choice.goals.push_back(std::move(one));
  }
  return solve_plan(choice);
}

int least_level(const Goal& goal, const Choice& choice) {
  int least = static_cast<int>(kRepeats.size()) - 1;
  for (int candidate : goal.candidates) least = std::min(least, choice.level[candidate]);
  return least;
}

/// Candidates of the choice in the order they are best run.
std::vector<int> order_of_runs(const Problem& problem, const Choice& choice) {
  std::vector<int> runs;
  for (const auto& procedure : all_procedures())
    for (std::size_t i = 0; i < problem.candidates.size(); ++i)
      if (problem.candidates[i].procedure == procedure.get() && choice.level[i] > 0)
        runs.push_back(static_cast<int>(i));
  for (const auto& recording : all_recordings())
    for (std::size_t i = 0; i < problem.candidates.size(); ++i)
      if (problem.candidates[i].recording == &recording && choice.level[i] > 0) runs.push_back(static_cast<int>(i));
  return runs;
}

void add_runs(Plan& plan, const Problem& problem, const PlanRequest& request, const Choice& choice) {
  for (int index : order_of_runs(problem, choice)) {
    const Candidate& candidate = problem.candidates[index];
    const int level = choice.level[index];
    PlannedRun run{.procedure = candidate.id(), .repeats = kRepeats[level], .parameters = candidate.parameters};
    run.by_hand = candidate.recording != nullptr;
    if (!run.by_hand && candidate.procedure->default_parameters().contains("max_repeats")) {
      const int required = candidate.procedure->default_parameters()["repeats"].get<int>();
      run.parameters["repeats"] = std::min(required, run.repeats);
      run.parameters["max_repeats"] = run.repeats;
    }
    run.time = candidate.estimate[level].total;
    run.readings = candidate.estimate[level].readings;
    plan.total = plan.total + run.time;
    run.cumulative = plan.total;
    for (const Goal& goal : problem.goals)
      if (std::ranges::find(goal.candidates, index) != goal.candidates.end() && least_level(goal, choice) > 0)
        run.questions.push_back(request.questions[goal.question].key);
    plan.runs.push_back(std::move(run));
  }
}

std::string why_left_out(const Problem& problem, const PlanRequest& request, const Goal& goal, const Choice& choice) {
  Seconds needed{0};
  std::string names;
  const auto add = [&](const Candidate& candidate) {
    needed = needed + candidate.estimate[1].total;
    names += (names.empty() ? "" : ", ") + candidate.id();
  };
  for (std::size_t i = 0; i < problem.candidates.size(); ++i)
    if (problem.candidates[i].recording != nullptr && choice.level[i] == 0 &&
        std::ranges::find(goal.candidates, static_cast<int>(i)) != goal.candidates.end())
      add(problem.candidates[i]);
  for (const auto& procedure : all_procedures())
    for (std::size_t i = 0; i < problem.candidates.size(); ++i) {
      if (problem.candidates[i].procedure != procedure.get() || choice.level[i] > 0) continue;
      const bool serves = std::ranges::find(goal.candidates, static_cast<int>(i)) != goal.candidates.end();
      if (serves || (!request.warmed_up && procedure->id() == "warm_up")) add(problem.candidates[i]);
    }
  return fmt::format("would need {} more ({}), and {} are left", time_text(needed), names,
                     time_text(request.available - Seconds{choice.cost}));
}

void add_answers(Plan& plan, const Problem& problem, const PlanRequest& request, const Choice& choice) {
  for (const Goal& goal : problem.goals) {
    const auto& question = request.questions[goal.question];
    const int level = least_level(goal, choice);
    if (level == 0) {
      const bool no_weight = question.weight == 0;
      plan.left_out.push_back({goal.question, question.key,
                               no_weight ? LeftOut::Reason::no_weight : LeftOut::Reason::no_time,
                               no_weight ? "its weight is 0, and no other question needs the same runs"
                                         : why_left_out(problem, request, goal, choice)});
      continue;
    }
    const double probability = goal.probability[level];
    plan.expectations.push_back({goal.question, question.key, probability, goal.measured_only});
    plan.expected_weight += question.weight * probability * (goal.measured_only ? request.open_question_worth : 1);
  }
  std::ranges::sort(plan.left_out, {}, &LeftOut::question);
}

Plan assemble(const Problem& problem, const PlanRequest& request, const Choice& choice) {
  Plan plan{.left_out = problem.left_out, .available = request.available, .total_weight = problem.total_weight};
  add_runs(plan, problem, request, choice);
  add_answers(plan, problem, request, choice);
  return plan;
}

std::string run_change(const Candidate& candidate, int before, int after) {
  const std::string id = candidate.id();
  if (before == 0) return kRepeats[after] == 1 ? id : fmt::format("{}, {} repeats", id, kRepeats[after]);
  if (after == 0) return fmt::format("{} no longer", id);
  return fmt::format("{}: {} repeats instead of {}", id, kRepeats[after], kRepeats[before]);
}

HourMore compare(const Problem& problem, const Choice& now, const Choice& later, const Plan& plan, const Plan& longer) {
  HourMore more{.expected_weight = longer.expected_weight - plan.expected_weight};
  for (std::size_t i = 0; i < problem.candidates.size(); ++i)
    if (now.level[i] != later.level[i])
      more.runs.push_back(run_change(problem.candidates[i], now.level[i], later.level[i]));
  for (const Expectation& after : longer.expectations) {
    const auto before = std::ranges::find(plan.expectations, after.question, &Expectation::question);
    if (after.probability - (before == plan.expectations.end() ? 0 : before->probability) >= 0.01)
      more.questions.push_back(after.key);
  }
  if (more.runs.empty())
    more.text = "An hour more would decide nothing more: the plan already holds every run that helps.";
  else
    more.text = fmt::format("An hour more would decide {:.2f} more of the weight: {}.", more.expected_weight,
                            fmt::join(more.runs, "; "));
  return more;
}

}  // namespace

const char* name_of(LeftOut::Reason reason) {
  switch (reason) {
    case LeftOut::Reason::decided_already:
      return "decided_already";
    case LeftOut::Reason::no_procedure:
      return "no_procedure";
    case LeftOut::Reason::no_time:
      return "no_time";
    case LeftOut::Reason::no_weight:
      return "no_weight";
    case LeftOut::Reason::other_instrument:
      return "other_instrument";
  }
  return "";
}

Result<Plan> make_plan(const PlanRequest& request) {
  auto problem = pose(request);
  if (!problem) return tl::unexpected(problem.error());
  const Choice now = choose(*problem, request, request.available.s);
  Plan plan = assemble(*problem, request, now);
  PlanRequest longer_request = request;
  longer_request.available = request.available + Seconds{kHour};
  const Choice later = choose(*problem, longer_request, longer_request.available.s);
  plan.hour_more = compare(*problem, now, later, plan, assemble(*problem, longer_request, later));
  return plan;
}

}  // namespace provenit::procedure
