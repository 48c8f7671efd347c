#pragma once
// A picture on its way from the one before: where zones and limiter stand at a time.
#include <optional>

#include "controls_internal.h"
#include "decoder_internal.h"
#include "limiter_internal.h"
#include "panel_internal.h"
#include "provenit/simulated/physics.h"
#include "zones_internal.h"

namespace provenit::simulated {

/// What a picture asks of the display once all has settled.
struct Demand {
  Drive at_spot{};
  double load = 0;
  double cap = 1;
  ZoneField::Drives zones;  ///< empty if there are none
};

/// What has been left behind by the picture before, at the moment of the change.
struct Standing {
  double cap = 1;
  ZoneField::Drives zones;
};

class Optics {
 public:
  Optics(const DisplayPhysics& physics, PictureControls controls, double spot_x, double spot_y);

  /// local_dimming false: every zone is fully lit, whatever is shown.
  [[nodiscard]] Demand demand(const signal::Signal& signal, bool local_dimming) const;
  /// The same of any picture: `zones` as each has to show (unused without zones), `channels` the mean drive of each.
  [[nodiscard]] Demand demand(const std::vector<ZoneContent>& zones, const Drive& channels) const;
  [[nodiscard]] Backlight settled(const Demand& demand) const;
  /// Where zones and limiter stand `since` the change from `from` to `to`.
  [[nodiscard]] Standing standing(const Standing& from, const Demand& to, Seconds since) const;
  [[nodiscard]] Backlight backlight(const Standing& standing) const;
  /// After this no trace of the picture before is left.
  [[nodiscard]] Seconds lag() const;

 private:
  [[nodiscard]] Backlight backlight(double cap, const ZoneField::Drives& zones) const;
  DisplayPhysics physics_;
  double spot_x_, spot_y_;
  Decoder decoder_;
  PictureControls controls_;
  LimiterCurve limiter_;
  std::optional<ZoneField> zones_;
};

}  // namespace provenit::simulated
