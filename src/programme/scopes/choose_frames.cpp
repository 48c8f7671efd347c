// Single frames out of a source.
#include <fmt/format.h>

#include <algorithm>

#include "provenit/programme/look.h"

namespace provenit::programme {
namespace {

Where at_frame(const std::string& path, std::int64_t frame) {
  return {.file = path, .frame = frame};
}

/// When the last frame ends: as long after it as the one before it lasts, or one frame of the source's rate.
double end_of(const FrameIndex& index, const SourceInfo& info) {
  const auto n = index.time_s.size();
  if (n >= 2) return 2 * index.time_s[n - 1] - index.time_s[n - 2];
  if (info.frame_rate_numerator > 0)
    return static_cast<double>(info.frame_rate_denominator) / static_cast<double>(info.frame_rate_numerator);
  return 0;
}

Result<std::int64_t> number_of(const std::string& path, const FrameChoice& choice, const FrameIndex& index,
                               const SourceInfo& info) {
  const auto frames = static_cast<std::int64_t>(index.time_s.size());
  if (choice.frame) {
    if (*choice.frame >= 0 && *choice.frame < frames) return *choice.frame;
    return fail(ErrorCode::out_of_range, fmt::format("there is no frame {}", *choice.frame),
                fmt::format("Give 0 to {}.", frames - 1), {.file = path, .field = "--frame"});
  }
  constexpr double kRounding_s = 5e-4;  // times are typed with three decimals
  const double end = end_of(index, info);
  if (!(choice.time_s >= 0) || (choice.time_s > 0 && choice.time_s >= std::max(end, index.time_s.back() + kRounding_s)))
    return fail(ErrorCode::out_of_range, fmt::format("nothing is shown at {} s", choice.time_s),
                fmt::format("Give a time from 0 to {}, where the last frame is shown.", time_text(index.time_s.back())),
                {.file = path, .field = "--at"});
  const auto after = std::ranges::upper_bound(index.time_s, choice.time_s + kRounding_s);
  return static_cast<std::int64_t>(after - index.time_s.begin()) - 1;
}

Result<Picture> decoded(const std::string& path, Reader& reader, std::int64_t frame) {
  while (true) {
    auto picture = reader.next();
    if (!picture) return tl::unexpected(picture.error());
    if (!*picture || (*picture)->index > frame)
      return fail(ErrorCode::invalid_input, "the frame cannot be decoded",
                  "Look at a frame near it, or survey the file to see which frames are damaged.",
                  at_frame(path, frame));
    if ((*picture)->index == frame) return std::move(**picture);
  }
}

void keep(ChosenFrames& chosen, const Reader& reader) {
  chosen.info = reader.info();
  for (const auto& t : reader.troubles())
    if (std::ranges::find(chosen.troubles, t) == chosen.troubles.end()) chosen.troubles.push_back(t);
}

}  // namespace

Result<FrameIndex> index_to_choose_from(const std::string& path, const ReaderOptions& options) {
  auto index = index_frames(path, options);
  if (!index && index.error().code != ErrorCode::unsupported) return index;
  if (!index || index->time_s.empty()) index = FrameIndex{.time_s = {0}, .key_frames = {0}};
  return index;
}

Result<ChosenFrames> choose_frames(const std::string& path, std::span<const FrameChoice> choices,
                                   const ReaderOptions& options) {
  // What cannot be read is told before all its packets are.
  if (auto reader = open_reader(path, options); !reader) return tl::unexpected(reader.error());
  const auto index = index_to_choose_from(path, options);
  if (!index) return tl::unexpected(index.error());
  return choose_frames(path, *index, choices, options);
}

Result<ChosenFrames> choose_frames(const std::string& path, const FrameIndex& index,
                                   std::span<const FrameChoice> choices, const ReaderOptions& options) {
  auto reader = open_reader(path, options);
  if (!reader) return tl::unexpected(reader.error());
  ChosenFrames chosen;
  keep(chosen, **reader);
  for (const auto& choice : choices) {
    const auto frame = number_of(path, choice, index, chosen.info);
    if (!frame) return tl::unexpected(frame.error());
    const auto key = std::prev(std::ranges::upper_bound(index.key_frames, *frame));
    // From the start no part is needed; then also sources that cannot be cut are read.
    auto part = *key == 0 ? open_reader(path, options) : open_part(path, index, *key, *frame + 1, options);
    if (!part) return tl::unexpected(part.error());
    auto picture = decoded(path, **part, *frame);
    if (!picture) return tl::unexpected(picture.error());
    keep(chosen, **part);
    chosen.pictures.push_back(std::move(*picture));
  }
  return chosen;
}

double sdr_source_peak(const SourceInfo& info) {
  constexpr double kUsual_cdm2 = 1000, kLargest_cdm2 = 10000;
  if (info.format.transfer != Transfer::pq) return std::min(info.format.peak_cdm2, kLargest_cdm2);
  const auto& mastering = info.metadata.mastering;
  const bool possible =
      mastering && mastering->maximum_cdm2 >= kSdrPeak_cdm2 && mastering->maximum_cdm2 <= kLargest_cdm2;
  return possible ? mastering->maximum_cdm2 : kUsual_cdm2;
}

}  // namespace provenit::programme
