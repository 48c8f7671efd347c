#include "folder.h"

#include <fcntl.h>
#include <fmt/format.h>
#include <unistd.h>

#include <array>
#include <cerrno>
#include <chrono>
#include <cstring>
#include <filesystem>
#include <thread>

#include "provenit/base/text.h"

namespace provenit::farm::detail {
namespace {

namespace fs = std::filesystem;

constexpr std::array kCodes{ErrorCode::invalid_input, ErrorCode::out_of_range, ErrorCode::not_found,
                            ErrorCode::conflict,      ErrorCode::io,           ErrorCode::timeout,
                            ErrorCode::instrument,    ErrorCode::unsupported,  ErrorCode::cancelled};

struct flock all_of_it() {
  struct flock lock {};
  lock.l_type = F_WRLCK;
  lock.l_whence = SEEK_SET;
  return lock;
}

std::optional<Json> read_json(const std::string& path) {
  if (!is_there(path)) return std::nullopt;
  const auto text = read_file(path);
  if (!text) return std::nullopt;
  auto json = Json::parse(*text, nullptr, false);
  return json.is_object() ? std::optional(std::move(json)) : std::nullopt;
}

std::string text_of(const Json& json) {
  return json.dump(1, ' ', false, Json::error_handler_t::replace) + "\n";
}

}  // namespace

std::string task_name(std::size_t title) {
  return fmt::format("{:04}", title + 1);
}
std::string task_name(std::size_t title, std::size_t part) {
  return fmt::format("{:04}-{:04}", title + 1, part + 1);
}
std::string forecast_task(std::size_t title) {
  return task_name(title) + "-forecast";
}
std::string file_in(const Job& job, const char* sub, const std::string& name) {
  return (fs::path(job.folder) / sub / name).string();
}
bool is_there(const std::string& path) {
  std::error_code ec;
  return fs::exists(path, ec);
}

Result<std::optional<TaskLock>> TaskLock::take(const Job& job, const std::string& task, const Stop& stop) {
  const auto path = file_in(job, kLocks, task);
  const auto refused = [&] {
    return fail(ErrorCode::io, fmt::format("cannot be locked: {}", std::strerror(errno)),
                "Check that you may write there, and that its file system carries locks.", {.file = path});
  };
  const int file = ::open(path.c_str(), O_RDWR | O_CREAT | O_CLOEXEC, 0666);
  if (file < 0) return refused();
  TaskLock lock(file);
  for (;;) {
    auto wanted = all_of_it();
    if (::fcntl(file, F_OFD_SETLK, &wanted) == 0) return std::optional(std::move(lock));
    if (errno != EAGAIN && errno != EACCES && errno != EINTR) return refused();
    if (stop && stop()) return std::optional<TaskLock>{};
    std::this_thread::sleep_for(std::chrono::milliseconds(200));
  }
}

bool TaskLock::is_held(const Job& job, const std::string& task) {
  const int file = ::open(file_in(job, kLocks, task).c_str(), O_RDONLY | O_CLOEXEC);
  if (file < 0) return false;
  auto wanted = all_of_it();
  const bool held = ::fcntl(file, F_OFD_GETLK, &wanted) == 0 && wanted.l_type != F_UNLCK;
  ::close(file);
  return held;
}

TaskLock::~TaskLock() {
  if (file_ >= 0) ::close(file_);
}

Result<void> write_progress(const Job& job, const std::string& task, const Progress& p) {
  return write_file(
      file_in(job, kProgress, task + ".json"),
      text_of({{"done", p.done}, {"done_before", p.done_before}, {"seconds", p.seconds}, {"complete", p.complete}}));
}

std::optional<Progress> read_progress(const Job& job, const std::string& task) {
  const auto json = read_json(file_in(job, kProgress, task + ".json"));
  if (!json) return std::nullopt;
  try {
    return Progress{.done = json->at("done"),
                    .done_before = json->at("done_before"),
                    .seconds = json->at("seconds"),
                    .complete = json->at("complete")};
  } catch (const nlohmann::json::exception&) {
    return std::nullopt;  // it tells how far a task is, no more
  }
}

Json to_json(const Error& e) {
  Json where = Json::object();
  if (!e.where.file.empty()) where["file"] = e.where.file;
  if (e.where.line > 0) where["line"] = e.where.line;
  if (e.where.frame >= 0) where["frame"] = e.where.frame;
  if (!e.where.field.empty()) where["field"] = e.where.field;
  return {{"code", name_of(e.code)}, {"message", e.message}, {"advice", e.advice}, {"where", std::move(where)}};
}

void keep_error(const Job& job, const std::string& task, const Error& error, Json about) {
  std::array<char, 256> host{};
  ::gethostname(host.data(), host.size() - 1);
  about["host"] = host.data();
  about["error"] = to_json(error);
  // Where the folder cannot be written, the task's own answer still tells.
  [[maybe_unused]] const auto written = write_file(file_in(job, kErrors, task + ".json"), text_of(about));
}

void forget_error(const Job& job, const std::string& task) {
  std::error_code ec;
  fs::remove(file_in(job, kErrors, task + ".json"), ec);
}

std::optional<Error> kept_error(const Job& job, const std::string& task) {
  const auto json = read_json(file_in(job, kErrors, task + ".json"));
  if (!json) return std::nullopt;
  try {
    const auto& e = json->at("error");
    const auto& where = e.at("where");
    Error error{.code = ErrorCode::io,
                .message = e.at("message"),
                .advice = e.at("advice"),
                .where = {.file = where.value("file", ""),
                          .line = where.value("line", -1),
                          .frame = where.value("frame", std::int64_t{-1}),
                          .field = where.value("field", "")}};
    for (const auto code : kCodes)
      if (e.at("code") == name_of(code)) error.code = code;
    return error;
  } catch (const nlohmann::json::exception& broken) {
    return Error{ErrorCode::io,
                 fmt::format("its error cannot be read: {}", broken.what()),
                 "Start the task again.",
                 {.file = file_in(job, kErrors, task + ".json")}};
  }
}

bool worth_another_try(const Error& error) {
  return error.code == ErrorCode::io || error.code == ErrorCode::timeout || error.code == ErrorCode::not_found ||
         error.code == ErrorCode::cancelled;
}

}  // namespace provenit::farm::detail
