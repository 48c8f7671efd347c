#include "shown_devices.h"

#include <iostream>

namespace provenit::cli {

Result<ShownDevices> open_shown_devices(const OpenLoan& open, const ScreenChoice& choice, const std::string& pictures,
                                        MachineClock& clock) {
  ShownDevices out;
  stop_on_signals();
  auto lock = loan::RunLock::take(open.bench.path(), open.loan.id);
  if (!lock) return tl::unexpected(lock.error());
  out.lock.emplace(std::move(*lock));
  if (choice.any()) {
    const auto display = open.bench.display(open.loan.display);
    if (!display) return tl::unexpected(display.error());
    auto screen = open_screen(choice, display->encoding, {kScreenCaution}, false);
    if (!screen) return tl::unexpected(screen.error());
    out.screen = std::move(*screen);
    out.presenter = std::make_unique<show::ScreenPresenter>(*out.screen);
  }
  auto devices = loan::open_devices(open.bench, open.loan,
                                    {.machine_clock = &clock,
                                     .in = &std::cin,
                                     .out = &std::cerr,
                                     .picture_folder = pictures,
                                     .screen = out.presenter.get()});
  if (!devices) return tl::unexpected(devices.error());
  out.devices = std::move(*devices);
  return out;
}

}  // namespace provenit::cli
