#pragma once
// The devices of a loan with the screen of this machine that shows their signals, if one is chosen.
#include <memory>
#include <optional>
#include <string>

#include "provenit/loan/devices.h"
#include "provenit/loan/run_lock.h"
#include "screen_choice.h"
#include "verbs.h"

namespace provenit::cli {

/// Members refer to each other, and to the clock.
struct ShownDevices {
  std::optional<loan::RunLock> lock;
  std::unique_ptr<show::Screen> screen;  ///< null: none was chosen
  std::unique_ptr<show::ScreenPresenter> presenter;
  std::unique_ptr<loan::Devices> devices;
};

/// From now on a stop is only asked for. Errors: those of RunLock::take, open_screen and
/// loan::open_devices.
[[nodiscard]] Result<ShownDevices> open_shown_devices(const OpenLoan& open, const ScreenChoice& choice,
                                                      const std::string& pictures, MachineClock& clock);

}  // namespace provenit::cli
