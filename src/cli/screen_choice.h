#pragma once
// On which screen of this machine: a page in the browser, or an output driven directly.
#include <memory>
#include <string>
#include <vector>

#include "provenit/show/screen.h"

namespace CLI {
class App;
}

namespace provenit::cli {

struct ScreenChoice {
  bool page = false, direct = false;
  int port = 0;
  std::string output;  ///< the connector; empty: the only one
  std::string mode;    ///< "3840x2160@23.976", "1920x1080"; empty: the display's own
  double mastering_minimum_cdm2 = 0.0001;
  int max_cll_cdm2 = 0, max_fall_cdm2 = 0;

  [[nodiscard]] bool any() const { return page || direct || !output.empty(); }
  [[nodiscard]] bool by_page() const { return page; }
  /// Errors: invalid_input unless exactly one screen is named.
  [[nodiscard]] Result<void> chosen() const;
};

inline constexpr const char* kScreenCaution =
    "Bright pictures dazzle eyes used to the dark and can leave traces on a panel: announce them, keep them short, end "
    "on black. Local safety rules come first.";

/// The options --page, --port, --output, --direct, --mode, --mastering-minimum, --max-cll, --max-fall.
void add_screen_choice(CLI::App& verb, ScreenChoice& choice);
/// Opens it and says on stderr what to do and what is in doubt. Stops when a stop is asked for.
/// errors  those of show::Page::open and show::Output::open; invalid_input for --mode
[[nodiscard]] Result<std::unique_ptr<show::Screen>> open_screen(const ScreenChoice& choice,
                                                                const signal::Encoding& encoding,
                                                                const std::vector<std::string>& cautions,
                                                                bool flashing_confirmed);

}  // namespace provenit::cli
