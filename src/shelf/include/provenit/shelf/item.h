#pragma once
// One loan on the shelf, as the functions of this library see it.
#include <string>
#include <string_view>
#include <vector>

#include "provenit/store/records.h"

namespace provenit::shelf {

struct Item {
  std::string bench;      ///< its file on the shelf
  std::string title;      ///< of the bench
  std::string evaluator;  ///< who evaluated
  std::string name;       ///< the display's; where it stands more than once on the shelf, with what tells it apart
  store::DisplayRecord display;
  store::InstrumentRecord instrument;
  store::RoomRecord room;  ///< id 0: none
  store::LoanRecord loan;
  std::vector<store::FindingRecord> findings;  ///< latest set
  bool recomputed = false;  ///< this program computed the same findings from the readings when the bench was added
};

/// Gives every item a name of its own: the display's name, with the loan's day where two have it, with evaluator and
/// loan where the day is the same too.
void name_items(std::vector<Item>& items);

/// "2026-11-25", UTC.
[[nodiscard]] std::string day_of(Timestamp time);
/// "window_percent 10, level 0.5", in the order of the keys; empty if there are none.
[[nodiscard]] std::string conditions_text(const nlohmann::json& conditions);

/// Both readings' instrument is the same one with the same certificate: by serial number, simulated ones by their seed.
/// Without either nobody can know, and they count as two.
[[nodiscard]] bool same_instrument(const store::InstrumentRecord& a, const store::InstrumentRecord& b);
/// The same specimen: name and serial number; without a serial number in both, the name alone.
[[nodiscard]] bool same_display(const store::DisplayRecord& a, const store::DisplayRecord& b);

}  // namespace provenit::shelf
