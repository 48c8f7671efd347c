#include "forecast_file.h"

#include <cstdlib>
#include <filesystem>

#include "folder.h"
#include "provenit/base/text.h"
#include "provenit/forecast/title.h"
#include "provenit/loan/forecast_json.h"
#include "provenit/programme/survey_file.h"
#include "provenit/store/bench.h"

namespace provenit::farm {
namespace {

namespace fs = std::filesystem;

// As `provenit forecast title` has them if nothing is said.
constexpr std::size_t kMoments = 10;
constexpr double kApart_s = 5;

class LocalFolder {
 public:
  LocalFolder() {
    std::error_code ec;
    std::string name = (fs::temp_directory_path(ec) / "provenit-farm-XXXXXX").string();
    if (!ec && ::mkdtemp(name.data()) != nullptr) path_ = name;
  }
  LocalFolder(const LocalFolder&) = delete;
  LocalFolder& operator=(const LocalFolder&) = delete;
  ~LocalFolder() {
    std::error_code ec;
    if (!path_.empty()) fs::remove_all(path_, ec);
  }
  [[nodiscard]] const std::string& path() const { return path_; }

 private:
  std::string path_;
};

Result<store::LoanRecord> loan_of(const store::Bench& bench, store::Id id) {
  if (id != 0) return bench.loan(id);
  const auto loans = bench.loans();
  if (!loans) return tl::unexpected(loans.error());
  if (loans->empty())
    return fail(ErrorCode::not_found, "the bench has no loan yet", "Give a bench whose display was read.");
  return loans->back();
}

}  // namespace

Result<DisplayOfLoan> display_of(const std::string& bytes, store::Id id) {
  const LocalFolder folder;
  if (folder.path().empty())
    return fail(ErrorCode::io, "no folder for temporary files can be made", "Set TMPDIR to one that may be written.");
  const auto path = (fs::path(folder.path()) / "loan.bench").string();
  if (auto written = write_file(path, bytes); !written) return tl::unexpected(written.error());
  const auto bench = store::Bench::open(path);
  if (!bench) return tl::unexpected(bench.error());
  const auto loan = loan_of(*bench, id);
  if (!loan) return tl::unexpected(loan.error());
  auto made = loan::forecast_of(*bench, *loan);
  if (!made) return tl::unexpected(made.error());
  return DisplayOfLoan{.loan = loan->id, .display = std::move(made->display)};
}

Result<void> write_forecast(const Job& job, std::size_t title) {
  const auto copy = detail::file_in(job, "", detail::kBenchCopy);
  const auto bytes = read_file(copy);
  if (!bytes) return tl::unexpected(bytes.error());
  if (sha256_hex(*bytes) != job.bench->sha256)
    return fail(ErrorCode::invalid_input, "is not the bench that was planned",
                "Somebody changed it: plan the job again in a new folder.", {.file = copy});
  const auto made = display_of(*bytes, job.bench->loan);
  if (!made) return tl::unexpected(made.error());
  const auto survey = programme::SurveyFile::open(survey_path(job, title));
  if (!survey) return tl::unexpected(survey.error());
  const auto frames = survey->frames();
  if (!frames) return tl::unexpected(frames.error());
  const auto outlook = forecast::TitleForecaster(made->display).forecast(*frames);
  const auto moments = forecast::worst_moments(outlook, kMoments, kApart_s);
  const auto document = loan::moments_document(survey->header().title, outlook.size(), moments, true);
  return write_file(forecast_path(job, title),
                    document.dump(2, ' ', false, detail::Json::error_handler_t::replace) + "\n");
}

}  // namespace provenit::farm
