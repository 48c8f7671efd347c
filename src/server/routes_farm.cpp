// Jobs of a render farm that this server was told of: how far each title and part is.
#include <array>
#include <filesystem>

#include "parts.h"
#include "provenit/farm/status.h"

namespace provenit::server {
namespace {

Result<Json> job_json(const std::string& folder) {
  const auto job = farm::open(folder);
  if (!job) return tl::unexpected(job.error());
  const auto status = farm::status(*job);
  if (!status) return tl::unexpected(status.error());
  return farm::to_json(*job, *status,
                       [&](const Error& error) { return problem_json(error, job->folder + "/farm.json"); });
}

Result<Answer> farms(const Call& call) {
  Json out = {{"jobs", Json::array()}};
  for (const auto& folder : call.parts.options.farms) {
    auto job = job_json(folder);
    // A folder that cannot be read now is told of beside the others: it may come back.
    out["jobs"].push_back({{"job", job ? std::move(*job) : Json(nullptr)},
                           {"problem", job ? Json(nullptr) : problem_json(job.error(), folder + "/farm.json")}});
  }
  return json_answer(out);
}

}  // namespace

std::span<const Route> farm_routes() {
  static constexpr std::array routes{Route{"GET", "/farm", &farms, {}}};
  return routes;
}

}  // namespace provenit::server
