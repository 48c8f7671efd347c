// farm.json: written once, by the plan; read by every task, and believed only as far as it holds together.
#include "job_json.h"

#include <fmt/format.h>

#include <filesystem>

#include "folder.h"
#include "provenit/base/text.h"

namespace provenit::farm {
namespace {

namespace fs = std::filesystem;
using detail::Json;

constexpr const char* kSchema = "provenit-farm/1";
constexpr std::int64_t kMostFrames = 1'000'000'000;

Json meant_json(const programme::InterpretationNames& m) {
  return {{"transfer", m.transfer}, {"primaries", m.primaries}, {"matrix", m.matrix},
          {"range", m.range},       {"siting", m.siting},       {"peak_cdm2", m.peak_cdm2}};
}

Json title_json(const Job& job, std::size_t t) {
  const Title& title = job.titles[t];
  Json parts = Json::array(), inputs = Json::array(), results{survey_path(job, t)};
  for (std::size_t p = 0; p < title.parts.size(); ++p) {
    inputs.push_back(part_path(job, t, p));
    parts.push_back({{"first", title.parts[p].first},
                     {"last", title.parts[p].last},
                     {"command", part_command(job, t, p)},
                     {"inputs", {title.path}},
                     {"outputs", {part_path(job, t, p)}}});
  }
  if (job.bench) results.push_back(forecast_path(job, t));
  return {
      {"path", title.path},
      {"bytes", title.bytes},
      {"modified_ns", title.modified_ns},
      {"fingerprint", title.fingerprint},
      {"frames", title.frames},
      {"seconds", title.seconds},
      {"index_sha256", title.index_sha256},
      {"parts", std::move(parts)},
      {"merge", {{"command", merge_command(job, t)}, {"inputs", std::move(inputs)}, {"outputs", std::move(results)}}}};
}

/// What stands in farm.json at a place that is named in every refusal.
class Field {
 public:
  Field(const Json& json, std::string name) : json_(json), name_(std::move(name)) {}

  [[nodiscard]] Field operator[](const char* key) const {
    if (!json_.is_object()) refuse("is no object");
    const auto found = json_.find(key);
    const auto name = name_.empty() ? std::string(key) : name_ + "." + key;
    if (found == json_.end()) throw Error{ErrorCode::invalid_input, "is missing", {}, {.field = name}};
    return {*found, name};
  }
  template <class Each>
  void each(Each take) const {
    if (!json_.is_array() || json_.empty()) refuse("is no list with something in it");
    for (std::size_t i = 0; i < json_.size(); ++i) take(Field(json_[i], fmt::format("{}[{}]", name_, i)));
  }
  [[nodiscard]] std::string text() const {
    if (!json_.is_string()) refuse("is no text");
    return json_.get<std::string>();
  }
  [[nodiscard]] std::string hash() const {
    auto value = text();
    if (value.size() != 64 || value.find_first_not_of("0123456789abcdef") != std::string::npos) refuse("is no SHA-256");
    return value;
  }
  [[nodiscard]] std::int64_t integer(std::int64_t least, std::int64_t most) const {
    if (!json_.is_number_integer()) refuse("is no whole number");
    if (json_.is_number_unsigned() && json_.get<std::uint64_t>() > static_cast<std::uint64_t>(INT64_MAX))
      refuse("is too large");
    const auto value = json_.get<std::int64_t>();
    if (value < least || value > most) refuse(fmt::format("is {}, outside {} to {}", value, least, most));
    return value;
  }
  [[nodiscard]] double number() const {
    if (!json_.is_number()) refuse("is no number");
    return json_.get<double>();
  }
  [[nodiscard]] bool is_null() const { return json_.is_null(); }
  [[noreturn]] void refuse(const std::string& why) const {
    throw Error{ErrorCode::invalid_input, why, {}, {.field = name_}};
  }

