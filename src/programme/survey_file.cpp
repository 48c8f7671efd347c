#include "provenit/programme/survey_file.h"

#include <fmt/format.h>

#include "chunk_io_internal.h"

namespace provenit::programme {

struct SurveyFile::Impl {
  std::string path;
  SurveyHeader header;
  std::string hash;
};

namespace {

using detail::OpenFile;
constexpr const char* kRestore = "Restore the file from a copy, or survey the title again.";

Result<std::string> last_line(OpenFile& file) {
  std::string line;
  std::getline(file.in, line);
  if (!line.starts_with(detail::kLastLine) || !file.in || file.in.peek() != std::ifstream::traits_type::eof())
    return fail(ErrorCode::invalid_input, "the survey ends before its last line or goes on after it", kRestore,
                {.file = file.path});
  return line.substr(detail::kLastLine.size());
}

}  // namespace

Result<SurveyFile> SurveyFile::open(const std::string& path) {
  auto file = detail::open_survey_file(path);
  if (!file) return tl::unexpected(file.error());
  auto header = detail::read_header(*file);
  if (!header) return tl::unexpected(header.error());
  detail::SurveyHash hash(*header);
  std::int64_t frames = 0;
  for (;;) {
    const auto chunk = detail::read_chunk(*file);
    if (!chunk) return tl::unexpected(chunk.error());
    if (!*chunk) break;
    hash.add((*chunk)->frames);
    frames += static_cast<std::int64_t>((*chunk)->frames.size());
  }
  const auto stated = last_line(*file);
  if (!stated) return tl::unexpected(stated.error());
  if (frames != header->measured)
    return fail(ErrorCode::invalid_input, fmt::format("claims {} frames but has {}", header->measured, frames),
                kRestore, {.file = path});
  if (*stated != hash.value())
    return fail(ErrorCode::invalid_input, "header and frames do not match the hash in the last line", kRestore,
                {.file = path});
  return SurveyFile(std::make_unique<Impl>(Impl{path, std::move(*header), hash.value()}));
}

const std::string& SurveyFile::path() const {
  return impl_->path;
}
const SurveyHeader& SurveyFile::header() const {
  return impl_->header;
}
const std::string& SurveyFile::hash() const {
  return impl_->hash;
}

Result<void> SurveyFile::for_each_chunk(const std::function<Result<void>(std::span<const FrameRecord>)>& take) const {
  auto file = detail::open_survey_file(impl_->path);
  if (!file) return tl::unexpected(file.error());
  if (auto header = detail::read_header(*file); !header) return tl::unexpected(header.error());
  for (;;) {
    const auto chunk = detail::read_chunk(*file);
    if (!chunk) return tl::unexpected(chunk.error());
    if (!*chunk) return {};
    if (auto taken = take((*chunk)->frames); !taken) return taken;
  }
}

Result<std::vector<FrameRecord>> SurveyFile::frames() const {
  std::vector<FrameRecord> all;
  all.reserve(static_cast<std::size_t>(impl_->header.measured));
  const auto read = for_each_chunk([&](std::span<const FrameRecord> chunk) -> Result<void> {
    all.insert(all.end(), chunk.begin(), chunk.end());
    return {};
  });
  if (!read) return tl::unexpected(read.error());
  return all;
}

SurveyFile::SurveyFile(std::unique_ptr<Impl> impl) : impl_(std::move(impl)) {}
SurveyFile::SurveyFile(SurveyFile&&) noexcept = default;
SurveyFile& SurveyFile::operator=(SurveyFile&&) noexcept = default;
SurveyFile::~SurveyFile() = default;

}  // namespace provenit::programme
