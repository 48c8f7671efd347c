#pragma once
// A job folder: which titles are surveyed, cut where, and where each result goes. farm.json, form provenit-farm/1; the
// folder's layout is told in docs/farm.md.
#include <cstdint>
#include <functional>
#include <optional>
#include <string>
#include <vector>

#include "provenit/base/error.h"
#include "provenit/programme/reader.h"
#include "provenit/store/records.h"

namespace provenit::farm {

/// Frames [first, last) of a title, first being a key frame.
struct Part {
  std::int64_t first = 0, last = 0;
};

struct Title {
  std::string path;              ///< absolute
  std::uint64_t bytes = 0;       ///< of a file; 0 for a sequence of stills
  std::int64_t modified_ns = 0;  ///< of a file, since 1970
  std::string fingerprint;       ///< of its FrameIndex
  std::int64_t frames = 0;       ///< by its index
  double seconds = 0;            ///< time of the last frame
  std::string index_sha256;      ///< of the index kept in the folder
  std::vector<Part> parts;       ///< in order; together every frame once
};

/// The loan whose display the titles are forecast for: a copy lies in the folder.
struct JobBench {
  store::Id loan = 0;
  std::string sha256;  ///< of the copy
};

struct Job {
  std::string folder;      ///< absolute
  std::string program;     ///< path of the provenit command on every node
  std::string software;    ///< "provenit 0.1.0": nodes with another version refuse
  std::string simd_level;  ///< one for all nodes: another may differ in the last bits, and parts would not merge
  programme::InterpretationNames meant;
  double frame_rate_hz = 0;  ///< of a sequence of stills; 0: 24
  std::optional<JobBench> bench;
  std::vector<Title> titles;
};

struct PlanOptions {
  std::vector<std::string> titles;
  int parts = 0;                ///< of each title; 0: by length
  double minutes_per_part = 5;  ///< of the programme, (0, 1e6]
  programme::InterpretationNames meant;
  double frame_rate_hz = 0;
  std::string simd_level;  ///< empty: the best of this machine
  std::string bench;       ///< empty: no forecasts
  store::Id loan = 0;      ///< 0: the newest
  std::string program, software;
};

/// Makes the folder, which must be new or empty, with everything that a node needs but the titles themselves. Every
/// title is opened and indexed, so that what cannot be read is told now. Nothing is left if it fails.
/// Errors: conflict for a folder that holds something; invalid_input naming a title twice or a name that cannot stand
/// in a list of commands (control characters, no UTF-8); those of open_reader, index_frames, FrameMeter::make,
/// interpretation_of, Bench::copy and forecast_of; io.
[[nodiscard]] Result<Job> plan(const std::string& folder, const PlanOptions& options);

/// Reads farm.json. Errors: not_found; conflict for another form; invalid_input with the field for what does not hold
/// together: parts that leave frames out or hold them twice, numbers out of range, missing fields.
[[nodiscard]] Result<Job> open(const std::string& folder);

/// The index of a title as it was planned. Errors: io; invalid_input if the file was changed.
[[nodiscard]] Result<programme::FrameIndex> index_of(const Job& job, std::size_t title);

// Files of a job. Titles and parts are counted from 0 here, from 1 in names and commands.
[[nodiscard]] std::string part_path(const Job& job, std::size_t title, std::size_t part);
[[nodiscard]] std::string survey_path(const Job& job, std::size_t title);
[[nodiscard]] std::string forecast_path(const Job& job, std::size_t title);  ///< written only where a bench is planned
[[nodiscard]] std::string file_name(const Title& title);

/// One word of a POSIX shell, whatever is in it.
[[nodiscard]] std::string shell_word(const std::string& text);
/// What makes a part, and what joins the parts of a title and forecasts it: one line each for a shell.
[[nodiscard]] std::string part_command(const Job& job, std::size_t title, std::size_t part);
[[nodiscard]] std::string merge_command(const Job& job, std::size_t title);

}  // namespace provenit::farm
