#pragma once
// What a simulated display is made of. All of it is invented (docs/simulator.md); none of it is a model that any other
// part of the project fits.
#include <array>
#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "provenit/base/error.h"
#include "provenit/colour/quantities.h"
#include "provenit/simulated/capture.h"

namespace provenit::simulated {

/// One Gaussian peak of a spectral power distribution. The long-wave side may be wider (phosphors).
struct Peak {
  double centre_nm = 0;
  double fwhm_nm = 0;
  double height = 1;           ///< relative
  double long_side_ratio = 1;  ///< FWHM of the long-wave half over that of the short-wave half
};

/// One pass band of a colour filter: logistic edges of width edge_nm at from_nm and to_nm.
struct Band {
  double from_nm = 0, to_nm = 0, edge_nm = 5;
  double transmission = 1;
};

/// A smooth deviation of a channel's tracking: a factor exp(amount * exp(-((E' - centre) / width)^2 / 2)), where E' is
/// the PQ signal of the channel's light.
struct Deviation {
  double centre = 0.5, width = 0.1, amount = 0;
};

struct Primary {
  std::vector<Peak> emission;  ///< of its own (self-emissive); empty for a filtered backlight
  std::vector<Band> filter;    ///< of the backlight; empty for a self-emissive primary
  double filter_floor = 0;     ///< transmission outside all bands: crosstalk of the filter
  double level_shift_nm = 0;   ///< shift of the whole spectrum at no drive against full drive, as 1 - drive^(1/4)
  double warm_shift_nm = 0;    ///< shift of the warm against the cold display
  double headroom = 1;         ///< largest drive, 1 = this primary's share of white at peak
  double near_black_knee = 0;  ///< drive below which light is crushed (exponent > 0) or lifted (< 0); 0 = not at all
  double near_black_exponent = 0;
  std::vector<Deviation> tracking;
};

/// How the display reads a signal: what it believes about itself.
struct Decoding {
  double believed_peak_cdm2 = 1000;
  std::array<colour::Xy<>, 3> believed_primaries{};
  colour::Xy<> believed_white{};
  /// Share s of the believed peak where the soft clip begins; it ends, without slope, at 2 - s of it. 1 = hard clip.
  double roll_off_start = 1;
  int panel_bits = 0;  ///< driver resolution with a 2.4 power law; 0 = continuous
};

/// Light that leaves the display with all channels shut.
struct Leakage {
  double luminance_cdm2 = 0;  ///< at a fully lit backlight (scales with it), or at all times if self-emissive
  std::vector<Band> filter;   ///< colour of what leaks from a backlight
  std::vector<Peak> emission;
};

/// Limits light by how much of it the picture asks for. load = mean over the picture of the channels' drives, weighted.
struct Limiter {
  struct Point {
    double load = 0;  ///< (0, 1]
    double cap = 1;   ///< largest drive at this load; must not rise with load
  };
  std::vector<Point> points;  ///< monotone cubic between them in log load; constant outside; empty = no limiter
  std::array<double, 3> channel_weight{1. / 3, 1. / 3, 1. / 3};
  double dim_share = 0;  ///< 0: only what lies above the cap is cut; 1: the whole picture is dimmed by the cap
  double attack_s = 0.25, recovery_s = 0.3;
};

/// Local dimming of a backlight.
struct Zones {
  int columns = 1, rows = 1;
  double minimum_drive = 0;    ///< of a zone with nothing to show
  double drive_exponent = 1;   ///< zone drive = minimum + (1 - minimum) * demand^exponent
  double maximum_share = 1;    ///< demand = share * maximum + (1 - share) * mean of the zone's picture
  double neighbour_share = 0;  ///< no zone is driven less than this share of its brightest neighbour
  double spread_zones = 1;     ///< standard deviation of the light spread, in zone heights
  double halo_share = 0;       ///< share of the light in the wide halo
  double halo_zones = 5;       ///< 1/e distance of the halo, in zone heights
  double estimate_error = 0;   ///< relative error of the display's own idea of the spread (its pixel compensation)
  double rise_s = 0.1, fall_s = 0.2;
};

/// Slow changes. Channel factor = 1 + fast * exp(-t / fast_s) + slow * exp(-t / slow_s) + wander, t since power on.
struct Thermal {
  double fast_s = 60, slow_s = 1500;
  std::array<double, 3> fast{}, slow{};  ///< relative, per channel
  double wander_luminance = 0;           ///< standard deviation, all channels alike
  double wander_channel = 0;             ///< standard deviation, each channel by itself
  double wander_shortest_s = 900;        ///< shortest and longest period in it
  double wander_longest_s = 14400;
};

/// How light differs over the picture: each channel is multiplied by exp(-corner r^2 + across u + down v + lumps), over
/// its value at the centre; r is the distance from the centre, 1 at the corners, u and v run from -1 to 1.
struct Unevenness {
  struct Lump {
    double x = 0.5, y = 0.5;         ///< shares of width and height
    double width = 0.2;              ///< standard deviation, shares of the height
    std::array<double, 3> amount{};  ///< of the exponent, R, G, B
  };
  std::array<double, 3> corner{}, across{}, down{};
  std::vector<Lump> lumps;
};

/// How light falls with the angle a from the normal: channel factor 1 / (1 + (a / half_deg)^power). Vertical angles
/// count `vertical_ratio` times. Leakage gains on the channels: its factor is theirs (mean) x (1 + black_lift sin^2 a).
struct ViewingAngle {
  std::array<double, 3> half_deg{1e9, 1e9, 1e9};
  double power = 2;
  double vertical_ratio = 1;
  double black_lift = 0;
};

/// Slow dimming of what stays bright: after delay_s on one signal the limiter's cap falls exponentially by the share
/// depth x (load - from_load) / (1 - from_load), and recovers after the signal has changed.
struct StayDimming {
  double depth = 0;  ///< 0: none
  double from_load = 0.25;
  double delay_s = 45, time_s = 120, recovery_s = 60;
};

/// What the display does to pictures and codes before the panel; clipping is `decoding`'s.
struct Processing {
  Kernel scaler = Kernel::bicubic;
  bool chroma_across = false, chroma_down = false;  ///< carried at half resolution
  int bits = 16;                                    ///< of the processed codes, at most those of the signal
  bool keeps_hue = false;                           ///< its clip; false: each channel by itself
};

/// One of the display's own controls. It acts on the channels' signals (the 2.4th root of their drives), in proportion
/// to u = (value - neutral) / (distance of the further end from neutral), bent to u (1 + bend u).
struct PictureControl {
  std::string name;
  double lowest = 0, highest = 100, step = 1, neutral = 50;
  std::array<double, 3> gain{};    ///< of R, G, B at u = 1: signal x (1 + gain)
  std::array<double, 3> offset{};  ///< of R, G, B at u = 1: signal + offset
  double bend = 0;
  double centre = 0.5, width = 0;  ///< acts as exp(-((signal - centre) / width)^2 / 2); width 0: everywhere
};

struct DisplayPhysics {
  std::string id, name, technology;
  double claimed_peak_cdm2 = 1000;
  double peak_cdm2 = 1000;           ///< white at drive 1, backlight fully and evenly lit, warm
  colour::Xy<> white{};              ///< chromaticity there
  double aspect = 16.0 / 9;          ///< of the picture
  std::vector<Peak> backlight;       ///< empty for self-emissive
  std::array<Primary, 3> primaries;  ///< R, G, B
  Leakage leakage;
  /// Channel i's light is multiplied by 1 + sum over j of interaction[i][j] * drive_j: what breaks additivity.
  std::array<std::array<double, 3>, 3> interaction{};
  Decoding decoding;
  Limiter limiter;
  std::optional<Zones> zones;
  Thermal thermal;
  Unevenness unevenness;
  ViewingAngle viewing_angle;
  StayDimming stay_dimming;
  Processing processing;
  std::vector<PictureControl> controls;
  double refresh_hz = 60;
  double input_delay_s = 0;  ///< from the signal to the light: what the picture processing takes
  double modulation = 0;     ///< depth of a sinusoidal modulation of the light at the refresh rate
};

/// Reads a display from TOML; docs/simulator.md lists the keys.
/// Errors: invalid_input or out_of_range with file, line and key; unknown keys are errors.
[[nodiscard]] Result<DisplayPhysics> parse_physics(std::string_view toml, const std::string& file_name);
/// The same from a file. Errors: also io.
[[nodiscard]] Result<DisplayPhysics> load_physics(const std::string& path);
/// The displays of data/simulated, which every binary carries: "tern-32", "curlew-27", "fluoride-check".
/// Errors: not_found, naming those there are.
[[nodiscard]] Result<DisplayPhysics> built_in_physics(std::string_view id);
[[nodiscard]] std::vector<std::string> built_in_ids();

/// Another unit of the same kind: peak, white, spectra, tracking, black, limiter and drift vary as production would
/// have it. Deterministic in the seed; the result is valid whenever the input is.
[[nodiscard]] DisplayPhysics vary(const DisplayPhysics& physics, std::uint64_t seed);

}  // namespace provenit::simulated
