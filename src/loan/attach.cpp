#include <fmt/format.h>

#include <algorithm>
#include <array>

#include "provenit/base/text.h"
#include "provenit/instrument/trace.h"
#include "provenit/loan/recordings.h"
#include "provenit/signal/test_picture.h"
#include "recordings_internal.h"

namespace provenit::loan {
namespace {

Result<const procedure::RecordStep*> step_of(const AttachRequest& request) {
  const auto* recording = procedure::find_recording(request.recording);
  std::string names;
  if (recording == nullptr) {
    for (const auto& r : procedure::all_recordings()) names += (names.empty() ? "" : ", ") + r.id;
    return fail(ErrorCode::not_found, "there is no recording '" + request.recording + "'",
                "The recordings are: " + names + ".");
  }
  if (request.step.empty() && recording->steps.size() == 1) return &recording->steps.front();
  if (const auto* step = recording->step(request.step)) return step;
  for (const auto& s : recording->steps) names += (names.empty() ? "" : ", ") + s.key;
  return fail(
      ErrorCode::not_found,
      request.step.empty() ? request.recording + " has several steps" : "there is no step '" + request.step + "'",
      "The steps of " + request.recording + " are: " + names + ".");
}

/// The step's picture with every parameter, on the raster that was shown, in the display's encoding; nullopt if the
/// step is not of the display.
Result<std::optional<signal::TestPicture>> shown_picture(const store::Bench& bench, const store::LoanRecord& loan,
                                                         const procedure::RecordStep& step,
                                                         const AttachRequest& request) {
  if (step.picture.empty()) return std::nullopt;
  const auto display = bench.display(loan.display);
  if (!display) return tl::unexpected(display.error());
  signal::PictureRequest wanted{.key = step.picture, .parameters = step.parameters, .encoding = display->encoding};
  wanted.parameters.update(request.parameters);
  const auto size = request.conditions.value("size", std::vector<int>{3840, 2160});
  if (size.size() != 2)
    return fail(ErrorCode::invalid_input, "the size of the picture is width and height", {}, {.field = "size"});
  wanted.size = {size[0], size[1]};
  auto made = signal::TestPicture::make(wanted);
  if (!made) return tl::unexpected(made.error());
  return std::optional(std::move(*made));
}

constexpr std::array<std::string_view, 12> kConditions{"size",    "rate_hz", "rate_relative", "bandwidth_hz",
                                                       "dark",    "channel", "marker",        "frame_s",
                                                       "start_s", "origin",  "coding",        "flat_relative"};

/// What was read, in words; an error if evaluation could not use it.
Result<std::string> look_at_trace(const std::string& bytes, const AttachRequest& request,
                                  const store::AttachmentRecord& record) {
  const auto trace = trace_of(bytes, request.path, record.conditions);
  if (!trace) return tl::unexpected(trace.error());
  if (auto usable = check_trace(*trace, record); !usable) return tl::unexpected(usable.error());
  return fmt::format("{} channel{}, {} samples at {:.6g} Hz", trace->channels.size(),
                     trace->channels.size() == 1 ? "" : "s", trace->samples(), trace->rate_hz);
}
Result<std::string> look_at_clip(const std::string& bytes, const store::AttachmentRecord& record) {
  const auto clip = walk_clip_of(bytes, record.name);
  if (!clip) return tl::unexpected(clip.error());
  auto counted = count_in_clip(*clip, record.conditions);
  if (!counted) {
    if (counted.error().where.file.empty()) counted.error().where.file = record.name;
    return tl::unexpected(counted.error());
  }
  std::string text =
      fmt::format("a clip of {} frames, {} of them in the walk", clip->time_s.size(), counted->camera_frames);
  for (const auto& flag : counted->flags) text += "; " + flag;
  return text;
}
Result<std::string> look_at_capture(const std::string& bytes, const AttachRequest& request,
                                    const signal::TestPicture& picture) {
  const auto frame = capture_of(bytes, request.path);
  if (!frame) return tl::unexpected(frame.error());
  if (auto usable = check_capture(*frame, picture, request.recording); !usable) return tl::unexpected(usable.error());
  return fmt::format("{} x {} pixels", frame->width, frame->height);
}

}  // namespace

Result<instrument::Trace> trace_of(const std::string& bytes, const std::string& name,
                                   const nlohmann::json& conditions) {
  instrument::TraceOptions options{.file = name};
  if (conditions.contains("rate_hz")) options.rate_hz = conditions["rate_hz"].get<double>();
  return instrument::parse_trace(bytes, options);
}

Result<Attached> attach(store::Bench& bench, const store::LoanRecord& loan, const AttachRequest& request,
                        Timestamp now) {
  const auto bytes = read_file(request.path);
  if (!bytes) return tl::unexpected(bytes.error());
  return attach(bench, loan, request, *bytes, now);
}

Result<Attached> attach(store::Bench& bench, const store::LoanRecord& loan, const AttachRequest& request,
                        const std::string& bytes, Timestamp now) {
  const auto step = step_of(request);
  if (!step) return tl::unexpected(step.error());
  for (const auto& [key, value] : request.conditions.items())
    if (std::ranges::find(kConditions, key) == kConditions.end())
      return fail(ErrorCode::invalid_input, "'" + key + "' is nothing that is said of a recording", {}, {.field = key});
  const auto picture = shown_picture(bench, loan, **step, request);
  if (!picture) return tl::unexpected(picture.error());
  Attached out;
  out.record = {.loan = loan.id,
                .run = request.run,
                .kind = (*step)->kind,
                .recording = request.recording,
                .name = request.path.substr(request.path.find_last_of('/') + 1),
                .conditions = request.conditions,
                .added = now};
  if ((*step)->clip_too && is_clip(bytes, out.record.name)) out.record.kind = store::AttachmentKind::clip;
  out.record.conditions["step"] = (*step)->key;
  if (*picture) {
    const auto& shown = (*picture)->request();
    out.record.conditions["picture"] = {
        {"key", shown.key}, {"parameters", shown.parameters}, {"size", {shown.size.width, shown.size.height}}};
  }
  auto read_as = out.record.kind == store::AttachmentKind::trace  ? look_at_trace(bytes, request, out.record)
                 : out.record.kind == store::AttachmentKind::clip ? look_at_clip(bytes, out.record)
                 : request.recording == "field_picture"
                     ? look_at_field_picture(bytes, out.record.name, out.record.conditions)
                     : look_at_capture(bytes, request, **picture);
  if (!read_as) return tl::unexpected(read_as.error());
  out.read_as = std::move(*read_as);
  const auto id = bench.add_attachment(out.record, bytes);
  if (!id) return tl::unexpected(id.error());
  out.id = *id;
  return out;
}

}  // namespace provenit::loan
