#pragma once
// The display models of the loans, fitted once for as many readings as there are: a fit with its checks takes seconds.
#include <map>
#include <memory>
#include <mutex>
#include <utility>

#include "provenit/report/records_json.h"
#include "provenit/store/bench.h"

namespace provenit::server {

class ModelShelf {
 public:
  /// Schema DisplayModel. Errors: not_found without readings for one; those of the fit.
  [[nodiscard]] Result<std::shared_ptr<const report::Json>> model(const store::Bench& bench,
                                                                  const store::LoanRecord& loan);

 private:
  struct Fitted {
    store::Id run = 0;
    std::int64_t readings = 0;
    Result<std::shared_ptr<const report::Json>> model;
  };
  std::mutex mutex_;
  std::map<store::Id, Fitted> fitted_;
};

}  // namespace provenit::server
