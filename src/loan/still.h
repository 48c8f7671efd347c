#pragma once
// A still of the bench as a picture: the reader takes files by name, so it passes through a temporary one.
#include <memory>
#include <optional>
#include <string>

#include "provenit/programme/reader.h"
#include "temporary_folder.h"

namespace provenit::loan {

/// The first picture of a file's bytes: code values as they are, whatever the file says of them. Errors: those of the
/// reader, and invalid_input if there is no picture; each names `name`.
class Still {
 public:
  [[nodiscard]] static Result<Still> open(const std::string& bytes, const std::string& name) {
    const auto named = [&](Error error) {
      error.where.file = name;
      return tl::unexpected(std::move(error));
    };
    Still still;
    still.folder_ = std::make_unique<TemporaryFolder>();
    const auto path = still.folder_->put(bytes, name);
    if (!path) return named(path.error());
    programme::ReaderOptions options{.threads = 1};
    options.interpretation = {.transfer = programme::Transfer::linear,
                              .gamut = programme::Gamut::bt709,
                              .matrix = programme::Matrix::rgb,
                              .range = colour::Range::full,
                              .siting = {},
                              .peak_cdm2 = 1};
    auto reader = programme::open_reader(*path, options);
    if (!reader) return named(reader.error());
    still.reader_ = std::move(*reader);
    auto picture = still.reader_->next();
    if (!picture) return named(picture.error());
    if (!*picture) return named({ErrorCode::invalid_input, "holds no picture", {}, {}});
    still.picture_ = std::move(*picture);
    return still;
  }
  [[nodiscard]] const programme::Picture& picture() const { return *picture_; }

 private:
  Still() = default;
  std::unique_ptr<TemporaryFolder> folder_;
  std::unique_ptr<programme::Reader> reader_;
  std::optional<programme::Picture> picture_;
};

}  // namespace provenit::loan
