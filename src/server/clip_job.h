#pragma once
// The one clip of a test picture that is being written in the background.
#include <atomic>
#include <chrono>
#include <filesystem>
#include <mutex>
#include <optional>
#include <string>
#include <thread>

#include "provenit/report/records_json.h"
#include "provenit/server/events.h"
#include "provenit/signal_files/picture_file.h"

namespace provenit::server {

class ClipJob {
 public:
  ClipJob(std::string bench_path, EventHub& hub);
  ~ClipJob();  ///< stops; what was not finished leaves no file

  /// Errors: conflict if one is being written; those of clip_frames.
  [[nodiscard]] Result<void> start(signal::TestPicture picture, const std::filesystem::path& path,
                                   const signal::PictureFileChoice& choice);
  /// Takes effect after the frame in work. Errors: conflict if none is being written.
  [[nodiscard]] Result<void> cancel();
  /// Schema ClipJob.
  [[nodiscard]] report::Json state() const;

 private:
  void work(const signal::TestPicture& picture, const std::filesystem::path& path,
            const signal::PictureFileChoice& choice);
  bool progress(int done, int total);
  void publish();

  const std::string bench_path_;
  EventHub& hub_;
  mutable std::mutex mutex_;
  std::string state_ = "idle", folder_, file_, format_;
  std::int64_t done_ = 0, total_ = 0, bytes_ = 0;
  std::optional<Error> problem_;
  std::chrono::steady_clock::time_point told_;
  std::atomic<bool> stop_{false};
  std::thread thread_;
};

}  // namespace provenit::server
