// A live source measured as it comes.
#include <fmt/format.h>

#include "meter_pipeline_internal.h"
#include "provenit/programme/frame_meter.h"
#include "provenit/programme/survey.h"

namespace provenit::programme {
namespace {

// Frames of a session, after those of a killed one that had the same output.
struct Session {
  SurveyWriter writer;
  std::vector<FrameLight> light{};
  std::optional<FrameRecord> before{};
  std::int64_t index_offset = 0;
  double time_offset_s = 0;
  bool damaged = false;

  Result<void> resume(double frame_s);
  Result<void> keep(FrameRecord& record);
};

Result<void> Session::resume(double frame_s) {
  auto done = writer.for_each_done([&](std::span<const FrameRecord> frames) -> Result<void> {
    for (const FrameRecord& f : frames) {
      light.push_back(light_of(f.figures));
      damaged = damaged || f.figures.damaged;
    }
    before = frames.back();
    return {};
  });
  if (done && before) {
    index_offset = before->figures.index + 1;
    time_offset_s = before->figures.time_s + frame_s;
  }
  return done;
}

Result<void> Session::keep(FrameRecord& record) {
  record.figures.index += index_offset;
  record.figures.time_s += time_offset_s;
  if (before) record.figures.temporal_difference = temporal_difference(*before, record);
  light.push_back(light_of(record.figures));
  damaged = damaged || record.figures.damaged;
  before = record;
  return writer.append(record);
}

void close_header(SurveyHeader& h, const Session& session, const LiveReader& reader) {
  const LiveState state = reader.state();
  h.measured = static_cast<std::int64_t>(session.light.size());
  h.last = h.title_frames = session.light.empty() ? 0 : session.light.back().index + 1;
  h.dropped = state.dropped;
  h.troubles = reader.troubles();
  if (state.dropped > 0) h.troubles.push_back(fmt::format("{} frames were received but not measured", state.dropped));
  if (state.lost > 0)
    h.troubles.push_back(fmt::format("{} frames were lost on the way or could not be decoded", state.lost));
  if (state.interruptions > 0) h.troubles.push_back(fmt::format("the sender went away {} times", state.interruptions));
  if (session.index_offset > 0)
    h.troubles.push_back(fmt::format("the session was interrupted after frame {}", session.index_offset - 1));
  h.complete = h.measured == h.last && !session.damaged && h.troubles.empty();
}

}  // namespace

Result<SurveyOutcome> survey_live(const std::string& address, const std::string& out, const LiveOptions& live,
                                  const SurveyOptions& options) {
  auto reader = open_live(address, live);
  if (!reader) return tl::unexpected(reader.error());
  const auto meter = FrameMeter::make((*reader)->info().format, options.simd_level);
  if (!meter) return tl::unexpected(meter.error());
  SurveyOutcome outcome;
  outcome.header.title = address;
  outcome.header.source = (*reader)->info();
  outcome.header.simd_level = meter->simd_level();
  outcome.header.software = options.software;
  outcome.header.live = true;
  auto writer = SurveyWriter::begin(out, outcome.header);
  if (!writer) return tl::unexpected(writer.error());
  Session session{.writer = std::move(*writer)};
  const SourceInfo& source = outcome.header.source;
  const double frame_s = source.frame_rate_numerator > 0 ? static_cast<double>(source.frame_rate_denominator) /
                                                               static_cast<double>(source.frame_rate_numerator)
                                                         : 0.04;  // 25 frames a second, where the source says no rate
  if (const auto resumed = session.resume(frame_s); !resumed) return tl::unexpected(resumed.error());

  const detail::Flow flow{
      .next = [&] { return (*reader)->next(); },
      .keep = [&](FrameRecord& record) -> Result<bool> {
        if (const auto kept = session.keep(record); !kept) return tl::unexpected(kept.error());
        if (!options.progress) return true;
        return options.progress(
            {.done = session.writer.frames_done(), .total = 0, .latest = &record.figures, .live = (*reader)->state()});
      }};
  const auto ran = detail::run_pipeline(*meter, options.reading.threads, flow);
  if (const auto flushed = session.writer.flush(); !flushed) return tl::unexpected(flushed.error());
  if (!ran && ran.error().code != ErrorCode::cancelled && ran.error().code != ErrorCode::timeout)
    return tl::unexpected(ran.error());
  outcome.header.source = (*reader)->info();
  close_header(outcome.header, session, **reader);
  outcome.light = session.light;
  if (const auto finished = session.writer.finish(outcome.header); !finished) return tl::unexpected(finished.error());
  return outcome;
}

}  // namespace provenit::programme
