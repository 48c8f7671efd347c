#include "provenit/loan/follow.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>
#include <set>

#include "follow_journal.h"
#include "provenit/base/text.h"
#include "provenit/loan/loan.h"

namespace provenit::loan {
namespace {

constexpr int kMostFailures = 20;

class Follower {
 public:
  Follower(store::Bench& bench, const store::LoanRecord& loan, const FollowFile& file, FollowJournal& journal,
           const FollowSource& source, const FollowHooks& hooks)
      : bench_(bench),
        loan_(loan),
        file_(file),
        journal_(journal),
        source_(source),
        hooks_(hooks),
        follow_(file.schedule) {
    for (const auto& h : file.schedule.holds) counts_.wanted += h.readings;
  }

  Result<FollowOutcome> run() {
    if (auto ready = find_runs(); !ready) return tl::unexpected(ready.error());
    for (const auto& entry : journal_.entries())
      if (auto taken = take(entry, false); !taken) return tl::unexpected(taken.error());
    if (auto read = read_on(); !read) return tl::unexpected(read.error());
    if (auto last = keep(follow_.finish(), true); !last) return tl::unexpected(last.error());
    return outcome();
  }

 private:
  struct Run {
    store::Id id = 0;  ///< 0: not begun
    bool open = true;
    std::int64_t readings = 0;
    std::set<double> taken;  ///< when
    int left = 0;            ///< readings that its steps still want
  };

  [[nodiscard]] std::string origin() const { return source_.origin + ", follow-along clip " + file_.id.substr(0, 12); }

  [[nodiscard]] bool in_journal(Timestamp taken) const {
    return std::ranges::any_of(journal_.entries(), [&](const JournalEntry& e) { return e.from == taken; });
  }

  Result<void> find_runs() {
    const auto stored = bench_.runs(loan_.id);
    if (!stored) return tl::unexpected(stored.error());
    for (const auto& wanted : file_.schedule.runs) {
      const auto* const procedure = procedure::find_procedure(wanted.procedure);
      if (procedure == nullptr || procedure->version() != wanted.version)
        return fail(ErrorCode::unsupported,
                    fmt::format("the clip was made for {} version {}", wanted.procedure, wanted.version),
                    "Write the clip anew with this version.");
      auto& run = runs_[wanted.procedure];
      for (const auto& h : file_.schedule.holds) run.left += h.procedure == wanted.procedure ? h.readings : 0;
      for (const auto& r : *stored) {
        if (r.procedure != wanted.procedure || r.origin != origin() || r.state == store::RunState::aborted) continue;
        const auto readings = bench_.readings(r.id);
        if (!readings) return tl::unexpected(readings.error());
        // One that ended with another journal is an earlier measurement.
        if (r.state != store::RunState::open && (readings->empty() || !in_journal(readings->front().taken))) continue;
        run.id = r.id;
        run.open = r.state == store::RunState::open;
        run.readings = static_cast<std::int64_t>(readings->size());
        for (const auto& reading : *readings) run.taken.insert(reading.taken.unix_s);
      }
    }
    return {};
  }

  Result<void> read_on() {
    int failures = 0;
    while (!follow_.complete() && !(hooks_.stop_requested && hooks_.stop_requested()) &&
           !(source_.ends && source_.clock.now() >= *source_.ends)) {
      JournalEntry entry{.from = source_.clock.now(), .to = {}, .measurement = {}};
      auto measured = source_.instrument.measure(static_cast<std::int64_t>(journal_.entries().size()));
      (void)source_.instrument.take_events();  // what came of them shows in the stream: a reading that is not there
      if (!measured) {
        if (++failures >= kMostFailures || measured.error().code == ErrorCode::cancelled)
          return tl::unexpected(measured.error());
        source_.clock.wait({0.5});
        continue;
      }
      failures = 0;
      entry.to = source_.clock.now();
      entry.measurement = std::move(*measured);
      if (!std::isfinite(entry.measurement.xyz.X + entry.measurement.xyz.Y + entry.measurement.xyz.Z)) continue;
      if (auto written = journal_.add(entry); !written) return written;
      if (auto taken = take(entry, true); !taken) return taken;
    }
    return {};
  }

  Result<void> take(const JournalEntry& entry, bool live) {
    ++counts_.read;
    if (auto kept = keep(follow_.take(entry.timed()), live); !kept) return kept;
    counts_.marker = follow_.last_marker();
    counts_.luminance_cdm2 = entry.measurement.xyz.Y;
    if (live && hooks_.progress) hooks_.progress(counts_);
    return {};
  }

  Result<void> keep(const procedure::FollowNews& news, bool live) {
    for (const auto& placed : news.placed) {
      if (!placed.hold) continue;
      const auto& entry = journal_.entries().at(static_cast<std::size_t>(placed.reading));
      if (auto stored = store_reading(entry, *placed.hold); !stored) return stored;
    }
    if (!live || current_ == 0) return {};
    for (const auto& e : news.events) {
      if (e.kind == "marker") continue;
      if (auto told = bench_.add_event({.run = current_, .at = e.at, .kind = e.kind, .text = e.text}); !told)
        return told;
    }
    return {};
  }

