#include "provenit/base/text.h"
#include "provenit/correct/lut_files.h"

namespace provenit::correct {
namespace {

tl::unexpected<Error> unknown_ending(const std::string& path) {
  return fail(ErrorCode::unsupported, "has no ending that says which kind of table file it is",
              "Use .clf, .cube or .icc.", {.file = path});
}

Result<std::string> bytes_of(const Lut& lut, const std::string& path, Timestamp created) {
  if (path.ends_with(".clf")) return clf_text(lut);
  if (path.ends_with(".cube")) return cube_text(lut);
  if (path.ends_with(".icc")) return icc_link_bytes(lut, created);
  return unknown_ending(path);
}

}  // namespace

Result<void> write_lut(const Lut& lut, const std::string& path, Timestamp created) {
  auto bytes = bytes_of(lut, path, created);
  if (!bytes) {
    bytes.error().where.file = path;
    return tl::unexpected(bytes.error());
  }
  return write_file(path, *bytes);
}

Result<Lut> lut_from_bytes(std::string_view bytes, const std::string& name) {
  if (name.ends_with(".clf")) return lut_from_clf(bytes, name);
  if (name.ends_with(".cube")) return lut_from_cube(bytes, name);
  if (name.ends_with(".icc")) return lut_from_icc_link(bytes, name);
  return unknown_ending(name);
}

Result<Lut> read_lut(const std::string& path) {
  const auto bytes = read_file(path);
  if (!bytes) return tl::unexpected(bytes.error());
  return lut_from_bytes(*bytes, path);
}

}  // namespace provenit::correct
