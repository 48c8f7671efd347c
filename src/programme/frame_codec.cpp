// Frames as bytes: one list of the fields serves both ways.
#include <bit>
#include <cmath>
#include <cstring>

#include "provenit/programme/survey_file.h"

namespace provenit::programme {
namespace {

static_assert(std::endian::native == std::endian::little,
              "the file is little-endian; this build copies bytes as they are");

// Calls `field` for every field in the order of the file. F is FrameRecord or const FrameRecord.
template <class F, class Visit>
void for_each_field(F& r, Visit field) {
  auto& f = r.figures;
  field(f.index), field(f.time_s);
  field(f.max_rgb_max), field(f.max_rgb_mean), field(f.max_rgb_mean_active), field(f.max_rgb_robust);
  field(f.luminance_max), field(f.luminance_min), field(f.luminance_mean), field(f.luminance_mean_active);
  field(f.luminance_percentile), field(f.share_above), field(f.share_below);
  field(f.share_outside_bt709), field(f.share_outside_p3), field(f.mean_u_prime), field(f.mean_v_prime);
  field(f.brightest_x), field(f.brightest_y);
  field(f.active.left), field(f.active.top), field(f.active.width), field(f.active.height);
  field(f.dark_beside_bright), field(f.near_black_detail), field(f.temporal_difference);
  field(f.damaged);
  field(r.light), field(r.block_columns), field(r.block_rows), field(r.blocks);
}

bool is_sound(const FrameRecord& r) {
  bool sound = r.block_columns >= 0 && r.block_columns <= kBlocks && r.block_rows >= 0 && r.block_rows <= kBlocks;
  auto check = [&](const auto& field) {
    if constexpr (std::is_same_v<std::decay_t<decltype(field)>, double>) sound = sound && std::isfinite(field);
  };
  for_each_field(r, check);
  return sound;
}

}  // namespace

std::string encode_frames(std::span<const FrameRecord> frames) {
  std::string bytes(frames.size() * kFrameRecordBytes, '\0');
  char* to = bytes.data();
  auto put = [&](const auto& field) {
    static_assert(sizeof(bool) == 1);
    std::memcpy(to, &field, sizeof field);
    to += sizeof field;
  };
  for (const FrameRecord& r : frames) for_each_field(r, put);
  return bytes;
}

Result<std::vector<FrameRecord>> decode_frames(std::string_view bytes) {
  if (bytes.size() % kFrameRecordBytes != 0)
    return fail(ErrorCode::invalid_input, "the bytes of the frames are no whole number of frames",
                "Restore the file from a copy, or survey the title again.");
  std::vector<FrameRecord> frames(bytes.size() / kFrameRecordBytes);
  const char* from = bytes.data();
  auto get = [&](auto& field) {
    if constexpr (std::is_same_v<std::decay_t<decltype(field)>, bool>)
      field = *from != 0;
    else
      std::memcpy(&field, from, sizeof field);
    from += sizeof field;
  };
  for (std::size_t i = 0; i < frames.size(); ++i) {
    for_each_field(frames[i], get);
    if (!is_sound(frames[i]))
      return fail(ErrorCode::invalid_input, "a figure is outside its range",
                  "Restore the file from a copy, or survey the title again.", {.frame = static_cast<std::int64_t>(i)});
  }
  return frames;
}

}  // namespace provenit::programme
