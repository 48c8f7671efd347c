#include "provenit/programme/course.h"

#include <algorithm>
#include <nlohmann/json.hpp>

namespace provenit::programme {

nlohmann::ordered_json to_json(const CourseColumns& c) {
  return {{"frames_per_column", c.frames_per_column},
          {"time_s", c.time_s},
          {"max_cdm2", c.max_cdm2},
          {"high_cdm2", c.high_cdm2},
          {"mean_cdm2", c.mean_cdm2}};
}

void Course::add(const FrameLight& light) {
  time_s_.push_back(light.time_s);
  max_.push_back(light.max_rgb_max);
  high_.push_back(light.luminance_99_9);
  mean_.push_back(light.max_rgb_mean);
  index_.push_back(light.index);
}

std::size_t Course::position_of(std::int64_t index) const {
  const auto after = std::ranges::upper_bound(index_, index);
  return after == index_.begin() ? size() : static_cast<std::size_t>(after - index_.begin()) - 1;
}

CourseColumns Course::columns(std::size_t first, std::size_t last, std::size_t columns) const {
  CourseColumns out;
  out.last = std::min(last, size());
  out.first = std::min(first, out.last);
  const std::size_t frames = out.last - out.first;
  out.frames_per_column = std::max<std::size_t>(1, (frames + columns - 1) / std::max<std::size_t>(1, columns));
  for (std::size_t from = out.first; from < out.last; from += out.frames_per_column) {
    const std::size_t to = std::min(from + out.frames_per_column, out.last);
    double most = 0, most_high = 0, sum = 0;
    for (std::size_t i = from; i < to; ++i) {
      most = std::max(most, max_[i]);
      most_high = std::max(most_high, high_[i]);
      sum += mean_[i];
    }
    out.time_s.push_back(time_s_[from]);
    out.max_cdm2.push_back(most);
    out.high_cdm2.push_back(most_high);
    out.mean_cdm2.push_back(sum / static_cast<double>(to - from));
  }
  return out;
}

}  // namespace provenit::programme
