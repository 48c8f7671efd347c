#include "page.h"

#include <array>
#include <map>

#include "provenit/report/archive.h"
#include "server_assets.h"

namespace provenit::server {
namespace {

struct Type {
  std::string_view ending, type;
};
constexpr std::array types{Type{".html", "text/html; charset=utf-8"},
                           Type{".js", "text/javascript"},
                           Type{".css", "text/css"},
                           Type{".svg", "image/svg+xml"},
                           Type{".json", "application/json"},
                           Type{".png", "image/png"},
                           Type{".woff2", "font/woff2"},
                           Type{".webmanifest", "application/manifest+json"}};

/// The build is one archive, so that its files may have any names.
const std::map<std::string, std::string>& files() {
  static const auto unpacked =
      report::unzip(find_server_asset("/workbench.zip")).value_or(std::map<std::string, std::string>());
  return unpacked;
}

}  // namespace

std::optional<PageFile> page_file(std::string_view path) {
  if (!path.starts_with('/')) return std::nullopt;
  const auto found = files().find(path == "/" ? "index.html" : std::string(path.substr(1)));
  if (found == files().end()) return std::nullopt;
  PageFile out{.type = "application/octet-stream", .bytes = found->second, .lasting = path.starts_with("/assets/")};
  for (const auto& type : types)
    if (found->first.ends_with(type.ending)) out.type = type.type;
  return out;
}

std::string_view no_page() {
  return "The page of the workbench was not built into this program (PROVENIT_WEB=OFF, or no web build).\n"
         "Its interface is served below /api/1/; /api/1/openapi.json describes it.\n";
}

}  // namespace provenit::server
