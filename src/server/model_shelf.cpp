#include "model_shelf.h"

#include "provenit/loan/correction.h"

namespace provenit::server {

Result<std::shared_ptr<const report::Json>> ModelShelf::model(const store::Bench& bench,
                                                              const store::LoanRecord& loan) {
  const std::lock_guard lock(mutex_);
  const auto runs = bench.runs(loan.id);
  if (!runs) return tl::unexpected(runs.error());
  store::Id newest = 0;
  std::int64_t readings = 0;
  for (const auto& run : *runs) {
    if (run.procedure != "display_model" && run.procedure != "window_peak") continue;
    const auto all = bench.readings(run.id);
    if (!all) return tl::unexpected(all.error());
    newest = run.id;
    readings += static_cast<std::int64_t>(all->size());
  }
  const auto known = fitted_.find(loan.id);
  if (known != fitted_.end() && known->second.run == newest && known->second.readings == readings)
    return known->second.model;
  auto fitted = [&]() -> Result<std::shared_ptr<const report::Json>> {
    const auto found = loan::model_of(bench, loan);
    if (!found) return tl::unexpected(found.error());
    const auto limiter = loan::limiter_of(bench, loan);
    auto out = std::make_shared<report::Json>(loan::to_json(*found));
    (*out)["limiter"] = limiter && *limiter ? loan::limiter_json(**limiter) : report::Json(nullptr);
    return out;
  }();
  fitted_.insert_or_assign(loan.id, Fitted{newest, readings, fitted});
  return fitted;
}

}  // namespace provenit::server