 private:
  const Json& json_;
  std::string name_;
};

Title title_from(const Field& j) {
  Title title{.path = j["path"].text(),
              .bytes = static_cast<std::uint64_t>(j["bytes"].integer(0, INT64_MAX)),
              .modified_ns = j["modified_ns"].integer(INT64_MIN, INT64_MAX),
              .fingerprint = j["fingerprint"].hash(),
              .frames = j["frames"].integer(1, kMostFrames),
              .seconds = j["seconds"].number(),
              .index_sha256 = j["index_sha256"].hash()};
  if (!fs::path(title.path).is_absolute()) j["path"].refuse("is no absolute path");
  std::int64_t next = 0;
  j["parts"].each([&](const Field& part) {
    const auto first = part["first"].integer(0, kMostFrames), last = part["last"].integer(0, kMostFrames);
    if (first != next)
      part["first"].refuse(
          fmt::format("is {}, but the part before ends at {}: every frame must be in one part", first, next));
    if (last <= first) part["last"].refuse(fmt::format("is {}: the part holds no frame", last));
    title.parts.push_back({first, last});
    next = last;
  });
  if (next != title.frames) j["frames"].refuse(fmt::format("is {}, but the parts end at {}", title.frames, next));
  return title;
}

Job job_from(const Field& j, const std::string& folder) {
  if (const auto schema = j["schema"].text(); schema != kSchema)
    throw Error{ErrorCode::conflict,
                fmt::format("is a job of the form '{}'; this program knows '{}'", schema, kSchema),
                "Use the program that planned it. Nothing was changed.",
                {.field = "schema"}};
  Job job{.folder = folder,
          .program = j["program"].text(),
          .software = j["software"].text(),
          .simd_level = j["simd_level"].text()};
  const auto m = j["interpretation"];
  job.meant = {.transfer = m["transfer"].text(),
               .primaries = m["primaries"].text(),
               .matrix = m["matrix"].text(),
               .range = m["range"].text(),
               .siting = m["siting"].text(),
               .peak_cdm2 = m["peak_cdm2"].number()};
  if (const auto meant = programme::interpretation_of(job.meant); !meant) throw Error{meant.error()};
  job.frame_rate_hz = j["frame_rate_hz"].number();
  if (const auto bench = j["bench"]; !bench.is_null())
    job.bench = JobBench{.loan = bench["loan"].integer(1, INT64_MAX), .sha256 = bench["sha256"].hash()};
  j["titles"].each([&](const Field& title) { job.titles.push_back(title_from(title)); });
  return job;
}

}  // namespace

Result<void> write_job(const Job& job) {
  Json j{{"schema", kSchema},
         {"software", job.software},
         {"program", job.program},
         {"simd_level", job.simd_level},
         {"interpretation", meant_json(job.meant)},
         {"frame_rate_hz", job.frame_rate_hz},
         {"bench", nullptr},
         {"titles", Json::array()}};
  if (job.bench) j["bench"] = {{"loan", job.bench->loan}, {"sha256", job.bench->sha256}};
  for (std::size_t t = 0; t < job.titles.size(); ++t) j["titles"].push_back(title_json(job, t));
  return write_file((fs::path(job.folder) / "farm.json").string(), j.dump(1) + "\n");
}

Result<Job> open(const std::string& folder) {
  std::error_code ec;
  const auto whole = fs::absolute(folder, ec).lexically_normal().string();
  const auto path = (fs::path(whole) / "farm.json").string();
  if (!detail::is_there(path))
    return fail(ErrorCode::not_found, "is no job: it has no farm.json", "Plan one: provenit farm plan FOLDER TITLE",
                {.file = folder});
  const auto text = read_file(path);
  if (!text) return tl::unexpected(text.error());
  const auto json = Json::parse(*text, nullptr, false);
  try {
    if (json.is_discarded()) throw Error{ErrorCode::invalid_input, "is no JSON", {}, {}};
    return job_from(Field(json, {}), whole);
  } catch (const Error& e) {
    Error error = e;
    error.where.file = path;
    if (error.advice.empty()) error.advice = "Somebody changed it: plan the job again in a new folder.";
    return tl::unexpected(error);
  }
}

Result<std::string> write_index(const Job& job, std::size_t title, const programme::FrameIndex& index) {
  const Json j{{"first_pts", index.first_pts}, {"key_frames", index.key_frames}, {"time_s", index.time_s}};
  const auto text = j.dump() + "\n";
  return write_file(detail::file_in(job, detail::kTitles, detail::task_name(title) + ".json"), text).map([&] {
    return sha256_hex(text);
  });
}

Result<programme::FrameIndex> index_of(const Job& job, std::size_t title) {
  const auto path = detail::file_in(job, detail::kTitles, detail::task_name(title) + ".json");
  const auto text = read_file(path);
  if (!text) return tl::unexpected(text.error());
  const auto changed = [&] {
    return fail(ErrorCode::invalid_input, "is not the index that was planned",
                "Somebody changed it: plan the job again in a new folder.", {.file = path});
  };
  if (sha256_hex(*text) != job.titles[title].index_sha256) return changed();
  try {
    const auto j = Json::parse(*text);
    programme::FrameIndex index;
    j.at("first_pts").get_to(index.first_pts);
    j.at("key_frames").get_to(index.key_frames);
    j.at("time_s").get_to(index.time_s);
    index.fingerprint = job.titles[title].fingerprint;
    if (static_cast<std::int64_t>(index.time_s.size()) != job.titles[title].frames) return changed();
    return index;
  } catch (const nlohmann::json::exception&) {
    return changed();
  }
}

}  // namespace provenit::farm
