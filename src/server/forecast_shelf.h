#pragma once
// Forecasts of the loans' displays, made once for what has been read, and what they make of the bench's surveys: the
// fit takes seconds.
#include <map>
#include <memory>
#include <mutex>
#include <utility>
#include <vector>

#include "provenit/forecast/title.h"
#include "provenit/loan/forecast.h"
#include "provenit/store/bench.h"

namespace provenit::server {

class ForecastShelf {
 public:
  /// Errors: those of loan::forecast_of.
  [[nodiscard]] Result<std::shared_ptr<const loan::LoanForecast>> display(const store::Bench& bench,
                                                                          const store::LoanRecord& loan);
  using Outlook = std::vector<forecast::FrameOutlook>;
  /// Every frame of a survey on the display. Errors: those of display, survey_in_bench and frames_in_bench.
  [[nodiscard]] Result<std::shared_ptr<const Outlook>> outlook(const store::Bench& bench, const store::LoanRecord& loan,
                                                               store::Id survey);

 private:
  /// What a forecast depends on: readings of the whole bench, and what was recorded for the loan.
  using State = std::pair<std::int64_t, std::size_t>;
  struct Made {
    State state;
    std::shared_ptr<const loan::LoanForecast> forecast;
    std::map<store::Id, std::shared_ptr<const Outlook>> outlooks;
  };
  /// With the mutex held.
  Result<Made*> made(const store::Bench& bench, const store::LoanRecord& loan);

  std::mutex mutex_;  // held while one is made: a second request for it waits
  std::map<store::Id, Made> by_loan_;
};

}  // namespace provenit::server
