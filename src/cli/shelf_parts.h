#pragma once
// What the parts of `provenit shelf` share.
#include <string>
#include <vector>

#include "output.h"
#include "provenit/shelf/shelf.h"

namespace provenit::cli {

struct ShelfOptions {
  std::string folder, title, quantity, sort, set, technology;
  std::vector<std::string> benches;
  bool smallest_first = false;
  int first = 0, second = 0;
};

/// A shelf, of its items those that were asked for, and the number of each in the list of all.
struct OpenShelf {
  shelf::Shelf shelf;
  std::vector<shelf::Item> items;
  std::vector<std::size_t> numbers;
};
/// Errors: those of Shelf::open and items; not_found if nothing is left.
[[nodiscard]] Result<OpenShelf> open_shelf(const ShelfOptions& options);

/// A quantity in words, with its conditions.
[[nodiscard]] std::string in_words(const std::string& quantity, const nlohmann::json& conditions);
[[nodiscard]] std::string unit_text(const std::string& unit);
/// "1431 cd/m2 (1401 to 1461)"
[[nodiscard]] std::string figure_in_words(const store::FindingRecord& finding);
[[nodiscard]] nlohmann::ordered_json figure_json(const store::FindingRecord& finding);
[[nodiscard]] nlohmann::ordered_json item_json(std::size_t number, const shelf::Item& item);

// The verbs that hold displays against each other.
int shelf_beside(const Output& output, const ShelfOptions& options);
int shelf_meets(const Output& output, const ShelfOptions& options);
int shelf_between(const Output& output, const ShelfOptions& options);
int shelf_ageing(const Output& output, const ShelfOptions& options);

}  // namespace provenit::cli