  Result<void> store_reading(const JournalEntry& entry, std::size_t hold_index) {
    const auto& hold = file_.schedule.holds[hold_index];
    auto& run = runs_[hold.procedure];
    ++counts_.kept;
    --run.left;
    if (run.id == 0)
      if (auto begun = begin(hold.procedure, run, entry.from); !begun) return begun;
    current_ = run.id;
    if (!run.taken.contains(entry.from.unix_s)) {
      store::ReadingRecord reading{.run = run.id,
                                   .sequence = run.readings,
                                   .step = hold.step,
                                   .repeat = repeats_[{hold.procedure, hold.step}],
                                   .taken = entry.from,
                                   .signal = hold.signal,
                                   .measurement = entry.measurement};
      reading.context = {{"settle_s", hold.settle.s},
                         {"attempt", 1},
                         {"clip", file_.id},
                         {"hold", hold_index},
                         {"placement", instrument::to_json(instrument::Placement{})}};
      if (auto added = bench_.add_reading(reading); !added) return tl::unexpected(added.error());
      ++run.readings;
      run.taken.insert(entry.from.unix_s);
    }
    ++repeats_[{hold.procedure, hold.step}];
    if (run.left == 0 && run.open) {
      run.open = false;
      return bench_.end_run(run.id, store::RunState::finished, entry.to);
    }
    return {};
  }

  Result<void> begin(const std::string& procedure, Run& run, Timestamp at) {
    const auto& wanted = *std::ranges::find(file_.schedule.runs, procedure, &procedure::FollowRun::procedure);
    auto begun = bench_.begin_run({.loan = loan_.id,
                                   .procedure = procedure,
                                   .procedure_version = wanted.version,
                                   .parameters = wanted.parameters,
                                   .started = at,
                                   .origin = origin()});
    if (!begun) return tl::unexpected(begun.error());
    run.id = *begun;
    return {};
  }

  FollowOutcome outcome() {
    FollowOutcome out{.counts = counts_, .complete = follow_.complete(), .runs = {}, .missing = {}};
    for (const auto& [procedure, run] : runs_)
      if (run.id != 0) out.runs.push_back(run.id);
    const auto& holds = file_.schedule.holds;
    for (std::size_t i = 0; i < holds.size(); ++i)
      if (const int lacks = holds[i].readings - follow_.readings_of(i); lacks > 0)
        out.missing.push_back(
            fmt::format("{}: {} ({} of {})", holds[i].procedure, holds[i].step, lacks, holds[i].readings));
    return out;
  }

  store::Bench& bench_;
  const store::LoanRecord& loan_;
  const FollowFile& file_;
  FollowJournal& journal_;
  const FollowSource& source_;
  const FollowHooks& hooks_;
  procedure::FollowAlong follow_;
  FollowHooks::Progress counts_;
  std::map<std::string, Run> runs_;
  std::map<std::pair<std::string, std::string>, int> repeats_;
  store::Id current_ = 0;  ///< the run that got the last reading
};

}  // namespace

Result<procedure::FollowPlan> follow_plan(const store::Bench& bench, const store::LoanRecord& loan,
                                          const std::vector<procedure::FollowRequest>& requests,
                                          const procedure::FollowOptions& options) {
  const auto context = context_of(bench, loan);
  if (!context) return tl::unexpected(context.error());
  return procedure::make_follow_schedule(requests, *context, options);
}

Result<void> write_follow_clip(const procedure::FollowSchedule& schedule, const std::string& path,
                               signal::RasterSize size, const signal::ClipFormat& format,
                               const signal::ClipProgress& progress) {
  std::vector<signal::Raster> rasters;
  std::vector<int> first;  // by hold: the first one with its signal; markers and references come again and again
  for (const auto& hold : schedule.holds) {
    const auto same = std::ranges::find(schedule.holds, hold.signal, &procedure::FollowHold::signal);
    first.push_back(static_cast<int>(same - schedule.holds.begin()));
    auto raster = signal::Raster::make(hold.signal, size);
    if (!raster) return tl::unexpected(raster.error());
    rasters.push_back(std::move(*raster));
  }
  const signal::FrameSource source{
      .encoding = schedule.encoding,
      .size = size,
      .frames = static_cast<int>(rasters.size()),
      .rate = {schedule.rate_numerator, schedule.rate_denominator},
      .row = [&](int frame, int y) { return rasters[static_cast<std::size_t>(frame)].row(y); },
      .hold = [&](int frame) { return static_cast<int>(schedule.holds[static_cast<std::size_t>(frame)].frames); },
      .same_as = [&](int frame) { return first[static_cast<std::size_t>(frame)]; }};
  if (auto written = signal::write_clip(source, path, format, progress); !written) return written;
  const auto bytes = read_file(path);
  if (!bytes) return tl::unexpected(bytes.error());
  auto json = to_json(schedule);
  json["clip"] = {{"file", path.substr(path.find_last_of('/') + 1)}, {"sha256", sha256_hex(*bytes)}};
  return write_file(path + ".json", json.dump(1) + "\n");
}

Result<FollowFile> read_follow_file(const std::string& path) {
  const auto bytes = read_file(path);
  if (!bytes) return tl::unexpected(bytes.error());
  auto schedule = procedure::follow_schedule_from_json(nlohmann::json::parse(*bytes, nullptr, false));
  if (!schedule) {
    schedule.error().where.file = path;
    return tl::unexpected(schedule.error());
  }
  return FollowFile{std::move(*schedule), sha256_hex(*bytes)};
}

Result<FollowOutcome> follow(store::Bench& bench, const store::LoanRecord& loan, const FollowFile& file,
                             const std::string& journal, const FollowSource& source, const FollowHooks& hooks) {
  auto opened = FollowJournal::open(journal, file.id, loan.id);
  if (!opened) return tl::unexpected(opened.error());
  return Follower(bench, loan, file, *opened, source, hooks).run();
}

}  // namespace provenit::loan
