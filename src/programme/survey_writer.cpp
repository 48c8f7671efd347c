// A survey under way. What was written stays readable whatever happens: chunks are appended, never changed, and the
// finished file is written beside and renamed.
#include <fcntl.h>
#include <fmt/format.h>
#include <unistd.h>

#include <cerrno>
#include <cstring>
#include <filesystem>

#include "chunk_io_internal.h"
#include "provenit/base/text.h"

namespace provenit::programme {
namespace {

using detail::OpenFile;

class FileDescriptor {
 public:
  explicit FileDescriptor(int fd) : fd_(fd) {}
  FileDescriptor(FileDescriptor&& other) noexcept : fd_(std::exchange(other.fd_, -1)) {}
  FileDescriptor& operator=(FileDescriptor&& other) noexcept {
    std::swap(fd_, other.fd_);
    return *this;
  }
  ~FileDescriptor() {
    if (fd_ >= 0) ::close(fd_);
  }
  [[nodiscard]] int get() const { return fd_; }

 private:
  int fd_;
};

auto system_error(const std::string& path, const char* what) {
  return fail(ErrorCode::io, fmt::format("{}: {}", what, std::strerror(errno)),
              "Check the disk's space and your rights in that folder. What was measured so far is kept.",
              {.file = path});
}

Result<void> write_all(const FileDescriptor& fd, std::string_view bytes, const std::string& path) {
  while (!bytes.empty()) {
    const auto n = ::write(fd.get(), bytes.data(), bytes.size());
    if (n < 0 && errno == EINTR) continue;
    if (n < 0) return system_error(path, "cannot write");
    bytes.remove_prefix(static_cast<std::size_t>(n));
  }
  return {};
}

Result<FileDescriptor> open_for_writing(const std::string& path, int flags) {
  FileDescriptor fd(::open(path.c_str(), O_WRONLY | O_CLOEXEC | flags, 0666));
  if (fd.get() < 0) return system_error(path, "cannot open for writing");
  return fd;
}

bool same_survey(const SurveyHeader& a, const SurveyHeader& b) {
  return a.fingerprint == b.fingerprint && a.source.format == b.source.format && a.version == b.version &&
         a.simd_level == b.simd_level && a.first == b.first && a.last == b.last && a.live == b.live;
}

}  // namespace

namespace detail {

Result<void> write_survey(const std::string& path, const SurveyHeader& header, const FrameSource& frames) {
  const std::string temporary = path + ".writing";
  auto fd = open_for_writing(temporary, O_CREAT | O_TRUNC);
  if (!fd) return tl::unexpected(fd.error());
  SurveyHash hash(header);
  auto put = [&](std::string_view bytes) { return write_all(*fd, bytes, temporary); };
  Rechunk rechunk([&](std::span<const FrameRecord> chunk) {
    hash.add(chunk);
    return put(pack_chunk(chunk));
  });
  auto done = put(kFirstLine)
                  .and_then([&] { return put(header_line(header)); })
                  .and_then([&] { return frames([&](auto chunk) { return rechunk.add(chunk); }); })
                  .and_then([&] { return rechunk.finish(); })
                  .and_then([&] { return put(fmt::format("{}{}\n", kLastLine, hash.value())); });
  if (done && (::fsync(fd->get()) != 0 || std::rename(temporary.c_str(), path.c_str()) != 0))
    done = system_error(path, "cannot be written");
  if (!done) std::remove(temporary.c_str());
  return done;
}

}  // namespace detail

struct SurveyWriter::Impl {
  std::string path, working;
  FileDescriptor fd{-1};
  std::int64_t durable = 0;         // frames in whole chunks on disk
  std::vector<FrameRecord> held{};  // those after them

