#pragma once
// Pictures of films and stills that are looked at: each decoded once, and kept while its views, scopes and pixels are
// asked for.
#include <list>
#include <map>
#include <memory>
#include <mutex>
#include <string>

#include "provenit/programme/figures.h"
#include "provenit/programme/look.h"
#include "provenit/programme/plain.h"
#include "provenit/report/records_json.h"

namespace provenit::server {

/// One decoded frame. Views may be asked for from several threads.
class LookedAt {
 public:
  programme::SourceInfo info;
  std::vector<std::string> troubles;
  std::string fingerprint;  ///< of the file's index; empty where it has none
  std::int64_t frames = 0;  ///< of the source
  programme::Picture picture;
  programme::LightImage light;
  programme::FrameRecord record;
  double source_peak_cdm2 = 1000;

  /// The picture that `draw` makes, kept under `name`. Errors: those of png_of.
  template <class Draw>
  [[nodiscard]] Result<std::string> png(const std::string& name, Draw draw) const {
    {
      const std::lock_guard lock(mutex_);
      if (const auto known = drawn_.find(name); known != drawn_.end()) return known->second;
    }
    auto png = programme::png_of(draw());
    if (!png) return png;
    const std::lock_guard lock(mutex_);
    if (drawn_.size() >= kMostDrawn) drawn_.clear();
    return drawn_.insert_or_assign(name, std::move(*png)).first->second;
  }

 private:
  static constexpr std::size_t kMostDrawn = 24;
  mutable std::mutex mutex_;
  mutable std::map<std::string, std::string> drawn_;
};

class PictureDesk {
 public:
  /// The frame of the file at `path`: decoded now, or one of the last few. Errors: those of choose_frames, light_image
  /// and FrameMeter.
  [[nodiscard]] Result<std::shared_ptr<const LookedAt>> look(const std::string& path,
                                                             const programme::FrameChoice& choice,
                                                             const programme::ReaderOptions& options);

 private:
  struct Indexed {
    std::string key;  // path, size and time of the file
    std::shared_ptr<const programme::FrameIndex> index;
  };
  Result<std::shared_ptr<const programme::FrameIndex>> index_of(const std::string& path, const std::string& key,
                                                                const programme::ReaderOptions& options);

  std::mutex mutex_;  // one picture is decoded at a time: it takes all cores
  std::list<Indexed> indices_;
  std::list<std::pair<std::string, std::shared_ptr<const LookedAt>>> looked_;  // newest first
};

}  // namespace provenit::server
