#include "provenit/instrument/manual.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <istream>
#include <ostream>
#include <utility>

#include "light.h"
#include "number.h"
#include "provenit/base/text.h"
#include "provenit/colour/spaces.h"
#include "provenit/instrument/raw_text.h"

namespace provenit::instrument {
namespace {

/// A typed luminance below -0.1 cd/m2 is a slip: no meter's dark subtraction errs by so much. Our choice.
constexpr double kDimCdm2 = 0.1;

/// The answer, or nullopt for "stop" and the end of the input.
std::optional<std::string> answer(std::istream& in, std::ostream& out) {
  out.flush();
  std::string line;
  if (!std::getline(in, line)) return std::nullopt;
  std::string text(trim(line));
  if (text == "stop") return std::nullopt;
  return text;
}

tl::unexpected<Error> stopped() {
  return fail(ErrorCode::cancelled, "stopped by the operator",
              "Readings taken so far are kept; the run can be resumed.", {.field = "stop"});
}

std::vector<std::string_view> parts_of(std::string_view line) {
  std::vector<std::string_view> parts;
  constexpr std::string_view separators = " \t;";
  for (;;) {
    const auto first = line.find_first_not_of(separators);
    if (first == std::string_view::npos) return parts;
    line.remove_prefix(first);
    auto part = line.substr(0, line.find_first_of(separators));
    line.remove_prefix(part.size());
    // "203.5, 0.3127, 0.3290": the comma belongs to nobody.
    if (part.size() > 1 && part.ends_with(',')) part.remove_suffix(1);
    parts.push_back(part);
  }
}

const char* form_text(TypedForm form) {
  return form == TypedForm::Yxy ? "Y (cd/m2) x y" : "X Y Z (cd/m2)";
}

Result<colour::AbsoluteXyz<>> light_of(const std::array<double, 3>& v, TypedForm form) {
  if (form == TypedForm::XYZ) {
    const colour::AbsoluteXyz<> xyz{.X = v[0], .Y = v[1], .Z = v[2]};
    if (auto checked = check_xyz(xyz, kDimCdm2); !checked) return tl::unexpected(checked.error());
    return xyz;
  }
  return xyz_from_Yxy(v[0], {.x = v[1], .y = v[2]}, kDimCdm2);
}

}  // namespace

const char* name_of(TypedForm form) {
  return form == TypedForm::Yxy ? "Yxy" : "XYZ";
}

std::optional<TypedForm> typed_form_of(std::string_view name) {
  if (name == "Yxy") return TypedForm::Yxy;
  if (name == "XYZ") return TypedForm::XYZ;
  return std::nullopt;
}

Result<colour::AbsoluteXyz<>> parse_typed(std::string_view line, TypedForm form, double maximum_cdm2) {
  const auto parts = parts_of(line);
  if (parts.size() != 3)
    return fail(ErrorCode::invalid_input, fmt::format("{} values were typed where three belong", parts.size()),
                fmt::format("Type {}, parted by blanks.", form_text(form)));
  std::array<double, 3> values{};
  for (std::size_t i = 0; i < 3; ++i) {
    const auto cell = parse_cell(parts[i]);
    if (!cell)
      return fail(ErrorCode::invalid_input, fmt::format("'{}' is not a number", escaped(parts[i])),
                  fmt::format("Type {}, parted by blanks.", form_text(form)));
    values[i] = cell->value;
  }
  auto xyz = light_of(values, form);
  if (!xyz) {
    const auto other = form == TypedForm::Yxy ? TypedForm::XYZ : TypedForm::Yxy;
    if (light_of(values, other))
      xyz.error().advice = fmt::format("These look like {}; here {} is typed.", form_text(other), form_text(form));
    return xyz;
  }
  if (xyz->Y > maximum_cdm2)
    return fail(ErrorCode::out_of_range,
                fmt::format("{} cd/m2 is above what this instrument reads ({} cd/m2)", xyz->Y, maximum_cdm2),
                "Check the decimal mark and the unit.", {.field = "Y"});
  return xyz;
}

ManualPresenter::ManualPresenter(std::istream& in, std::ostream& out) : in_(in), out_(out) {}

void ManualPresenter::set_picture(std::string path) {
  picture_ = std::move(path);
}

Result<void> ManualPresenter::show(const signal::Signal& signal) {
  const std::string picture = std::exchange(picture_, {});
  if (shown_ == signal) return {};
  shown_.reset();  // until the operator says so, nobody knows what is shown
  out_ << fmt::format("\nSignal {}: {}\n", ++asked_, signal::describe(signal));
  if (!picture.empty()) out_ << "  picture: " << picture << '\n';
  out_ << "Show it, then press Enter (\"stop\" ends the run): ";
  if (!answer(in_, out_)) return stopped();
  shown_ = signal;
  return {};
}

bool ManualPresenter::confirmed(const std::string& request) {
  out_ << fmt::format("\n{}, then press Enter (\"stop\" ends the run): ", request);
  return answer(in_, out_).has_value();
}

Result<void> ManualPresenter::place(const Placement& placement) {
  if (placement_ == placement) return {};
  placement_.reset();  // until the operator says so, nobody knows where it stands
  if (!confirmed("Move the meter to " + describe(placement))) return stopped();
  placement_ = placement;
  return {};
}

Result<void> ManualPresenter::set_local_dimming(LocalDimming mode) {
  if (dimming_ == mode) return {};
  dimming_.reset();
  if (!confirmed(mode == LocalDimming::as_found
                     ? std::string("Set the display's local dimming back to what it was before")
                     : fmt::format("Switch the display's local dimming {}", name_of(mode))))
    return stopped();
  dimming_ = mode;
  return {};
}

Result<ControlSettings> ManualPresenter::set_controls(const ControlSettings& wanted) {
  if (wanted == controls_) return wanted;
  ControlSettings changes;
  for (const auto& setting : wanted)
    if (std::ranges::find(controls_, setting) == controls_.end()) changes.push_back(setting);
  controls_.clear();  // until the operator says so, nobody knows how they stand
  out_ << "\nSet the display's controls:\n";
  for (const auto& setting : changes) out_ << fmt::format("  {}: {:.6g}\n", setting.name, setting.value);
  ControlSettings set = wanted;
  for (;;) {
    out_ << "Set them, then press Enter. Where another value was set, type it first (\"" << wanted.front().name
         << " = 12\"); \"stop\" ends the run: ";
    const auto typed = answer(in_, out_);
    if (!typed) return stopped();
    if (typed->empty()) break;
    const auto other = parse_control_setting(*typed, wanted);
    if (other)
      std::ranges::find(set, other->name, &ControlSetting::name)->value = other->value;
    else
      out_ << other.error().text() << '\n';
  }
  controls_ = set;
  return set;
}

void ManualPresenter::set_standing(const Placement& placement, LocalDimming mode, ControlSettings controls) {
  placement_ = placement;
  dimming_ = mode;
  controls_ = std::move(controls);
}

ManualInstrument::ManualInstrument(std::istream& in, std::ostream& out, Options options,
                                   const ManualPresenter* presenter)
    : in_(in), out_(out), options_(std::move(options)), presenter_(presenter) {}

Result<Identity> ManualInstrument::identify() {
  return options_.identity;
}

std::vector<InstrumentEvent> ManualInstrument::take_events() {
  return std::exchange(events_, {});
}

Result<Measurement> ManualInstrument::measure(std::int64_t index) {
  out_ << fmt::format("\nReading {}", index + 1);
  if (presenter_ && presenter_->shown()) out_ << " of " << signal::describe(*presenter_->shown());
  out_ << '\n';
  for (;;) {
    auto typed = ask();
    if (!typed) return typed;
    const auto xy = colour::xy_from_xyz(typed->xyz);
    out_ << fmt::format("X {:.6g}, Y {:.6g}, Z {:.6g} cd/m2", typed->xyz.X, typed->xyz.Y, typed->xyz.Z);
    if (typed->xyz.Y > 0) out_ << fmt::format(" (x {:.4f}, y {:.4f})", xy.x, xy.y);
    out_ << ". Enter keeps it, \"repeat\" asks again: ";
    const auto kept = answer(in_, out_);
    if (!kept) return stopped();
    if (kept->empty()) return typed;
    if (*kept != "repeat") out_ << "Not kept.\n";
  }
}

Result<Measurement> ManualInstrument::ask() {
  for (;;) {
    out_ << fmt::format("{}, or \"skip\" or \"stop\": ", form_text(options_.form));
    const auto line = answer(in_, out_);
    if (!line) return stopped();
    if (*line == "skip")
      return fail(ErrorCode::cancelled, "this reading was skipped by the operator", {}, {.field = "skip"});
    auto xyz = parse_typed(*line, options_.form, options_.capabilities.maximum_cdm2);
    if (xyz) {
      Measurement measurement;
      measurement.xyz = *xyz;
      measurement.below_range = xyz->Y < options_.capabilities.minimum_cdm2;
      measurement.raw_reply = escaped(*line);
      return measurement;
    }
    out_ << xyz.error().text() << '\n';
    events_.push_back({"refused_input", xyz.error().text(), escaped(*line)});
  }
}

bool is_skip(const Error& error) {
  return error.code == ErrorCode::cancelled && error.where.field == "skip";
}

}  // namespace provenit::instrument
