#include <fmt/format.h>

#include <algorithm>
#include <string_view>
#include <utility>

#include "emitters_internal.h"
#include "provenit/base/text.h"
#include "provenit/simulated/physics.h"
#include "simulated_assets.h"
#include "toml_reader_internal.h"

namespace provenit::simulated {
namespace {

constexpr Limits kNanometres{.lowest = 300, .highest = 1000};
constexpr Limits kWidth{.lowest = 0.1, .highest = 1000};
constexpr Limits kChromaticity{.lowest = 0.001, .highest = 0.999};
constexpr Limits kTimeConstant{.lowest = 0.001, .highest = 1e6};
constexpr Limits kSmallRelative{.lowest = -0.5, .highest = 0.5};
constexpr Limits kMenu{.lowest = -1e6, .highest = 1e6};
constexpr std::array<const char*, 3> kChannels{"red", "green", "blue"};

std::vector<Peak> peaks_of(TomlReader& from) {
  std::vector<Peak> out;
  for (auto& t : from.tables("peaks")) {
    out.push_back({.centre_nm = t.number("centre_nm", kNanometres),
                   .fwhm_nm = t.number("fwhm_nm", kWidth),
                   .height = t.number("height", kNotNegative),
                   .long_side_ratio = t.number("long_side_ratio", {0.1, 10}, 1)});
    t.finish();
  }
  return out;
}

std::vector<Band> bands_of(TomlReader& from) {
  std::vector<Band> out;
  for (auto& t : from.tables("bands")) {
    out.push_back({.from_nm = t.number("from_nm", {0, 2000}),
                   .to_nm = t.number("to_nm", {0, 2000}),
                   .edge_nm = t.number("edge_nm", kWidth, 5),
                   .transmission = t.number("transmission", kShare, 1)});
    t.finish();
  }
  return out;
}

colour::Xy<> xy_of(TomlReader& from, const char* key) {
  const auto [x, y] = from.numbers<2>(key, kChromaticity);
  if (x + y > 1 + 1e-12) from.refuse(key, "x + y is above 1", "Give CIE 1931 x, y.");
  return {.x = x, .y = y};
}

Primary primary_of(TomlReader t, bool filtered) {
  Primary p;
  if (filtered) {
    p.filter = bands_of(t);
    p.filter_floor = t.number("floor", kShare, 0);
    if (p.filter.empty()) t.refuse("bands", "no pass band", "Give bands: this display has a backlight.");
  } else {
    p.emission = peaks_of(t);
    if (p.emission.empty()) t.refuse("peaks", "no emission", "Give peaks: this display has no backlight.");
  }
  p.level_shift_nm = t.number("level_shift_nm", {-20, 20}, 0);
  p.warm_shift_nm = t.number("warm_shift_nm", {-20, 20}, 0);
  p.headroom = t.number("headroom", {0.1, 2}, 1);
  p.near_black_knee = t.number("near_black_knee", kShare, 0);
  p.near_black_exponent = t.number("near_black_exponent", {-0.9, 3}, 0);
  for (auto& d : t.tables("tracking")) {
    p.tracking.push_back({.centre = d.number("centre", kShare),
                          .width = d.number("width", {0.01, 1}),
                          .amount = d.number("amount", kSmallRelative)});
    d.finish();
  }
  t.finish();
  return p;
}

Leakage leakage_of(TomlReader t, bool filtered) {
  Leakage l{.luminance_cdm2 = t.number("luminance_cdm2", kNotNegative)};
  if (filtered)
    l.filter = bands_of(t);
  else
    l.emission = peaks_of(t);
  t.finish();
  return l;
}

Decoding decoding_of(TomlReader t) {
  Decoding d;
  d.believed_peak_cdm2 = t.number("believed_peak_cdm2", kPositive);
  d.believed_primaries = {xy_of(t, "believed_red"), xy_of(t, "believed_green"), xy_of(t, "believed_blue")};
  d.believed_white = xy_of(t, "believed_white");
  d.roll_off_start = t.number("roll_off_start", {0.1, 1}, 1);
  d.panel_bits = t.integer("panel_bits", {0, 16}, 0);
  t.finish();
  return d;
}

Processing processing_of(TomlReader t) {
  Processing p;
  constexpr std::array<std::pair<std::string_view, Kernel>, 4> scalers{{{"nearest", Kernel::nearest},
                                                                        {"bilinear", Kernel::bilinear},
                                                                        {"bicubic", Kernel::bicubic},
                                                                        {"lanczos3", Kernel::lanczos3}}};
  const auto scaler = t.text("scaler"), chroma = t.text("chroma");
  const auto known = std::ranges::find(scalers, scaler, [](const auto& s) { return s.first; });
  if (known == scalers.end())
    t.refuse("scaler", "there is no scaler '" + scaler + "'", "Give nearest, bilinear, bicubic or lanczos3.");
  else
    p.scaler = known->second;
  if (chroma != "4:4:4" && chroma != "4:2:2" && chroma != "4:2:0")
    t.refuse("chroma", "'" + chroma + "' is no sampling", "Give 4:4:4, 4:2:2 or 4:2:0.");
  p.chroma_across = chroma != "4:4:4";
  p.chroma_down = chroma == "4:2:0";
  p.bits = t.integer("bits", {8, 16}, p.bits);
  p.keeps_hue = t.integer("keeps_hue", {0, 1}, 0) == 1;
  t.finish();
  return p;
}

Limiter limiter_of(TomlReader t) {
  Limiter l;
  for (auto& p : t.tables("points")) {
    l.points.push_back({.load = p.number("load", {1e-6, 1}), .cap = p.number("cap", {0.01, 1})});
    if (l.points.size() > 1 && l.points.back().load <= l.points[l.points.size() - 2].load)
      p.refuse("load", "loads must rise", "Sort the points by load.");
    if (l.points.size() > 1 && l.points.back().cap > l.points[l.points.size() - 2].cap)
      p.refuse("cap", "a cap must not rise with load", "Give a cap no larger than the one before.");
    p.finish();
  }
  if (l.points.size() == 1) t.refuse("points", "one point is no curve", "Give two points or more.");
  l.channel_weight = t.numbers<3>("channel_weight", kShare, l.channel_weight);
  l.dim_share = t.number("dim_share", kShare, l.dim_share);
  l.attack_s = t.number("attack_s", kTimeConstant, l.attack_s);
  l.recovery_s = t.number("recovery_s", kTimeConstant, l.recovery_s);
  t.finish();
  return l;
}

Zones zones_of(TomlReader t) {
  Zones z;
  z.columns = t.integer("columns", {1, 1000}, 1);
  z.rows = t.integer("rows", {1, 1000}, 1);
  z.minimum_drive = t.number("minimum_drive", kShare);
  z.drive_exponent = t.number("drive_exponent", {0.05, 5});
  z.maximum_share = t.number("maximum_share", kShare, z.maximum_share);
  z.neighbour_share = t.number("neighbour_share", kShare, z.neighbour_share);
  z.spread_zones = t.number("spread_zones", {0.05, 50});
  z.halo_share = t.number("halo_share", kShare, z.halo_share);
  z.halo_zones = t.number("halo_zones", {0.5, 100}, z.halo_zones);
  z.estimate_error = t.number("estimate_error", kSmallRelative, z.estimate_error);
  z.rise_s = t.number("rise_s", kTimeConstant, z.rise_s);
  z.fall_s = t.number("fall_s", kTimeConstant, z.fall_s);
  t.finish();
  return z;
}

Thermal thermal_of(TomlReader t) {
  Thermal h;
  h.fast_s = t.number("fast_s", kTimeConstant);
  h.slow_s = t.number("slow_s", kTimeConstant);
  h.fast = t.numbers<3>("fast", kSmallRelative);
  h.slow = t.numbers<3>("slow", kSmallRelative);
  h.wander_luminance = t.number("wander_luminance", {0, 0.1}, 0);
  h.wander_channel = t.number("wander_channel", {0, 0.1}, 0);
  h.wander_shortest_s = t.number("wander_shortest_s", kTimeConstant, h.wander_shortest_s);
  h.wander_longest_s = t.number("wander_longest_s", kTimeConstant, h.wander_longest_s);
  if (h.wander_longest_s < h.wander_shortest_s)
    t.refuse("wander_longest_s", "shorter than wander_shortest_s", "Give the longer period here.");
  t.finish();
  return h;
}

Unevenness unevenness_of(TomlReader t) {
  Unevenness u;
  u.corner = t.numbers<3>("corner", {0, 1}, u.corner);
  u.across = t.numbers<3>("across", kSmallRelative, u.across);
  u.down = t.numbers<3>("down", kSmallRelative, u.down);
  for (auto& l : t.tables("lumps")) {
    u.lumps.push_back({.x = l.number("x", kShare),
                       .y = l.number("y", kShare),
                       .width = l.number("width", {0.02, 2}),
                       .amount = l.numbers<3>("amount", kSmallRelative)});
    l.finish();
  }
  t.finish();
  return u;
}

ViewingAngle viewing_angle_of(TomlReader t) {
  ViewingAngle v;
  v.half_deg = t.numbers<3>("half_deg", {1, 1e9});
  v.power = t.number("power", {0.5, 10}, v.power);
  v.vertical_ratio = t.number("vertical_ratio", {0.1, 10}, v.vertical_ratio);
  v.black_lift = t.number("black_lift", {0, 100}, v.black_lift);
  t.finish();
  return v;
}

StayDimming stay_dimming_of(TomlReader t) {
  StayDimming s;
  s.depth = t.number("depth", {0, 0.9});
  s.from_load = t.number("from_load", {0, 0.99}, s.from_load);
  s.delay_s = t.number("delay_s", kNotNegative, s.delay_s);
  s.time_s = t.number("time_s", kTimeConstant, s.time_s);
  s.recovery_s = t.number("recovery_s", kTimeConstant, s.recovery_s);
  t.finish();
  return s;
}

std::vector<PictureControl> controls_of(TomlReader& from) {
  std::vector<PictureControl> out;
  for (auto& t : from.tables("controls")) {
    PictureControl c{.name = t.text("name")};
    c.lowest = t.number("lowest", kMenu);
    c.highest = t.number("highest", kMenu);
    c.step = t.number("step", {1e-6, 1e6});
    c.neutral = t.number("neutral", {c.lowest, c.highest});
    c.gain = t.numbers<3>("gain", kSmallRelative, c.gain);
    c.offset = t.numbers<3>("offset", kSmallRelative, c.offset);
    c.bend = t.number("bend", kSmallRelative, 0);
    c.centre = t.number("centre", kShare, c.centre);
    c.width = t.number("width", kShare, c.width);
    if (c.highest - c.lowest < c.step)
      t.refuse("step", "no step fits between lowest and highest", "Give a smaller step.");
    if (std::ranges::find(out, c.name, &PictureControl::name) != out.end())
      t.refuse("name", "two controls are named '" + c.name + "'", "Give each a name of its own.");
    t.finish();
    out.push_back(std::move(c));
  }
  return out;
}

void read_light(TomlReader t, DisplayPhysics& p) {
  p.peak_cdm2 = t.number("peak_cdm2", kPositive);
  p.white = xy_of(t, "white");
  p.aspect = t.number("aspect", {0.1, 10}, p.aspect);
  p.refresh_hz = t.number("refresh_hz", {1, 1000}, p.refresh_hz);
  p.modulation = t.number("modulation", kShare, p.modulation);
  p.input_delay_s = t.number("input_delay_s", {0, 1}, p.input_delay_s);
  t.finish();
}

DisplayPhysics physics_of(TomlReader& t) {
  DisplayPhysics p;
  p.id = t.text("id");
  p.name = t.text("name");
  p.technology = t.text("technology");
  p.claimed_peak_cdm2 = t.number("claimed_peak_cdm2", kPositive);
  read_light(t.table("light"), p);
  const bool filtered = t.has("backlight");
  if (filtered) {
    auto backlight = t.table("backlight");
    p.backlight = peaks_of(backlight);
    if (p.backlight.empty()) backlight.refuse("peaks", "a backlight without light", "Give peaks, or no backlight.");
    backlight.finish();
  }
  auto primaries = t.table("primary");
  for (std::size_t c = 0; c < 3; ++c) p.primaries[c] = primary_of(primaries.table(kChannels[c]), filtered);
  primaries.finish();
  if (t.has("leakage")) p.leakage = leakage_of(t.table("leakage"), filtered);
  if (t.has("interaction")) {
    auto interaction = t.table("interaction");
    for (std::size_t c = 0; c < 3; ++c) p.interaction[c] = interaction.numbers<3>(kChannels[c], {-0.1, 0.1});
    interaction.finish();
  }
  p.decoding = decoding_of(t.table("decoding"));
  if (t.has("processing")) p.processing = processing_of(t.table("processing"));
  p.controls = controls_of(t);
  if (t.has("limiter")) p.limiter = limiter_of(t.table("limiter"));
  if (t.has("zones")) {
    p.zones = zones_of(t.table("zones"));
    if (!filtered) t.refuse("zones", "zones without a backlight", "Take the table out, or give a backlight.");
  }
  p.thermal = thermal_of(t.table("thermal"));
  if (t.has("unevenness")) p.unevenness = unevenness_of(t.table("unevenness"));
  if (t.has("viewing_angle")) p.viewing_angle = viewing_angle_of(t.table("viewing_angle"));
  if (t.has("stay_dimming")) p.stay_dimming = stay_dimming_of(t.table("stay_dimming"));
  t.finish();
  return p;
}

}  // namespace

Result<DisplayPhysics> parse_physics(std::string_view text, const std::string& file_name) {
  toml::table root;
  try {
    root = toml::parse(text, file_name);
  } catch (const toml::parse_error& e) {
    return fail(ErrorCode::invalid_input, std::string(e.description()), "Correct the TOML syntax.",
                {.file = file_name, .line = static_cast<int>(e.source().begin.line)});
  }
  TomlErrors errors{.file = file_name};
  TomlReader reader(root, "", errors);
  DisplayPhysics physics = physics_of(reader);
  if (errors.first) return tl::unexpected<Error>(*errors.first);
  if (const auto emitters = Emitters::make(physics); !emitters) {
    Error error = emitters.error();
    error.where.file = file_name;
    if (const auto node = root.at_path(error.where.field))
      error.where.line = static_cast<int>(node.node()->source().begin.line);
    return tl::unexpected<Error>(std::move(error));
  }
  return physics;
}

Result<DisplayPhysics> load_physics(const std::string& path) {
  auto text = read_file(path);
  if (!text) return tl::unexpected<Error>(text.error());
  return parse_physics(*text, path);
}

std::vector<std::string> built_in_ids() {
  std::vector<std::string> ids;
  for (const auto& [path, bytes] : simulated_assets())
    if (path.ends_with(".toml")) ids.emplace_back(path.substr(1, path.size() - 6));
  return ids;
}

Result<DisplayPhysics> built_in_physics(std::string_view id) {
  const std::string path = fmt::format("/{}.toml", id);
  const auto bytes = find_simulated_asset(path);
  if (bytes.empty())
    return fail(ErrorCode::not_found, fmt::format("no simulated display '{}'", id),
                fmt::format("There are: {}.", fmt::join(built_in_ids(), ", ")));
  return parse_physics(bytes, fmt::format("data/simulated{}", path));
}

}  // namespace provenit::simulated
