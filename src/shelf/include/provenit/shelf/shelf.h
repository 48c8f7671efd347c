#pragma once
// A shelf: a folder with benches of many loans, from one evaluator or many, each checked before it is taken in.
//
//   shelf.json    what is on it, in order ("provenit-shelf/1")
//   benches/      copies of the benches; those that a later state of the same bench replaced stay
//
// A bench is taken in whole or not at all, and the one it was copied from is only read. One Shelf object is used from
// one thread; of several programs that add at once, one waits for the other.
#include <optional>
#include <string>
#include <vector>

#include "provenit/base/clock.h"
#include "provenit/base/error.h"
#include "provenit/shelf/item.h"

namespace provenit::shelf {

/// A bench on the shelf.
struct Entry {
  std::string file;  ///< within benches/
  std::string name;  ///< of the file it was copied from, without folders
  std::string title, evaluator;
  Timestamp created, added;
  std::string sha256;  ///< of the file on the shelf
  std::int64_t runs = 0, readings = 0;
  std::vector<std::string> replaced;  ///< files of earlier states of the same bench, oldest first
  std::vector<store::Id> recomputed;  ///< loans whose findings this program computed alike from the readings
  std::vector<std::string> notes;     ///< what was not checked, and why
};

class Shelf {
 public:
  /// Makes an empty shelf. Errors: conflict if there is something at `folder` that is no empty folder; io.
  [[nodiscard]] static Result<Shelf> create(const std::string& folder, const std::string& title, Timestamp now);
  /// Errors: not_found; invalid_input naming the field if shelf.json cannot be read; conflict if a newer program wrote
  /// it.
  [[nodiscard]] static Result<Shelf> open(const std::string& folder);

  [[nodiscard]] const std::string& folder() const { return folder_; }
  [[nodiscard]] const std::string& title() const { return title_; }
  [[nodiscard]] const std::vector<Entry>& entries() const { return entries_; }
  [[nodiscard]] std::string path_of(const Entry& entry) const;

  /// Takes a bench in: copies it, recomputes the chain of every reading, the hash of every file that it keeps, and,
  /// where this program is the one that computed the findings, the findings themselves. A later state of a bench that
  /// is here takes its place; the earlier one is kept as Entry::replaced. `software`: this program's version, as
  /// findings carry it. Errors: those of Bench::open (damaged, truncated, newer); invalid_input naming reading, file or
  /// finding that is not what was stored, or a bench without findings; conflict if the same state is here, or a bench
  /// of the same origin whose readings are not a continuation of those here. Nothing on the shelf changes then.
  [[nodiscard]] Result<Entry> add(const std::string& bench, Timestamp now, const std::string& software);

  /// Files that are not what was taken in any more, by the hash of their bytes, or are not there. Files of replaced
  /// benches are not looked at.
  [[nodiscard]] Result<std::vector<std::string>> damaged() const;

  /// What is read of findings. Comparisons need figures alone; courses to draw are in the series.
  enum class Findings { whole, figures };
  /// Every loan of every bench that has findings, in the order they were added; those of an entry's replaced benches
  /// are not among them. Findings as Bench::latest_findings or latest_figures gives them. Errors: those of the store.
  [[nodiscard]] Result<std::vector<Item>> items(Findings findings = Findings::whole) const;
  /// The loans of one bench file of the shelf. Errors: as items.
  [[nodiscard]] Result<std::vector<Item>> items_of(const std::string& file, Findings findings = Findings::whole) const;

  /// A finding that a later state of its bench gives otherwise.
  struct Changed {
    std::string bench;  ///< title
    std::string display;
    store::FindingRecord before;
    std::optional<store::FindingRecord> now;  ///< none: withdrawn
  };
  /// What the newest states of the benches say otherwise than the states before them: value or interval by more than a
  /// millionth, or withdrawn. Findings::figures of each. Errors: as items.
  [[nodiscard]] Result<std::vector<Changed>> changed() const;

 private:
  Shelf(std::string folder, std::string title, Timestamp created)
      : folder_(std::move(folder)), title_(std::move(title)), created_(created) {}
  [[nodiscard]] Result<void> write() const;

  std::string folder_, title_;
  Timestamp created_;
  std::vector<Entry> entries_;
};

}  // namespace provenit::shelf
