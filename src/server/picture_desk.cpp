#include "picture_desk.h"

#include <fmt/format.h>

#include <algorithm>
#include <filesystem>
#include <nlohmann/json.hpp>

#include "provenit/programme/frame_meter.h"
#include "provenit/programme/survey_file.h"

namespace provenit::server {
namespace {

constexpr std::size_t kIndices = 8, kPictures = 3;  // a picture of 3840 x 2160 takes some 250 MB

std::string key_of(const std::string& path) {
  std::error_code ec;
  const auto bytes = std::filesystem::file_size(path, ec);
  const auto written = std::filesystem::last_write_time(path, ec).time_since_epoch().count();
  return fmt::format("{}\n{}\n{}", path, bytes, written);
}

std::string key_of(const programme::FrameChoice& choice, const programme::ReaderOptions& options) {
  const auto& i = options.interpretation;
  const auto named = [](const auto& value) { return value ? static_cast<int>(*value) : -1; };
  return fmt::format("\n{} {}\n{} {} {} {} {} {}", choice.frame.value_or(-1), choice.frame ? 0 : choice.time_s,
                     named(i.transfer), named(i.gamut), named(i.matrix), named(i.range), named(i.siting),
                     i.peak_cdm2.value_or(0));
}

}  // namespace

Result<std::shared_ptr<const programme::FrameIndex>> PictureDesk::index_of(const std::string& path,
                                                                           const std::string& key,
                                                                           const programme::ReaderOptions& options) {
  if (const auto known = std::ranges::find(indices_, key, &Indexed::key); known != indices_.end()) return known->index;
  auto index = programme::index_to_choose_from(path, options);
  if (!index) return tl::unexpected(index.error());
  indices_.push_front({key, std::make_shared<const programme::FrameIndex>(std::move(*index))});
  if (indices_.size() > kIndices) indices_.pop_back();
  return indices_.front().index;
}

Result<std::shared_ptr<const LookedAt>> PictureDesk::look(const std::string& path, const programme::FrameChoice& choice,
                                                          const programme::ReaderOptions& options) {
  const std::lock_guard lock(mutex_);
  const auto file = key_of(path);
  const auto key = file + key_of(choice, options);
  const auto known = std::ranges::find(looked_, key, [](const auto& entry) { return entry.first; });
  if (known != looked_.end()) {
    looked_.splice(looked_.begin(), looked_, known);
    return looked_.front().second;
  }
  // What cannot be read is told before all its packets are.
  if (auto reader = programme::open_reader(path, options); !reader) return tl::unexpected(reader.error());
  const auto index = index_of(path, file, options);
  if (!index) return tl::unexpected(index.error());
  auto chosen = programme::choose_frames(path, **index, std::span(&choice, 1), options);
  if (!chosen) return tl::unexpected(chosen.error());
  auto out = std::make_shared<LookedAt>();
  out->picture = std::move(chosen->pictures.front());
  out->info = std::move(chosen->info);
  out->troubles = std::move(chosen->troubles);
  out->fingerprint = (*index)->fingerprint;
  out->frames = static_cast<std::int64_t>((*index)->time_s.size());
  out->source_peak_cdm2 = programme::sdr_source_peak(out->info);
  const auto meter = programme::FrameMeter::make(out->picture.format);
  if (!meter) return tl::unexpected(meter.error());
  const auto record = meter->measure(out->picture);
  if (!record) return tl::unexpected(record.error());
  out->record = *record;
  auto light = programme::light_image(out->picture);
  if (!light) return tl::unexpected(light.error());
  out->light = std::move(*light);
  looked_.emplace_front(key, out);
  if (looked_.size() > kPictures) looked_.pop_back();
  return looked_.front().second;
}

}  // namespace provenit::server
