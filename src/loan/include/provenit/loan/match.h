#pragma once
// Two loans of one bench: where one display's white must stand to look like the other's.
#include <string>
#include <vector>

#include "provenit/base/error.h"
#include "provenit/evaluation/visual_match.h"
#include "provenit/store/bench.h"

namespace provenit::loan {

struct WhiteMatch {
  struct Side {
    store::Id loan = 0, run = 0;
    std::string display, instrument;
    std::vector<store::Id> readings;
  };
  Side reference, adjusted;
  bool same_instrument = false;
  evaluation::MatchFigures figures;
};

/// From the newest run of `spectra` of each loan (finished before open ones). Errors: invalid_input if both loans are
/// of one display; not_found, naming the loan, if it has no such run; those of match_whites.
[[nodiscard]] Result<WhiteMatch> match_whites(const store::Bench& bench, const store::LoanRecord& reference,
                                              const store::LoanRecord& adjusted, colour::Observer observer);

}  // namespace provenit::loan
