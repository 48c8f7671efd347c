#pragma once
// A loan's correction: reads what a display model needs, solves tables, and reads whether they made the display better.
#include <array>
#include <functional>
#include <nlohmann/json_fwd.hpp>
#include <optional>
#include <string>
#include <vector>

#include "provenit/base/error.h"
#include "provenit/correct/display_model.h"
#include "provenit/correct/limiter.h"
#include "provenit/correct/lut.h"
#include "provenit/correct/proof.h"
#include "provenit/correct/solve.h"
#include "provenit/loan/devices.h"
#include "provenit/procedure/runner.h"
#include "provenit/store/bench.h"

namespace provenit::loan {

struct CorrectionHooks {
  std::function<void(const procedure::Progress&)> progress;
  std::function<bool()> stop_requested;
};

// Readings and model -------------------------------------------------------------------------------------------------

/// How patches for a model are read.
struct ModelRun {
  double minutes = 20;               ///< of measuring; the run ends with the first patch beyond it
  double window_percent = 4;         ///< small, so that a power limiter stays out of it
  std::string primaries = "p3_d65";  ///< colours the correction is for: a name of signal::Container
  double settle_s = 1.5;
  bool again = false;  ///< a new run though one of these parameters is finished
};

/// Reads patches, each batch chosen by the model of those before. An open run of the same parameters goes on; a
/// finished one is left as it is unless `again`: then the outcome names it, with nothing taken. Errors: those of
/// run_procedure; those of DisplayModel::fit where the readings show that something is wrong.
[[nodiscard]] Result<procedure::RunOutcome> read_model(store::Bench& bench, const store::LoanRecord& loan,
                                                       Devices& devices, const ModelRun& asked,
                                                       const CorrectionHooks& hooks);

/// The display as the newest such run has it.
struct LoanModel {
  store::Id run = 0;
  std::size_t readings = 0;
  double minutes = 0;  ///< what the readings took
  nlohmann::json parameters;
  correct::DisplayModel model;
};
/// Errors: not_found if there is no such run; those of DisplayModel::fit.
[[nodiscard]] Result<LoanModel> model_of(const store::Bench& bench, const store::LoanRecord& loan,
                                         const correct::FitOptions& options = {});

/// The limiter's curve from the newest run of `window_peak`; nullopt if there is none.
/// Errors: those of LimiterCurve::fit.
[[nodiscard]] Result<std::optional<correct::LimiterCurve>> limiter_of(const store::Bench& bench,
                                                                      const store::LoanRecord& loan);

// Tables -------------------------------------------------------------------------------------------------------------

enum class TableShape { three_d, curves, matrix };
[[nodiscard]] const char* name_of(TableShape shape);  ///< "3d", "1d", "3x3"

struct SolveRequest {
  TableShape shape = TableShape::three_d;
  int size = 33;       ///< nodes along an axis, or entries of the curves
  int entry_bits = 0;  ///< rounded to what a device of that many bits holds; 0: not
  correct::CorrectionGoal goal;
  std::string primaries = "p3_d65";  ///< the name of goal.primaries
  std::string kind;     ///< id of a kind of display that is to take it (correct/display_kind.h); empty: none
  std::string profile;  ///< path of an ICC profile of the display as corrected; empty: none
  std::string path;     ///< of the file; its ending says what kind (correct/lut_files.h)
};

struct LoanTable {
  store::Id correction = 0;
  correct::Solved solved;
};
/// Solves, writes the file and keeps it in the bench. Nothing is written over: an existing file is refused.
/// Errors: those of solve_3d and its like, of fitted, write_lut and icc_display_bytes; conflict for a file that is
/// there.
[[nodiscard]] Result<LoanTable> solve_table(store::Bench& bench, const store::LoanRecord& loan, const LoanModel& model,
                                            SolveRequest request, Timestamp now);

// Proof --------------------------------------------------------------------------------------------------------------

struct ProofRun {
  store::Id correction = 0;  ///< 0: the newest of the loan
  int colours = 60;          ///< unseen ones, with the greys near black that come with them
  double settle_s = 1.5;
  bool again = false;
};

/// Each colour with the signal as programmes have it and with the signal that the table makes of it, one after the
/// other, the reference between. The table must not be active in the display.
/// Errors: not_found without a correction; those of reading its file, of run_procedure.
[[nodiscard]] Result<procedure::RunOutcome> read_proof(store::Bench& bench, const store::LoanRecord& loan,
                                                       Devices& devices, const ProofRun& asked,
                                                       const CorrectionHooks& hooks);

struct LoanProof {
  store::Id run = 0, correction = 0;
  std::vector<store::Id> readings;
  std::vector<correct::ProofPair> pairs;
  correct::ProofResult result;
};
/// Of the newest proof run with enough pairs; nullopt if there is none.
[[nodiscard]] Result<std::optional<LoanProof>> proof_of(const store::Bench& bench, const store::LoanRecord& loan);

// What `provenit correct` and the server say of them.
[[nodiscard]] nlohmann::ordered_json to_json(const LoanModel& model);
[[nodiscard]] nlohmann::ordered_json to_json(const LoanProof& proof);
[[nodiscard]] nlohmann::ordered_json limiter_json(const correct::LimiterCurve& limiter);
/// Areas, as a picture's share in percent, at which the limiter's curve is told.
inline constexpr std::array<double, 5> kLimiterAreas{1, 10, 25, 50, 100};

/// The proof as findings, without loan and time.
[[nodiscard]] std::vector<store::FindingRecord> findings_of(const LoanProof& proof);

}  // namespace provenit::loan
