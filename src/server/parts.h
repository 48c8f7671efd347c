#pragma once
// What the routes share, and how they are told.
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "bench_pool.h"
#include "clip_job.h"
#include "fields.h"
#include "forecast_shelf.h"
#include "history.h"
#include "model_shelf.h"
#include "picture_desk.h"
#include "programme_folder.h"
#include "provenit/report/records_json.h"
#include "provenit/server/api.h"
#include "run_control.h"
#include "show_job.h"
#include "survey_job.h"
#include "survey_shelf.h"
#include "watcher.h"

namespace provenit::server {

using report::Json;

struct Api::Parts {
  explicit Parts(ApiOptions options);

  ApiOptions options;
  BenchPool pool;
  EventHub hub;
  History history;
  Watcher watcher;
  ProgrammeFolder programmes;
  SurveyShelf surveys;
  PictureDesk pictures;
  ModelShelf models;
  ForecastShelf forecasts;
  SurveyJob survey_job;
  ShowJob show_job;
  ClipJob clip_job;
  RunControl runs;  // last: its thread uses the others

  /// Tells listeners what to fetch again; loan 0: the whole bench.
  void changed(const char* what, store::Id loan);
};

/// A request that found its route.
struct Call {
  Api::Parts& parts;
  const Request& request;
  std::vector<store::Id> numbers;  ///< of the path, in order
  std::string word;                ///< of the path, where it is no number

  [[nodiscard]] store::Id loan() const { return numbers.at(0); }
  /// Errors: those of parse_body.
  [[nodiscard]] Result<nlohmann::json> body() const { return parse_body(request.body); }
};

using Handler = Result<Answer> (*)(const Call&);

struct Route {
  const char* method;
  const char* path;  ///< below /api/1, as in openapi.json: "/loans/{loan}/plan"
  Handler handler;
  std::optional<BodyKind> body;
};

[[nodiscard]] std::span<const Route> server_routes();
[[nodiscard]] std::span<const Route> bench_routes();
[[nodiscard]] std::span<const Route> describe_routes();
[[nodiscard]] std::span<const Route> loan_routes();
[[nodiscard]] std::span<const Route> run_routes();
[[nodiscard]] std::span<const Route> finding_routes();
[[nodiscard]] std::span<const Route> compare_routes();
[[nodiscard]] std::span<const Route> file_routes();
[[nodiscard]] std::span<const Route> programme_routes();
[[nodiscard]] std::span<const Route> farm_routes();
[[nodiscard]] std::span<const Route> picture_routes();
[[nodiscard]] std::span<const Route> correction_routes();
[[nodiscard]] std::span<const Route> signal_routes();
[[nodiscard]] std::span<const Route> signal_file_routes();
[[nodiscard]] std::span<const Route> forecast_routes();

/// Schema Problem. Paths in the bench's folder are cut to what lies in it: they are nobody's business.
[[nodiscard]] Json problem_json(const Error& error, const std::string& bench_path);

[[nodiscard]] Answer json_answer(const Json& body, int status = 200);

/// A bench and the loan that a path names.
struct OpenLoan {
  BenchPool::Lease bench;
  store::LoanRecord loan;
};
/// Errors: those of Bench::open and Bench::loan.
[[nodiscard]] Result<OpenLoan> open_loan(const Call& call);

/// The frame that a query names: file, frame or time_s, and what it says of the file's numbers. Errors: those of
/// ProgrammeFolder::path_of and PictureDesk::look; invalid_input naming the parameter.
[[nodiscard]] Result<std::shared_ptr<const LookedAt>> looked_at(const Call& call);

/// A parameter of the query. Errors: invalid_input naming it.
[[nodiscard]] Result<std::optional<std::int64_t>> query_integer(const Request& request, const std::string& name,
                                                                std::int64_t least, std::int64_t most);
[[nodiscard]] Result<std::optional<double>> query_number(const Request& request, const std::string& name, double above,
                                                         double most);
/// Empty if it is not there. Errors: invalid_input if it is longer.
[[nodiscard]] Result<std::string> query_text(const Request& request, const std::string& name, std::size_t longest);

/// Machine's time now.
[[nodiscard]] Timestamp machine_time();

}  // namespace provenit::server
