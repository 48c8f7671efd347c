#include <tbb/global_control.h>
#include <tbb/parallel_pipeline.h>
#include <tbb/task_arena.h>

#include <algorithm>
#include <mutex>
#include <thread>

#include "meter_pipeline_internal.h"

namespace provenit::programme::detail {
namespace {

constexpr double kHeldBytes = 48e6;

std::size_t pictures_held(const PictureFormat& f, int threads) {
  const double samples = f.chroma == Chroma::c420   ? 1.5
                         : f.chroma == Chroma::c422 ? 2
                         : f.chroma == Chroma::grey ? 1
                                                    : 3;
  const double bytes = samples * f.width * f.height * (f.is_float ? 4 : f.bits > 8 ? 2 : 1);
  const auto fit = static_cast<std::size_t>(kHeldBytes / bytes);
  return std::clamp<std::size_t>(fit, 2, static_cast<std::size_t>(threads) + 1);
}

// The first error of any step; later ones are its consequences.
class FirstError {
 public:
  void set(const Error& error) {
    const std::scoped_lock lock(mutex_);
    if (!error_) error_ = error;
  }
  [[nodiscard]] bool is_set() const {
    const std::scoped_lock lock(mutex_);
    return error_.has_value();
  }
  [[nodiscard]] Result<void> result() const { return error_ ? Result<void>(tl::unexpected(*error_)) : Result<void>{}; }

 private:
  mutable std::mutex mutex_;
  std::optional<Error> error_;
};

}  // namespace

Result<void> run_pipeline(const FrameMeter& meter, int threads, const Flow& flow) {
  const int workers = threads > 0 ? threads : static_cast<int>(std::max(1u, std::thread::hardware_concurrency()));
  FirstError failure;
  bool stopped = false;  // written by the last step, read by the first: both see it through `mutex`
  std::mutex mutex;
  const auto decode = [&](tbb::flow_control& control) -> Picture {
    const bool over = [&] {
      const std::scoped_lock lock(mutex);
      return stopped;
    }();
    if (!over && !failure.is_set()) {
      auto picture = flow.next();
      if (picture && *picture) return std::move(**picture);
      if (!picture) failure.set(picture.error());
    }
    control.stop();
    return {};
  };
  const auto measure = [&](const Picture& picture) -> Result<FrameRecord> { return meter.measure(picture); };
  const auto keep = [&](Result<FrameRecord> record) {
    const std::scoped_lock lock(mutex);
    if (stopped) return;
    if (!record) {
      failure.set(record.error());
      stopped = true;
      return;
    }
    const auto more = flow.keep(*record);
    if (!more) failure.set(more.error());
    stopped = !more || !*more;
  };
  tbb::task_arena arena(workers);
  arena.execute([&] {
    tbb::parallel_pipeline(pictures_held(meter.format(), workers),
                           tbb::make_filter<void, Picture>(tbb::filter_mode::serial_in_order, decode) &
                               tbb::make_filter<Picture, Result<FrameRecord>>(tbb::filter_mode::parallel, measure) &
                               tbb::make_filter<Result<FrameRecord>, void>(tbb::filter_mode::serial_in_order, keep));
  });
  return failure.result();
}

}  // namespace provenit::programme::detail
