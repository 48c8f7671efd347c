#pragma once
// The course of a title's light over time, kept so small and so flat that any stretch of it is summed up in
// milliseconds: what a time line draws at every zoom.
#include <cstdint>
#include <nlohmann/json_fwd.hpp>
#include <span>
#include <vector>

#include "provenit/programme/title.h"

namespace provenit::programme {

/// A stretch of frames in columns of as many frames each; the last may be shorter.
struct CourseColumns {
  std::size_t first = 0, last = 0;  ///< positions [first, last) that it covers
  std::size_t frames_per_column = 1;
  std::vector<double> time_s;  ///< of each column's first frame
  /// Largest max(R,G,B), largest 99.9 % luminance, and mean of the means of max(R,G,B) over the whole frame, cd/m2: no
  /// peak is lost however long the stretch.
  std::vector<double> max_cdm2, high_cdm2, mean_cdm2;
};
[[nodiscard]] nlohmann::ordered_json to_json(const CourseColumns& columns);

/// Four numbers of each frame, each in a row of its own. Safe to use from several threads once it is filled.
class Course {
 public:
  void add(const FrameLight& light);
  [[nodiscard]] std::size_t size() const { return time_s_.size(); }
  [[nodiscard]] double time_s(std::size_t position) const { return time_s_[position]; }
  [[nodiscard]] std::int64_t index(std::size_t position) const { return index_[position]; }
  /// Position of the frame with this FrameFigures::index, or of the one before it where it is missing; size() for
  /// none.
  [[nodiscard]] std::size_t position_of(std::int64_t index) const;
  /// The stretch [first, last), clamped to what is there, in at most `columns` (>= 1) columns.
  [[nodiscard]] CourseColumns columns(std::size_t first, std::size_t last, std::size_t columns) const;

 private:
  std::vector<double> time_s_, max_, high_, mean_;
  std::vector<std::int64_t> index_;
};

}  // namespace provenit::programme
