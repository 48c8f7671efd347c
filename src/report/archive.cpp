#include "provenit/report/archive.h"

#include <zip.h>

#include <memory>

namespace provenit::report {
namespace {

struct Close {
  void operator()(zip_t* archive) const { zip_discard(archive); }
  void operator()(zip_file_t* file) const { zip_fclose(file); }
  void operator()(zip_source_t* source) const { zip_source_free(source); }
};

tl::unexpected<Error> refused(ErrorCode code) {
  return fail(code, code == ErrorCode::io ? "the archive could not be made" : "this is no archive");
}

}  // namespace

Result<std::string> zip(const std::vector<ZipEntry>& entries) {
  // The source is kept past the archive, which writes into it when it is closed.
  const std::unique_ptr<zip_source_t, Close> source(zip_source_buffer_create(nullptr, 0, 0, nullptr));
  if (!source) return refused(ErrorCode::io);
  zip_source_keep(source.get());
  std::unique_ptr<zip_t, Close> archive(zip_open_from_source(source.get(), ZIP_TRUNCATE, nullptr));
  if (!archive) {
    zip_source_free(source.get());
    return refused(ErrorCode::io);
  }
  for (const auto& entry : entries) {
    auto* bytes = zip_source_buffer(archive.get(), entry.bytes.data(), entry.bytes.size(), 0);
    if (bytes == nullptr) return refused(ErrorCode::io);
    const auto index = zip_file_add(archive.get(), entry.name.c_str(), bytes, ZIP_FL_ENC_UTF_8);
    if (index < 0) {
      zip_source_free(bytes);
      return refused(ErrorCode::io);
    }
    constexpr zip_uint16_t kFirstDay = (1 << 5) | 1;  // 1980-01-01, where the time of a zip begins
    if (zip_file_set_dostime(archive.get(), static_cast<zip_uint64_t>(index), 0, kFirstDay, 0) != 0)
      return refused(ErrorCode::io);
  }
  if (zip_close(archive.get()) != 0) return refused(ErrorCode::io);
  (void)archive.release();  // closing it has freed it
  zip_stat_t stat;
  if (zip_source_open(source.get()) != 0 || zip_source_stat(source.get(), &stat) != 0) return refused(ErrorCode::io);
  std::string out(stat.size, '\0');
  const auto read = zip_source_read(source.get(), out.data(), out.size());
  zip_source_close(source.get());
  if (read < 0 || static_cast<zip_uint64_t>(read) != stat.size) return refused(ErrorCode::io);
  return out;
}

Result<std::map<std::string, std::string>> unzip(std::string_view archive) {
  zip_error_t error;
  zip_error_init(&error);
  auto* source = zip_source_buffer_create(archive.data(), archive.size(), 0, &error);
  zip_error_fini(&error);
  if (source == nullptr) return refused(ErrorCode::invalid_input);
  const std::unique_ptr<zip_t, Close> opened(zip_open_from_source(source, ZIP_RDONLY, nullptr));
  if (!opened) {
    zip_source_free(source);
    return refused(ErrorCode::invalid_input);
  }
  std::map<std::string, std::string> out;
  for (zip_int64_t i = 0; i < zip_get_num_entries(opened.get(), 0); ++i) {
    zip_stat_t stat;
    if (zip_stat_index(opened.get(), static_cast<zip_uint64_t>(i), 0, &stat) != 0)
      return refused(ErrorCode::invalid_input);
    const std::string name = stat.name;
    if (name.ends_with('/')) continue;
    const std::unique_ptr<zip_file_t, Close> file(zip_fopen_index(opened.get(), static_cast<zip_uint64_t>(i), 0));
    std::string bytes(stat.size, '\0');
    if (!file || zip_fread(file.get(), bytes.data(), bytes.size()) != static_cast<zip_int64_t>(bytes.size()))
      return refused(ErrorCode::invalid_input);
    out.emplace(name, std::move(bytes));
  }
  return out;
}

}  // namespace provenit::report
