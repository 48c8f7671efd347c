// Test pictures as files, in a folder beside the bench: a still at once, a clip in the background.
#include <fmt/format.h>

#include <array>
#include <filesystem>

#include "parts.h"
#include "picture_query.h"

namespace provenit::server {
namespace {

/// Larger than the largest display, longer than a day at 60 frames per second: what lies beyond is a slip.
constexpr std::int64_t kMostPixels = 32'768, kMostHold = 5'184'000;

/// A body that asks for a file of a test picture.
struct FileWish {
  signal::TestPicture picture;
  std::filesystem::path path;
  int frame = 0;
};

/// Where a file of that name would be. Errors: invalid_input for a name with folders; conflict if it is there; io.
Result<std::filesystem::path> place_of(const Call& call, const std::string& file) {
  const std::filesystem::path given(file);
  if (given.filename() != given || file.starts_with('.') || file.find('\\') != std::string::npos)
    return fail(ErrorCode::invalid_input, "'" + file + "' is no name for a file", "Give a name without folders.",
                {.field = "file"});
  const auto stem = std::filesystem::path(call.parts.pool.name()).stem().string();
  const auto folder = std::filesystem::path(call.parts.pool.folder()) / (stem + "-signals");
  std::error_code ec;
  std::filesystem::create_directories(folder, ec);
  if (ec) return fail(ErrorCode::io, "the folder of signals cannot be made: " + ec.message(), "See its permissions.");
  const auto path = folder / given;
  if (std::filesystem::exists(path, ec))
    return fail(ErrorCode::conflict, "there is a file of that name already",
                "Give another name; nothing is written over.", {.file = path.string(), .field = "file"});
  return path;
}

Result<FileWish> wish_of(const Call& call, Fields& in) {
  const auto named = as_query(in);
  const auto file = in.needed_text("file", 120);
  const auto width = in.integer("width", 16, kMostPixels).value_or(3840),
             height = in.integer("height", 16, kMostPixels).value_or(2160);
  const int frame = static_cast<int>(in.integer("frame", 0, 1'000'000).value_or(0));
  if (in.error()) return tl::unexpected(*in.error());
  const auto request = picture_request(named, {.width = static_cast<int>(width), .height = static_cast<int>(height)});
  if (!request) return tl::unexpected(request.error());
  auto picture = signal::TestPicture::make(*request);
  if (!picture) return tl::unexpected(picture.error());
  if (frame >= picture->frames())
    return fail(ErrorCode::out_of_range, fmt::format("there is no frame {}", frame),
                fmt::format("Give 0 to {}.", picture->frames() - 1), {.field = "frame"});
  auto path = place_of(call, file);
  if (!path) return tl::unexpected(path.error());
  return FileWish{.picture = std::move(*picture), .path = std::move(*path), .frame = frame};
}

Result<Answer> write(const Call& call) {
  const auto body = call.body();
  if (!body) return tl::unexpected(body.error());
  Fields in(*body, {"key", "values", "transfer", "container", "range", "bits", "peak_cdm2", "width", "height", "frame",
                    "file"});
  const auto wish = wish_of(call, in);
  if (!wish) return tl::unexpected(wish.error());
  if (signal::is_clip(wish->path))
    return fail(ErrorCode::unsupported, "a clip is written in the background", "Ask for it at /clip.",
                {.field = "file"});
  const auto written = signal::write_picture_file(wish->picture, wish->frame, wish->path);
  if (!written) return tl::unexpected(written.error());
  std::error_code ec;
  return json_answer({{"folder", wish->path.parent_path().filename()},
                      {"name", wish->path.filename()},
                      {"format", *written},
                      {"bytes", static_cast<std::int64_t>(std::filesystem::file_size(wish->path, ec))}},
                     201);
}

Result<Answer> clip(const Call& call) {
  return json_answer(call.parts.clip_job.state());
}

Result<Answer> change_clip(const Call& call) {
  const auto body = call.body();
  if (!body) return tl::unexpected(body.error());
  Fields in(*body, {"action", "key", "values", "transfer", "container", "range", "bits", "peak_cdm2", "width", "height",
                    "file", "quality", "chroma", "codec", "rate", "hold"});
  auto& job = call.parts.clip_job;
  if (in.needed_choice("action", {"start", "cancel"}) == "cancel") {
    if (in.error()) return tl::unexpected(*in.error());
    if (auto told = job.cancel(); !told) return tl::unexpected(told.error());
    return json_answer(job.state(), 202);
  }
  signal::PictureFileChoice choice;
  for (auto [key, field] : {std::pair("quality", &choice.quality), std::pair("chroma", &choice.chroma),
                            std::pair("codec", &choice.codec), std::pair("rate", &choice.rate)})
    *field = in.text(key, 20).value_or(*field);
  choice.hold = static_cast<int>(in.integer("hold", 1, kMostHold).value_or(0));
  auto wish = wish_of(call, in);
  if (!wish) return tl::unexpected(wish.error());
  if (!signal::is_clip(wish->path))
    return fail(ErrorCode::unsupported, "'" + wish->path.filename().string() + "' is no name of a clip",
                "Name it .mp4, .mov or .mkv; a still is asked for at /test-pictures/file.", {.field = "file"});
  if (auto begun = job.start(std::move(wish->picture), wish->path, choice); !begun)
    return tl::unexpected(begun.error());
  return json_answer(job.state(), 202);
}

}  // namespace

std::span<const Route> signal_file_routes() {
  static constexpr std::array routes{Route{"POST", "/test-pictures/file", &write, BodyKind::json},
                                     Route{"GET", "/clip", &clip, {}},
                                     Route{"POST", "/clip", &change_clip, BodyKind::json}};
  return routes;
}

}  // namespace provenit::server
