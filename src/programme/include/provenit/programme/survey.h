#pragma once
// The survey of a title: every frame decoded, measured and kept, in whole or in parts that merge to the same bytes.
#include <functional>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "provenit/base/error.h"
#include "provenit/programme/live.h"
#include "provenit/programme/survey_file.h"
#include "provenit/programme/title.h"

namespace provenit::programme {

struct SurveyProgress {
  std::int64_t done = 0;   ///< frames of this survey that are measured, those of a run before included
  std::int64_t total = 0;  ///< 0 for live
  const FrameFigures* latest = nullptr;
  LiveState live;  ///< of a live source
};

struct SurveyOptions {
  ReaderOptions reading;
  std::string simd_level;   ///< one of simd_levels(); empty: the best
  int part = 1, parts = 1;  ///< part 1 to parts, cut on key frames
  /// A title that is indexed already: frames [first, last) of it, in place of part and parts; its packets are not read
  /// for the index again. The caller answers for the index being that of the title.
  const FrameIndex* index = nullptr;
  std::int64_t first = 0, last = 0;
  std::string software;  ///< goes into the header
  /// Called after each frame, from one thread at a time; false stops. What was measured is kept.
  std::function<bool(const SurveyProgress&)> progress;
};

struct FrameSpan {
  std::int64_t first = 0, last = 0;  ///< frames [first, last)
};
/// A title cut into at most `parts` spans of about one length. Each begins on a key frame; together they hold every
/// frame once. Fewer where key frames are fewer or far apart. `parts` of at least 1.
[[nodiscard]] std::vector<FrameSpan> cut_on_key_frames(const FrameIndex& index, int parts);

struct SurveyOutcome {
  SurveyHeader header;
  std::vector<FrameLight> light;  ///< of all frames in it
  bool stopped = false;           ///< by `progress`: the survey is unfinished, the same call goes on with it
};

/// Surveys a title, or one part of it, into a survey file at `out`; goes on with the unfinished survey that a stopped
/// or killed run of the same title, part and options has left there. Decoding and measuring overlap, at most
/// options.reading.threads frames (0: cores) are measured at once. Memory does not grow with the length but for about
/// 0.1 kB a frame.
/// A title that breaks off gives a survey with complete = false and the reason in troubles.
/// Errors: those of open_reader, FrameMeter::make and SurveyWriter::begin; out_of_range for part or parts, or for first
/// and last that are no part of `index`; unsupported for a part that holds no key frame; io if reading or writing stops
/// (what was measured is kept).
[[nodiscard]] Result<SurveyOutcome> survey_title(const std::string& path, const std::string& out,
                                                 const SurveyOptions& options);

/// The same of a live source, until options.progress says stop or live.give_up_s is over: then the survey is finished.
/// The unfinished survey of a killed session is continued: indices and times follow on.
[[nodiscard]] Result<SurveyOutcome> survey_live(const std::string& address, const std::string& out,
                                                const LiveOptions& live, const SurveyOptions& options);

/// Joins the parts of one title, in any order, into one survey: byte for byte the survey of the whole if they cover it.
/// Errors: those of SurveyFile::open; conflict if they are of different titles, formats, versions or SIMD levels,
/// overlap, or leave a gap (which is named).
[[nodiscard]] Result<SurveyHeader> merge_surveys(std::span<const std::string> parts, const std::string& out);

/// A surveyed title for a report (docs/report.md, "titles"): what was read, light levels, declared metadata, the course
/// of maximum, 99.9 % luminance and mean over at most `columns` spans of time, scenes and the moments that test most.
[[nodiscard]] nlohmann::ordered_json title_document(const SurveyHeader& header, std::span<const FrameRecord> frames,
                                                    double peak_cdm2, std::size_t columns = 600);

/// Frames as CSV: a head line that names each figure and its unit, then one line per frame.
[[nodiscard]] std::string csv_head();
void append_csv(std::string& text, std::span<const FrameRecord> frames);

}  // namespace provenit::programme
