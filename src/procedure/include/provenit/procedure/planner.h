#pragma once
// Which procedures, with how many repeats, decide the most weighted questions in the time that is left? Pure and
// deterministic: the same input gives the same plan.
//
// Model of a decision (ours). A question with limit l is decided when the 95 % interval of its finding does not hold l.
//   found value   v ~ N(m, s^2 + u^2)       m, s: what is believed before measuring; u: uncertainty of the finding
//   belief        an existing finding: its value and standard uncertainty; otherwise m = l and s = the spread by which
//                 displays of this kind lie off their limits (per quantity, decision_model.h; common practice, no
//                 source)
//   uncertainty   u^2 = u_B^2 + u_A^2 / n   u_B from the certificate (common to all readings: no repeat lowers it),
//                 u_A from the instrument's repeatability, noise floor and the display's own short-term wander, n
//                 repeats
//   probability   P = 1 - P(|v - l| < k u for a limit l), k = 1.96
// A question without a limit is answered when its value is measured; it counts with `open_question_worth` of its
// weight. A question that needs several procedures (catalogue's procedure and those of required_procedures) needs all
// of them.
//
// The plan maximises the sum of weight x probability under the sum of times, exactly (solve_plan, branch and bound).
#include <optional>
#include <string>
#include <vector>

#include "provenit/base/error.h"
#include "provenit/instrument/instrument.h"
#include "provenit/procedure/procedure.h"
#include "provenit/store/records.h"

namespace provenit::procedure {

struct PlanRequest {
  std::vector<store::QuestionRecord> questions;
  std::vector<store::FindingRecord> findings;  ///< of this loan so far; may be empty
  Context context;                             ///< parameters are ignored: the plan sets each procedure's own
  instrument::Certificate certificate;
  Seconds available{0};
  bool warmed_up = false;  ///< the display has settled already: no warm-up unless a question asks for it
  double open_question_worth = 0.5;
};

/// One run of the plan, to be done in this order.
struct PlannedRun {
  std::string procedure;
  int repeats = 1;
  nlohmann::json parameters;           ///< for Context::parameters; the stop rule may end the repeats earlier
  Seconds time{0}, cumulative{0};      ///< expected
  int readings = 0;                    ///< expected
  std::vector<std::string> questions;  ///< keys of the questions it serves, in the order of the request
  bool by_hand = false;                ///< a recording (recording.h): nothing the meter could read
};

struct Expectation {
  std::size_t question = 0;  ///< index into the request
  std::string key;
  double probability = 0;      ///< of a verdict; 1 for a question without a limit that will be measured
  bool measured_only = false;  ///< no limit is set: a value, no verdict
};

struct LeftOut {
  enum class Reason {
    decided_already,  ///< the findings so far decide it
    no_procedure,     ///< nothing in this build measures it
    no_time,          ///< it would fit no better plan in the time
    no_weight,        ///< its weight is 0, and no other question needs its runs
    other_instrument  ///< its procedure needs an instrument that reads spectra
  };
  std::size_t question = 0;
  std::string key;
  Reason reason = Reason::no_time;
  std::string text;  ///< for people, with the time that would be needed
};
[[nodiscard]] const char* name_of(LeftOut::Reason reason);

/// What one more hour would change.
struct HourMore {
  double expected_weight = 0;          ///< gained over this plan
  std::vector<std::string> runs;       ///< added or lengthened: "greyscale: 5 repeats instead of 2"
  std::vector<std::string> questions;  ///< keys whose probability rises by 0.01 or more
  std::string text;                    ///< one sentence for people
};

struct Plan {
  std::vector<PlannedRun> runs;
  std::vector<Expectation> expectations;  ///< questions the plan measures, in the order of the request
  std::vector<LeftOut> left_out;
  Seconds total{0}, available{0};
  double expected_weight = 0;  ///< sum of weight x probability (x worth for those without a limit)
  double total_weight = 0;     ///< of all questions that are not decided already
  HourMore hour_more;
};

/// Errors: invalid_input for a negative weight or a quantity outside the catalogue; those of estimate().
[[nodiscard]] Result<Plan> make_plan(const PlanRequest& request);

// ---- the choice itself, free of displays and questions ----

/// Jobs (procedures) with levels (repeats); level 0 is "not done" and costs nothing.
struct ChoiceJob {
  std::vector<double> cost;  ///< by level, cost[0] = 0, not falling
};
struct ChoiceGoal {
  double weight = 1;                ///< >= 0
  std::vector<int> jobs;            ///< every one of these must be done; at least one
  std::vector<double> probability;  ///< by the least level among its jobs, probability[0] = 0, not falling
};
struct ChoiceProblem {
  std::vector<ChoiceJob> jobs;  ///< all with the same number of levels
  std::vector<ChoiceGoal> goals;
  double budget = 0;
  int entry_job = -1;  ///< the job that must be done (level 1 at least) if any other is: the warm-up; -1: none
};
struct Choice {
  std::vector<int> level;  ///< per job
  double value = 0, cost = 0;
};
/// The choice of the largest value; of equals (within 1e-12) the cheapest, then the one whose first differing job has
/// the lower level. Exact; time is exponential in the number of jobs at worst (tens are fine).
[[nodiscard]] Choice solve_plan(const ChoiceProblem& problem);

}  // namespace provenit::procedure
