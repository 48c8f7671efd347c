#pragma once
// The folder in which a site is written before it takes its place.
#include <filesystem>
#include <string>
#include <string_view>

#include "provenit/base/error.h"
#include "record.h"

namespace provenit::publish {

inline constexpr const char* kRecordFile = "published.json";

class Stage {
 public:
  explicit Stage(std::filesystem::path site)
      : site_(std::move(site)), next_(site_.string() + ".next"), old_(site_.string() + ".old") {}

  /// Brings back what a killed call left half exchanged, checks that nothing foreign would be replaced, and gives what
  /// the site has said so far. Errors: conflict; those of parse_record; io.
  [[nodiscard]] Result<SiteRecord> begin();
  /// `name`: within the site; folders are made.
  [[nodiscard]] Result<void> write(const std::string& name, std::string_view bytes);
  /// A copy of a file; one that is there already stays.
  [[nodiscard]] Result<void> take_in(const std::filesystem::path& from, const std::string& name);
  /// Data of earlier publications.
  [[nodiscard]] Result<void> keep_data();
  /// Exchanges the sites.
  [[nodiscard]] Result<void> finish();
  void give_up();

 private:
  std::filesystem::path site_, next_, old_;
};

}  // namespace provenit::publish
