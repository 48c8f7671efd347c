#pragma once
// The rows of the bench as plain values. JSON columns hold what only people and reports read, or what differs by kind.
#include <cstdint>
#include <nlohmann/json.hpp>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "provenit/base/clock.h"
#include "provenit/instrument/instrument.h"
#include "provenit/signal/signal.h"

namespace provenit::store {

using Id = std::int64_t;  ///< 0 = not stored yet

struct DisplayRecord {
  Id id = 0;
  std::string name;
  std::string technology;                             ///< as claimed: "LCD, mini-LED", free text
  signal::Encoding encoding;                          ///< how it is fed
  nlohmann::json details = nlohmann::json::object();  ///< size, raster, firmware, mode, claims as text; `simulated`
                                                      ///< names a simulated display
};

struct InstrumentRecord {
  Id id = 0;
  std::string name;
  std::string kind;  ///< "simulated", "line", "manual", "import"
  instrument::Certificate certificate;
  instrument::Capabilities capabilities;
  nlohmann::json details =
      nlohmann::json::object();  ///< path and address of a line instrument, seed of a simulated one, serial ...
};

struct RoomRecord {
  Id id = 0;
  std::string name;
  std::optional<double> surround_cdm2;  ///< luminance of the surround
  std::optional<double> screen_illuminance_lx;
  nlohmann::json details = nlohmann::json::object();
};

struct LoanRecord {
  Id id = 0;
  Id display = 0, instrument = 0, room = 0;
  Timestamp starts, ends;
  std::string purpose;
  std::uint64_t seed = 1;  ///< of everything random in this loan: Monte Carlo draws, a simulated display and meter
};

/// How a question's limit is known (shared/standards marks), carried to the report.
enum class SourceMark { seen, second_hand, calculated, common_practice, claim, from_memory, unset };

enum class Comparison { at_least, at_most, within, equal_set };

struct QuestionRecord {
  Id id = 0;
  Id loan = 0;
  std::string key;       ///< stable within its set, e.g. "peak-10"
  std::string set;       ///< requirement set id, e.g. "ebu-tech-3320-v4.1" or "claims"
  std::string text;      ///< the question in words
  std::string quantity;  ///< quantity key, see procedure/catalogue.h, e.g. "peak_luminance"
  nlohmann::json conditions =
      nlohmann::json::object();  ///< must match the finding's conditions, e.g. {"window_percent": 10}
  Comparison comparison = Comparison::at_least;
  std::optional<double> lower, upper;  ///< at_least uses lower, at_most upper, within both; both unset: an open
                                       ///< question (value wanted, no limit)
  std::string unit;
  std::string clause, source;  ///< document, edition, clause
  SourceMark mark = SourceMark::unset;
  double weight = 1;
};

enum class RunState { open, finished, aborted };

struct RunRecord {
  Id id = 0;
  Id loan = 0;
  std::string procedure;  ///< procedure id, e.g. "greyscale"
  int procedure_version = 1;
  nlohmann::json parameters = nlohmann::json::object();  ///< what next() needs to be the same after a resume
  RunState state = RunState::open;
  Timestamp started;
  std::optional<Timestamp> ended;
  std::string origin;  ///< "measured", "simulated", "imported:<file> sha256:<hash>", "typed"
};

/// One instrument result. Never changed and never deleted: the database refuses both.
struct ReadingRecord {
  Id id = 0;
  Id run = 0;
  std::int64_t sequence = 0;  ///< 0, 1, 2 ... within the run
  std::string step;           ///< step key, e.g. "grey_512", "window_10", "reference"
  int repeat = 0;             ///< 0 for the first reading of this step in the run
  Timestamp taken;            ///< start of the integration
  signal::Signal signal;
  instrument::Measurement measurement;
  nlohmann::json context = nlohmann::json::object();  ///< settle time, placement ... (keys: docs/data-package.md)
};

/// Which readings; each part that is 0 leaves them all in.
struct ReadingQuery {
  Id loan = 0, run = 0;
  Id after = 0;   ///< ids above it
  Id up_to = 0;   ///< ids up to it
  int limit = 0;  ///< the first so many; below 0, the last so many
};

/// Something that happened in a run and is no reading: a refused reply, a time-out, a pause, drift beyond the limit.
struct EventRecord {
  Id id = 0;
  Id run = 0;
  Timestamp at;
  std::string kind;
  std::string text;
};

enum class Verdict { meets, fails, undecided };

/// A computed figure. Superseded ones stay (a later finding of the same key replaces them in reports).
struct FindingRecord {
  Id id = 0;
  Id loan = 0;
  std::string quantity;  ///< catalogue key
  nlohmann::json conditions = nlohmann::json::object();
  double value = 0;
  std::string unit;
  double standard_uncertainty = 0;
  double lower95 = 0, upper95 = 0;  ///< 95 % coverage interval
  std::string interval_method;      ///< "linear, t-factor", "Monte Carlo, shortest (JCGM 101 5.3.4)", ...
  std::string dominant;             ///< what dominates, in words: "instrument's luminance scale (86 % of variance)"
  std::string method;               ///< method id with edition, e.g. "eotf-tracking/BT.2100-3"
  int method_version = 1;
  std::vector<std::string> sources;  ///< documents
  nlohmann::json parts =
      nlohmann::json::object();  ///< variance shares; luminance and chromaticity split of a difference
  nlohmann::json series =
      nlohmann::json::array();  ///< the points of its chart, documented per quantity in docs/methods
  std::vector<Id> readings;     ///< every reading it was computed from
  std::vector<Id> attachments;  ///< every attachment it was computed from
  Timestamp computed;
  std::string software;  ///< version that computed it
};

struct VerdictRecord {
  Id id = 0;
  Id question = 0, finding = 0;
  Verdict verdict = Verdict::undecided;
  std::optional<double> margin;  ///< signed distance of the value from the nearest limit, positive = inside
  std::string decides;           ///< which part decides, e.g. "luminance scale"
  std::string text;              ///< for people
};

enum class AttachmentKind { trace, still, clip };

/// A file that the loan keeps as it is: a light sensor's trace, a captured frame, a clip. Never changed, never removed.
struct AttachmentRecord {
  Id id = 0;
  Id loan = 0;
  Id run = 0;  ///< the run during which it was recorded; 0: none
  AttachmentKind kind = AttachmentKind::trace;
  std::string recording;  ///< what it was recorded for, see procedure/recording.h
  std::string name;       ///< of the file, without folders
  nlohmann::json conditions =
      nlohmann::json::object();  ///< what it was taken of and how: test picture with parameters, rate, sensor
  Timestamp added;
  std::string content_hash;  ///< SHA-256 of the file's bytes; the bench computes it
  std::int64_t bytes = 0;    ///< size of the file; the bench fills it in
};

/// A correction that was solved for a loan: a table as a file, and what it is for.
struct CorrectionRecord {
  Id id = 0;
  Id loan = 0;
  Id run = 0;                                      ///< whose readings it was solved from
  std::string name;                                ///< of the file, without folders
  nlohmann::json goal = nlohmann::json::object();  ///< keys: docs/correction.md
  Timestamp added;
  std::string content_hash;  ///< SHA-256 of the file's bytes; the bench computes it
  std::int64_t bytes = 0;    ///< size of the file; the bench fills it in
};

/// The survey of a programme; its frames lie in chunks.
struct SurveyRecord {
  Id id = 0;
  std::string title;
  std::string hash;  ///< SHA-256 over header and frames: equal surveys have equal hashes
  std::int64_t frames = 0;
  nlohmann::json header = nlohmann::json::object();
  Timestamp added;
};
struct SurveyChunk {
  std::int64_t frames = 0;
  std::string content;  ///< bytes that the programme library packs and unpacks
};

/// Records that people describe, and may take back.
enum class RecordKind { display, instrument, room, loan, question };
[[nodiscard]] const char* name_of(RecordKind kind);

// Names as they stand in the bench, in files and in --json output: the enumerator's own name, e.g. "second_hand".
[[nodiscard]] const char* name_of(SourceMark mark);
[[nodiscard]] const char* name_of(Comparison comparison);
[[nodiscard]] const char* name_of(RunState state);
[[nodiscard]] const char* name_of(Verdict verdict);
[[nodiscard]] const char* name_of(AttachmentKind kind);
// The inverse; nullopt for any other text.
[[nodiscard]] std::optional<SourceMark> source_mark_from_name(std::string_view name);
[[nodiscard]] std::optional<Comparison> comparison_from_name(std::string_view name);
[[nodiscard]] std::optional<RunState> run_state_from_name(std::string_view name);
[[nodiscard]] std::optional<Verdict> verdict_from_name(std::string_view name);
[[nodiscard]] std::optional<AttachmentKind> attachment_kind_from_name(std::string_view name);

}  // namespace provenit::store