  Result<void> write_head(const SurveyHeader& header) {
    return write_all(fd, std::string(detail::kFirstLine) + detail::header_line(header), working);
  }
  Result<void> load(const SurveyHeader& header);
  Result<void> write_held() {
    if (held.empty()) return {};
    if (auto written = write_all(fd, detail::pack_chunk(held), working); !written) return written;
    if (::fdatasync(fd.get()) != 0) return system_error(working, "cannot be written");
    durable += static_cast<std::int64_t>(held.size());
    held.clear();
    return {};
  }
  Result<void> each(const std::function<Result<void>(std::span<const FrameRecord>)>& take) const;
};

// Takes up what a stopped run left; a chunk that is not whole is cut off.
Result<void> SurveyWriter::Impl::load(const SurveyHeader& header) {
  const auto bytes = read_file(working);
  if (!bytes) return tl::unexpected(bytes.error());
  if ((std::string(detail::kFirstLine) + detail::header_line(header))
          .starts_with(*bytes)) {  // killed in its first write
    if (::ftruncate(fd.get(), 0) != 0) return system_error(working, "cannot be written");
    return write_head(header);
  }
  auto file = detail::open_survey_file(working);
  if (!file) return tl::unexpected(file.error());
  const auto left = detail::read_header(*file);
  if (!left) return tl::unexpected(left.error());
  if (!same_survey(*left, header))
    return fail(ErrorCode::conflict, "holds the unfinished survey of another title, part or interpretation",
                "Remove it, or give another --out.", {.file = working});
  auto end = static_cast<std::uint64_t>(file->in.tellg());
  for (;;) {
    const auto chunk = detail::read_chunk(*file);
    if (!chunk || !*chunk) break;  // a damaged chunk is measured again, as all after it
    durable += static_cast<std::int64_t>((*chunk)->frames.size());
    end = static_cast<std::uint64_t>(file->in.tellg());
  }
  if (::ftruncate(fd.get(), static_cast<off_t>(end)) != 0) return system_error(working, "cannot be written");
  return {};
}

Result<void> SurveyWriter::Impl::each(const std::function<Result<void>(std::span<const FrameRecord>)>& take) const {
  auto file = detail::open_survey_file(working);
  if (!file) return tl::unexpected(file.error());
  if (const auto header = detail::read_header(*file); !header) return tl::unexpected(header.error());
  for (;;) {
    const auto chunk = detail::read_chunk(*file);
    if (!chunk) return tl::unexpected(chunk.error());
    if (!*chunk) break;
    if (auto taken = take((*chunk)->frames); !taken) return taken;
  }
  return held.empty() ? Result<void>{} : take(held);
}

Result<SurveyWriter> SurveyWriter::begin(const std::string& path, const SurveyHeader& header) {
  if (std::filesystem::exists(path))
    return fail(ErrorCode::conflict, "is there already", "Give another name, or remove it.", {.file = path});
  auto impl = std::make_unique<Impl>();
  impl->path = path;
  impl->working = path + ".unfinished";
  const bool resumed = std::filesystem::exists(impl->working);
  auto fd = open_for_writing(impl->working, O_CREAT | O_APPEND);
  if (!fd) return tl::unexpected(fd.error());
  impl->fd = std::move(*fd);
  const auto begun = resumed ? impl->load(header) : impl->write_head(header);
  if (!begun) return tl::unexpected(begun.error());
  return SurveyWriter(std::move(impl));
}

std::int64_t SurveyWriter::frames_done() const {
  return impl_->durable + static_cast<std::int64_t>(impl_->held.size());
}

Result<void> SurveyWriter::append(const FrameRecord& frame) {
  impl_->held.push_back(frame);
  return impl_->held.size() < kChunkFrames ? Result<void>{} : impl_->write_held();
}

Result<void> SurveyWriter::flush() {
  return impl_->write_held();
}

Result<void> SurveyWriter::for_each_done(const std::function<Result<void>(std::span<const FrameRecord>)>& take) const {
  return impl_->each(take);
}

Result<void> SurveyWriter::keep_first(std::int64_t frames) {
  auto file = detail::open_survey_file(impl_->working);
  if (!file) return tl::unexpected(file.error());
  if (const auto header = detail::read_header(*file); !header) return tl::unexpected(header.error());
  auto end = static_cast<std::uint64_t>(file->in.tellg());
  std::int64_t kept = 0;
  impl_->held.clear();
  while (kept < frames) {
    const auto chunk = detail::read_chunk(*file);
    if (!chunk) return tl::unexpected(chunk.error());
    if (!*chunk) break;
    const auto& chunk_frames = (*chunk)->frames;
    const auto wanted = std::min<std::int64_t>(frames - kept, static_cast<std::int64_t>(chunk_frames.size()));
    if (wanted < static_cast<std::int64_t>(chunk_frames.size())) {
      impl_->held.assign(chunk_frames.begin(), chunk_frames.begin() + wanted);
      break;
    }
    kept += wanted;
    end = static_cast<std::uint64_t>(file->in.tellg());
  }
  if (::ftruncate(impl_->fd.get(), static_cast<off_t>(end)) != 0)
    return system_error(impl_->working, "cannot be written");
  impl_->durable = kept;
  return {};
}

Result<void> SurveyWriter::finish(const SurveyHeader& header) {
  auto written = detail::write_survey(impl_->path, header, [&](const auto& take) { return impl_->each(take); });
  if (written) std::remove(impl_->working.c_str());
  return written;
}

SurveyWriter::SurveyWriter(std::unique_ptr<Impl> impl) : impl_(std::move(impl)) {}
SurveyWriter::SurveyWriter(SurveyWriter&&) noexcept = default;
SurveyWriter& SurveyWriter::operator=(SurveyWriter&&) noexcept = default;
SurveyWriter::~SurveyWriter() = default;

}  // namespace provenit::programme
