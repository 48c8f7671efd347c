// Which socket, which mode, what to set, and what to say when it cannot be.
#include <fmt/format.h>

#include <algorithm>
#include <cerrno>
#include <cmath>
#include <cstring>

#include "output/card.h"

namespace provenit::show {
namespace {

constexpr int kHdrBits = 10;

std::string names_of(const std::vector<Connector>& all, bool connected_only) {
  std::string names;
  for (const auto& c : all)
    if (c.connected || !connected_only) names += (names.empty() ? "" : ", ") + c.name;
  return names;
}

/// The value of the property Colorspace that says R'G'B' of this container. Names: Linux drm_connector.c.
std::string colorspace_of(const signal::Encoding& encoding) {
  switch (encoding.container) {
    case signal::Container::bt2020:
      return "BT2020_RGB";
    case signal::Container::p3_d65:
      return "DCI-P3_RGB_D65";
    case signal::Container::bt709:
      break;
  }
  return "Default";
}

bool is_hdr(const signal::Encoding& encoding) {
  return encoding.transfer != signal::Transfer::bt1886;
}

}  // namespace

Result<Connector> choose_connector(const std::vector<Connector>& all, const std::string& name) {
  if (!name.empty()) {
    const auto found = std::ranges::find(all, name, &Connector::name);
    if (found == all.end())
      return fail(ErrorCode::not_found, "this machine has no output '" + name + "'",
                  "There are: " + names_of(all, false) + ".", {.field = "--output"});
    if (!found->connected || found->modes.empty())
      return fail(ErrorCode::not_found, "no display is connected to " + name, "Check cable and input of the display.",
                  {.field = "--output"});
    return *found;
  }
  const auto usable = [](const Connector& c) { return c.connected && !c.modes.empty(); };
  const auto count = std::ranges::count_if(all, usable);
  if (count == 1) return *std::ranges::find_if(all, usable);
  if (count == 0)
    return fail(ErrorCode::not_found, "no display is connected to this machine's outputs",
                all.empty() ? "This card has none." : "Looked at: " + names_of(all, false) + ".");
  return fail(ErrorCode::invalid_input, "several displays are connected",
              "Name the one: --output NAME, of " + names_of(all, true) + ".", {.field = "--output"});
}

Result<std::size_t> choose_mode(const Connector& connector, signal::RasterSize size, double refresh_hz) {
  const auto fits = [&](const Mode& m) {
    return size == signal::RasterSize{0, 0} || (m.size == size && !m.interlaced);
  };
  std::optional<std::size_t> best;
  const auto better = [&](const Mode& a, const Mode& b) {
    if (refresh_hz > 0) return std::abs(a.refresh_hz - refresh_hz) < std::abs(b.refresh_hz - refresh_hz);
    return a.preferred && !b.preferred;
  };
  for (std::size_t i = 0; i < connector.modes.size(); ++i)
    if (fits(connector.modes[i]) && (!best || better(connector.modes[i], connector.modes[*best]))) best = i;
  // Half a per cent parts 60 from 59.94 no more; 0.05 does.
  if (best && (refresh_hz <= 0 || std::abs(connector.modes[*best].refresh_hz - refresh_hz) < 0.05)) return *best;
  std::string there;
  for (const auto& m : connector.modes)
    there += fmt::format("{}{}x{}{}@{:.2f}", there.empty() ? "" : ", ", m.size.width, m.size.height,
                         m.interlaced ? "i" : "", m.refresh_hz);
  return fail(ErrorCode::not_found, connector.name + " has no such mode", "There are: " + there + ".",
              {.field = "--mode"});
}

Result<OutputState> state_for(const Connector& connector, std::size_t mode, const signal::Encoding& encoding,
                              const std::optional<HdrMetadata>& metadata) {
  OutputState state{.connector = connector.id, .mode = mode, .ten_bits = encoding.bits == kHdrBits};
  const auto missing = [&](const std::string& what, const char* advice) {
    return fail(ErrorCode::unsupported, fmt::format("{} {}", connector.name, what), advice);
  };
  if (state.ten_bits && !connector.ten_bits)
    return missing("cannot scan out pixels of 10 bits (XRGB2101010)",
                   "Use another card, or a player with its own output.");
  const auto wanted = colorspace_of(encoding);
  if (!connector.colorspaces.empty()) {
    if (std::ranges::find(connector.colorspaces, wanted) == connector.colorspaces.end())
      return missing("cannot announce the colour space " + wanted, "Use another connector or driver, or a player.");
    state.colorspace = wanted;
  } else if (is_hdr(encoding)) {
    return missing("has no property Colorspace, so the display would not be told the container",
                   "Use a newer kernel or another driver, or a player.");
  }
  if (is_hdr(encoding) && !connector.hdr_metadata)
    return missing("has no property HDR_OUTPUT_METADATA: this driver cannot send HDR metadata on it",
                   "Use a newer kernel, another card or connector, or a player with its own output.");
  if (is_hdr(encoding) && metadata) {
    const auto blob = hdr_blob(*metadata);
    if (!blob) return tl::unexpected(blob.error());
    state.metadata = *blob;
  }
  if (connector.max_bpc > 0) state.max_bpc = std::min(connector.max_bpc, std::max(encoding.bits, 8));
  if (connector.max_bpc > 0 && connector.max_bpc < encoding.bits)
    return missing(fmt::format("sends {} bits at most", connector.max_bpc), "Use another connector.");
  return state;
}

std::vector<std::string> doubts_of(const Connector& connector, const signal::Encoding& encoding) {
  std::vector<std::string> out;
  const bool pq = encoding.transfer == signal::Transfer::pq;
  if (is_hdr(encoding)) {
    if (!connector.announced)
      out.push_back("The display does not say in its EDID that it takes HDR: it may ignore the metadata.");
    else if (pq ? !connector.announced->pq : !connector.announced->hlg)
      out.push_back(fmt::format("The display's EDID does not list {}: it may ignore the metadata.", pq ? "PQ" : "HLG"));
  }
  if (encoding.bits > 8 && connector.max_bpc == 0)
    out.push_back("The driver does not say how many bits go over the link.");
  out.push_back(
      "The codes leave as full-range R'G'B'. Check in the display's own information that it receives RGB, full range" +
      std::string(encoding.bits > 8 ? ", 10 bits or more" : "") +
      ": a driver may fall back to less without saying so.");
  return out;
}

Error no_card() {
  return {ErrorCode::unsupported,
          "this machine has no graphics card that programs can drive (no /dev/dri/card*)",
          "Direct output needs Linux on a machine with a display. For SDR use --page; for HDR write files and use a "
          "player.",
          {}};
}

Error card_problem(CardStep step, int error_number, const std::string& path) {
  const std::string why = std::strerror(error_number);
  if (step == CardStep::open && (error_number == EACCES || error_number == EPERM))
    return {ErrorCode::io,
            "no permission to open the graphics card",
            "Run as a member of its group (often 'video').",
            {.file = path}};
  if (step == CardStep::open && (error_number == ENOENT || error_number == ENXIO || error_number == ENODEV)) {
    auto error = no_card();
    error.where.file = path;
    return error;
  }
  if (step == CardStep::become_master &&
      (error_number == EBUSY || error_number == EACCES || error_number == EPERM || error_number == EINVAL))
    return {ErrorCode::conflict,
            "another program holds the display, most likely the desktop",
            "Leave the desktop session, or switch to a text console (Ctrl-Alt-F3), and run this there.",
            {.file = path}};
  if (step == CardStep::atomic)
    return {ErrorCode::unsupported,
            "the driver has no atomic mode setting: " + why,
            "Use a newer kernel, another card, or a player.",
            {.file = path}};
  if (step == CardStep::commit)
    return {ErrorCode::io,
            "the driver refused the mode, pixel format or metadata: " + why,
            "Try another --mode (a lower refresh needs less of the link), or another connector.",
            {.file = path}};
  return {ErrorCode::io, "the graphics card cannot be used: " + why, {}, {.file = path}};
}

}  // namespace provenit::show
