#pragma once
// The two procedures of a correction. Neither is one of all_procedures(): they answer no question of a requirement set.
#include <mutex>
#include <vector>

#include "provenit/colour/primaries.h"
#include "provenit/correct/display_model.h"
#include "provenit/correct/lut.h"
#include "provenit/correct/patch_choice.h"
#include "provenit/loan/correction.h"
#include "provenit/procedure/procedure.h"

namespace provenit::loan {

inline constexpr const char* kModelProcedure = "display_model";
inline constexpr const char* kProofProcedure = "correction_proof";
inline constexpr const char* kReferenceStep = "reference";

/// A grey of 200 cd/m2, or a fifth of the peak where that is less: what is read again and again.
[[nodiscard]] signal::CodeRgb reference_code(const procedure::Context& context);

/// Time that readings took, in seconds: gaps of more than a minute (a run that was stopped) count as a minute.
[[nodiscard]] double time_taken(std::span<const store::ReadingRecord> readings);
/// The reference is due: at the start, every kReferenceEvery readings, and after the last patch.
inline constexpr int kReferenceEvery = 12;
[[nodiscard]] bool reference_due(std::span<const store::ReadingRecord> readings);

/// Primaries of that name. Errors: invalid_input naming those there are.
[[nodiscard]] Result<colour::Primaries<>> primaries_named(const std::string& name);

/// Colours of a proof, as programmes have them: unseen ones between black and the peak, and greys from 0.05 to 1 cd/m2;
/// those that the display can show, by its model. Fewer than `count` where it can show few.
[[nodiscard]] std::vector<signal::CodeRgb> proof_codes(const correct::DisplayModel& model,
                                                       const colour::Primaries<>& primaries, colour::Luminance<> peak,
                                                       int count);
/// Errors: invalid_input unless it is a list of lists of three whole numbers.
[[nodiscard]] Result<std::vector<signal::CodeRgb>> codes_from_json(const nlohmann::json& json);
[[nodiscard]] std::vector<correct::ModelReading> model_readings(const instrument::Capabilities& capabilities,
                                                                std::span<const store::ReadingRecord> readings);

/// A centred window with this code, and how long to wait.
[[nodiscard]] procedure::Step patch_step(const procedure::Context& context, const std::string& key,
                                         const signal::CodeRgb& code, double window_percent, double settle_s,
                                         const std::string& why);

/// Runs the procedure, or goes on with its open run; a finished run of the same parameters is left as it is unless
/// `again`. Errors: those of run_procedure.
[[nodiscard]] Result<procedure::RunOutcome> run_or_keep(store::Bench& bench, const store::LoanRecord& loan,
                                                        Devices& devices, const procedure::Procedure& procedure,
                                                        const procedure::Context& context, bool again,
                                                        const CorrectionHooks& hooks);

class ModelProcedure final : public procedure::Procedure {
 public:
  std::string id() const override { return kModelProcedure; }
  int version() const override { return 1; }
  std::string title() const override { return "Patches for a display model"; }
  std::vector<std::string> sources() const override { return {"docs/correction.md"}; }
  std::vector<std::string> quantities() const override { return {}; }
  bool foreseeable() const override { return false; }
  nlohmann::json default_parameters() const override;
  Result<std::optional<procedure::Step>> next(const procedure::Context& context,
                                              std::span<const store::ReadingRecord> readings) const override;

 private:
  Result<std::vector<signal::CodeRgb>> batch(const procedure::Context& context, const nlohmann::json& parameters,
                                             std::span<const store::ReadingRecord> readings, int count) const;
  // The batch under way: made once, asked for at every step.
  mutable std::size_t batch_from_ = 0;
  mutable std::vector<signal::CodeRgb> batch_;
};

class ProofProcedure final : public procedure::Procedure {
 public:
  explicit ProofProcedure(correct::Lut table) : table_(std::move(table)) {}

  std::string id() const override { return kProofProcedure; }
  int version() const override { return 1; }
  std::string title() const override { return "Proof of a correction"; }
  std::vector<std::string> sources() const override { return {"docs/correction.md"}; }
  std::vector<std::string> quantities() const override { return {}; }
  bool foreseeable() const override { return false; }
  nlohmann::json default_parameters() const override;
  Result<std::optional<procedure::Step>> next(const procedure::Context& context,
                                              std::span<const store::ReadingRecord> readings) const override;

 private:
  correct::Lut table_;
};

}  // namespace provenit::loan
