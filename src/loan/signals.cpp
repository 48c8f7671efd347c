#include "provenit/loan/loan.h"

namespace provenit::loan {

Result<std::vector<procedure::NamedSignal>> signals_of(const store::Bench& bench, const store::LoanRecord& loan,
                                                       const std::string& procedure) {
  const auto* method = procedure::find_procedure(procedure);
  if (method == nullptr) return unknown_procedure(procedure);
  const auto context = context_of(bench, loan);
  if (!context) return tl::unexpected(context.error());
  return procedure::signals_of(*method, *context);
}

}  // namespace provenit::loan
