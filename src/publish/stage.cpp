#include "stage.h"

#include <system_error>

#include "provenit/base/text.h"

namespace provenit::publish {
namespace {

namespace fs = std::filesystem;

tl::unexpected<Error> io_error(const fs::path& path, const std::error_code& ec) {
  return fail(ErrorCode::io, ec.message(), "Check the folder's rights and the room on the disk.",
              {.file = path.string()});
}

}  // namespace

Result<SiteRecord> Stage::begin() {
  std::error_code ec;
  if (!fs::exists(site_, ec) && fs::exists(old_, ec)) fs::rename(old_, site_, ec);
  if (ec) return io_error(site_, ec);
  SiteRecord record;
  if (fs::exists(site_, ec) && !(fs::is_directory(site_, ec) && fs::is_empty(site_, ec))) {
    if (!fs::exists(site_ / kRecordFile, ec))
      return fail(ErrorCode::conflict, "there is something here that is no site",
                  "Name a new folder, or one with a site.", {.file = site_.string()});
    const auto text = read_file((site_ / kRecordFile).string());
    if (!text) return tl::unexpected(text.error());
    auto read = parse_record(*text, (site_ / kRecordFile).string());
    if (!read) return tl::unexpected(read.error());
    record = std::move(*read);
  }
  fs::remove_all(next_, ec);
  fs::create_directories(next_, ec);
  if (ec) return io_error(next_, ec);
  return record;
}

Result<void> Stage::write(const std::string& name, std::string_view bytes) {
  const auto path = next_ / name;
  std::error_code ec;
  fs::create_directories(path.parent_path(), ec);
  if (ec) return io_error(path, ec);
  return write_file(path.string(), bytes);
}

Result<void> Stage::take_in(const fs::path& from, const std::string& name) {
  const auto path = next_ / name;
  std::error_code ec;
  fs::create_directories(path.parent_path(), ec);
  fs::copy_file(from, path, fs::copy_options::skip_existing, ec);
  if (ec) return io_error(from, ec);
  return {};
}

Result<void> Stage::keep_data() {
  std::error_code ec;
  if (!fs::exists(site_ / "data", ec)) return {};
  for (const auto& entry : fs::directory_iterator(site_ / "data", ec))
    if (auto kept = take_in(entry.path(), "data/" + entry.path().filename().string()); !kept) return kept;
  if (ec) return io_error(site_ / "data", ec);
  return {};
}

Result<void> Stage::finish() {
  std::error_code ec;
  fs::remove_all(old_, ec);
  if (fs::exists(site_, ec)) fs::rename(site_, old_, ec);
  if (!ec) fs::rename(next_, site_, ec);
  if (ec) return io_error(site_, ec);
  fs::remove_all(old_, ec);
  return {};
}

void Stage::give_up() {
  std::error_code ec;
  fs::remove_all(next_, ec);
}

}  // namespace provenit::publish
