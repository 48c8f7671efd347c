#include "forecast_shelf.h"

#include "provenit/programme/bench.h"

namespace provenit::server {

Result<ForecastShelf::Made*> ForecastShelf::made(const store::Bench& bench, const store::LoanRecord& loan) {
  const auto readings = bench.reading_count();
  if (!readings) return tl::unexpected(readings.error());
  const auto attachments = bench.attachments(loan.id);
  if (!attachments) return tl::unexpected(attachments.error());
  const State state{*readings, attachments->size()};
  auto known = by_loan_.find(loan.id);
  if (known == by_loan_.end() || known->second.state != state) {
    auto forecast = loan::forecast_of(bench, loan);
    if (!forecast) return tl::unexpected(forecast.error());
    Made fresh{
        .state = state, .forecast = std::make_shared<const loan::LoanForecast>(std::move(*forecast)), .outlooks = {}};
    known = by_loan_.insert_or_assign(loan.id, std::move(fresh)).first;
  }
  return &known->second;
}

Result<std::shared_ptr<const loan::LoanForecast>> ForecastShelf::display(const store::Bench& bench,
                                                                         const store::LoanRecord& loan) {
  const std::lock_guard lock(mutex_);
  const auto found = made(bench, loan);
  if (!found) return tl::unexpected(found.error());
  return (*found)->forecast;
}

Result<std::shared_ptr<const ForecastShelf::Outlook>> ForecastShelf::outlook(const store::Bench& bench,
                                                                             const store::LoanRecord& loan,
                                                                             store::Id survey) {
  const std::lock_guard lock(mutex_);
  const auto found = made(bench, loan);
  if (!found) return tl::unexpected(found.error());
  auto& outlooks = (*found)->outlooks;
  if (const auto known = outlooks.find(survey); known != outlooks.end()) return known->second;
  if (const auto there = programme::survey_in_bench(bench, survey); !there) return tl::unexpected(there.error());
  const auto frames = programme::frames_in_bench(bench, survey);
  if (!frames) return tl::unexpected(frames.error());
  auto outlook =
      std::make_shared<const Outlook>(forecast::TitleForecaster((*found)->forecast->display).forecast(*frames));
  constexpr std::size_t kMostKept = 8;
  if (outlooks.size() >= kMostKept) outlooks.clear();
  outlooks.emplace(survey, outlook);
  return outlook;
}

}  // namespace provenit::server
