#include "programme_folder.h"

#include <algorithm>
#include <array>
#include <cctype>
#include <filesystem>

namespace provenit::server {
namespace {

namespace fs = std::filesystem;

constexpr std::size_t kMost = 5000;
constexpr int kDeepestFolder = 6;
constexpr std::array<std::string_view, 16> kFilms{".mp4", ".mov", ".m4v",  ".mkv", ".webm", ".mxf", ".ts",  ".m2ts",
                                                  ".mts", ".avi", ".hevc", ".265", ".h265", ".obu", ".ivf", ".y4m"};
constexpr std::array<std::string_view, 8> kStills{".png", ".tif", ".tiff", ".dpx", ".exr", ".avif", ".hdr", ".jpg"};

std::string ending_of(const fs::path& path) {
  auto ending = path.extension().string();
  std::ranges::transform(ending, ending.begin(), [](unsigned char c) { return static_cast<char>(std::tolower(c)); });
  return ending;
}

/// Whether `path` lies in `folder`; both without links and dots.
bool inside(const fs::path& folder, const fs::path& path) {
  const auto [f, p] = std::ranges::mismatch(folder, path);
  return f == folder.end() && p != path.end();
}

tl::unexpected<Error> no_folder() {
  return fail(ErrorCode::not_found, "the server was given no folder of programmes",
              "Start it with --programmes FOLDER to look at the pictures of films and stills there.");
}

}  // namespace

std::string ProgrammeFolder::name() const {
  std::error_code ec;
  const auto whole = fs::weakly_canonical(folder_, ec);
  return ec ? std::string() : whole.filename().string();
}

Result<std::vector<ProgrammeFile>> ProgrammeFolder::files() const {
  if (!given()) return std::vector<ProgrammeFile>{};
  std::error_code ec;
  const auto folder = fs::canonical(folder_, ec);
  if (ec) return fail(ErrorCode::not_found, "the folder of programmes is not there: " + ec.message(), "Make it.");
  std::vector<ProgrammeFile> out;
  fs::recursive_directory_iterator it(folder, fs::directory_options::skip_permission_denied, ec), end;
  if (ec)
    return fail(ErrorCode::io, "the folder of programmes cannot be read: " + ec.message(), "See its permissions.");
  for (; it != end && out.size() < kMost; it.increment(ec)) {
    if (ec) break;
    const auto& path = it->path();
    if (path.filename().string().starts_with('.') || it.depth() >= kDeepestFolder) {
      it.disable_recursion_pending();
      continue;
    }
    std::error_code ignored;
    if (!it->is_regular_file(ignored)) continue;
    const auto ending = ending_of(path);
    const bool still = std::ranges::find(kStills, ending) != kStills.end();
    if (!still && std::ranges::find(kFilms, ending) == kFilms.end()) continue;
    if (!inside(folder, fs::canonical(path, ignored))) continue;  // a link that leads away
    out.push_back({.name = path.lexically_relative(folder).generic_string(),
                   .bytes = static_cast<std::int64_t>(it->file_size(ignored)),
                   .still = still});
  }
  std::ranges::sort(out, {}, &ProgrammeFile::name);
  return out;
}

Result<std::string> ProgrammeFolder::path_of(const std::string& name) const {
  if (!given()) return no_folder();
  const fs::path asked(name);
  const bool plain = !name.empty() && asked.is_relative() && std::ranges::none_of(asked, [](const fs::path& part) {
    return part == ".." || part.string().starts_with('.');
  });
  if (!plain)
    return fail(ErrorCode::invalid_input, "this name leads out of the folder of programmes",
                "Give a name that the list of files has.", {.field = "file"});
  std::error_code ec;
  const auto folder = fs::canonical(folder_, ec);
  if (ec) return fail(ErrorCode::not_found, "the folder of programmes is not there: " + ec.message(), "Make it.");
  const auto path = fs::canonical(folder / asked, ec);
  if (ec || !inside(folder, path) || !fs::is_regular_file(path, ec))
    return fail(ErrorCode::not_found, "there is no such file in the folder of programmes",
                "Put it there, or choose one from the list.", {.file = name, .field = "file"});
  return path.string();
}

}  // namespace provenit::server
