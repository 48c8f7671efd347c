#pragma once
// The white-balance aid as a procedure: readings -> visits -> what to set and read next.
#include "provenit/correct/white_balance.h"
#include "provenit/evaluation/measurement_model.h"
#include "provenit/loan/colorimeter.h"
#include "provenit/procedure/procedure.h"

namespace provenit::loan {

/// Not one of all_procedures(): it answers no question, and changes the display.
class BalanceProcedure final : public procedure::Procedure {
 public:
  /// What the readings are worth.
  explicit BalanceProcedure(ReadingBasis basis) : basis_(std::move(basis)) {}

  std::string id() const override { return "balance"; }
  int version() const override { return 1; }
  std::string title() const override { return "White balance with the display's own controls"; }
  std::vector<std::string> sources() const override { return {"docs/correction.md"}; }
  std::vector<std::string> quantities() const override { return {}; }
  std::string caution() const override;
  bool foreseeable() const override { return false; }
  nlohmann::json default_parameters() const override;
  Result<std::optional<procedure::Step>> next(const procedure::Context& context,
                                              std::span<const store::ReadingRecord> readings) const override;

  /// Errors: invalid_input for parameters of the wrong form.
  [[nodiscard]] static Result<correct::BalanceTask> task_of(const procedure::Context& context);
  /// The last word, with the outcome if it is finished.
  [[nodiscard]] Result<correct::BalanceStep> step_of(const correct::BalanceTask& task,
                                                     const procedure::Context& context,
                                                     std::span<const store::ReadingRecord> readings) const;

 private:
  ReadingBasis basis_;
};

/// A run's visits. Errors: invalid_input naming the reading whose step or settings are not of a balance.
[[nodiscard]] Result<std::vector<correct::BalanceVisit>> visits_of(const correct::BalanceTask& task,
                                                                   std::span<const store::ReadingRecord> readings,
                                                                   const evaluation::RunLight* light);

}  // namespace provenit::loan
