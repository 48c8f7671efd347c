#include "watcher.h"

#include <filesystem>
#include <optional>
#include <utility>

#include "records.h"

namespace provenit::server {
namespace {

constexpr std::chrono::milliseconds kLookEvery{300};  // for what other programs write
constexpr int kWatchedAtOnce = 500;                   // readings fetched in one go

report::Json warning_json(const store::EventRecord& event, const store::RunRecord& run) {
  return {{"loan", run.loan},   {"run", run.id},     {"procedure", run.procedure}, {"at", report::time_json(event.at)},
          {"kind", event.kind}, {"text", event.text}};
}

}  // namespace

Watcher::Watcher(std::string path, EventHub& hub)
    : path_(std::move(path)), hub_(hub), was_there_(std::filesystem::exists(path_)), thread_([this] { watch(); }) {}

Watcher::~Watcher() {
  {
    const std::lock_guard lock(mutex_);
    stop_ = true;
  }
  wake_.notify_all();
  thread_.join();
}

void Watcher::look() {
  {
    const std::lock_guard lock(mutex_);
    look_ = true;
  }
  wake_.notify_all();
}

void Watcher::expect_own() {
  const std::lock_guard lock(mutex_);
  own_ = true;
}

void Watcher::expect_own_run(bool running) {
  const std::lock_guard lock(mutex_);
  own_run_ = running;
  own_ = true;
}

void Watcher::watch() {
  std::optional<store::Bench> bench;
  for (;;) {
    {
      std::unique_lock lock(mutex_);
      wake_.wait_for(lock, kLookEvery, [this] { return stop_ || look_; });
      if (stop_) return;
      look_ = false;
    }
    std::error_code ec;
    if (!bench && std::filesystem::exists(path_, ec)) {
      auto opened = store::Bench::open(path_);
      if (!opened) continue;  // every request will say why
      bench.emplace(std::move(*opened));
      if (was_there_) told_ = bench->newest().value_or(store::Bench::Newest{});
      version_ = was_there_ ? bench->data_version().value_or(0) : -1;
    }
    if (bench) tell(*bench);
  }
}

void Watcher::tell(store::Bench& bench) {
  const auto version = bench.data_version();
  if (!version || *version == version_) return;
  version_ = *version;
  bool told = false;
  for (;;) {
    const auto readings = bench.readings(store::ReadingQuery{.after = told_.reading, .limit = kWatchedAtOnce});
    if (!readings || readings->empty()) break;
    told_.reading = readings->back().id;
    if (const auto json = readings_json(bench, *readings))
      for (const auto& reading : *json) hub_.publish("reading", reading.dump());
    told = true;
    if (readings->size() < kWatchedAtOnce) break;
  }
  if (const auto events = bench.events_after(told_.event))
    for (const auto& event : *events) {
      told_.event = event.id;
      told = true;
      if (const auto run = bench.run(event.run)) hub_.publish("warning", warning_json(event, *run).dump());
    }
  bool own = false;
  {
    const std::lock_guard lock(mutex_);
    own = std::exchange(own_, false) || own_run_;
  }
  // Readings and events speak for themselves; anything else is something to fetch again.
  if (!told && !own)
    hub_.publish("changed", report::Json{{"what", "bench"}, {"loan", nullptr}, {"by", "elsewhere"}}.dump());
}

}  // namespace provenit::server
