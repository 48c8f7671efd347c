// The registry of pictures, and what is common to them all.
#include "provenit/signal/test_picture.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "pictures/painter.h"
#include "provenit/base/text.h"
#include "provenit/colour/transfer.h"

namespace provenit::signal {
namespace {

using pictures::Kind;

constexpr int kLeastWidth = 320, kLeastHeight = 180, kMostSide = 16384;

const std::vector<Kind>& kinds() {
  static const std::vector<Kind> all = [] {
    std::vector<Kind> out;
    for (const auto family :
         {pictures::identification_kinds, pictures::field_kinds, pictures::greyscale_kinds, pictures::ramp_kinds,
          pictures::checkerboard_kinds, pictures::colour_step_kinds, pictures::surface_chart_kinds,
          pictures::volume_kinds, pictures::uniformity_kinds, pictures::dimming_kinds, pictures::clip_kinds,
          pictures::motion_kinds, pictures::chroma_kinds, pictures::scaling_kinds, pictures::line_up_kinds})
      std::ranges::move(family(), std::back_inserter(out));
    return out;
  }();
  return all;
}

template <class Range, class Name>
std::string names_of(const Range& range, Name name) {
  std::string out;
  for (const auto& item : range) out += (out.empty() ? "" : ", ") + std::string(name(item));
  return out;
}

Result<double> value_of(const PictureParameter& p, const nlohmann::json& given, const Encoding& encoding) {
  const auto found = given.find(p.name);
  if (found == given.end()) return default_of(p, encoding);
  if (!found->is_number())
    return fail(ErrorCode::invalid_input, fmt::format("{} is not a number: {}", p.name, found->dump()),
                "Give a number.", {.field = p.name});
  const auto value = found->get<double>();
  if (value >= p.least && value <= p.most && (!p.whole || value == std::floor(value))) return value;
  return fail(
      ErrorCode::out_of_range, fmt::format("{} = {} cannot be used", p.name, exact_text(value)),
      fmt::format("Give a {}number from {} to {}.", p.whole ? "whole " : "", exact_text(p.least), exact_text(p.most)),
      {.field = p.name});
}

Result<std::map<std::string, double>> values_of(const PictureInfo& info, const nlohmann::json& given,
                                                const Encoding& encoding) {
  const auto advice = [&] {
    return info.parameters.empty()
               ? std::string("It takes none.")
               : "It takes " + names_of(info.parameters, [](const auto& p) { return p.name; }) + ".";
  };
  if (!given.is_object())
    return fail(ErrorCode::invalid_input, "the parameters are not an object of names and numbers", advice(),
                {.field = "parameters"});
  for (const auto& item : given.items())
    if (std::ranges::find(info.parameters, item.key(), &PictureParameter::name) == info.parameters.end())
      return fail(ErrorCode::invalid_input, fmt::format("{} has no parameter '{}'", info.key, item.key()), advice(),
                  {.field = item.key()});
  std::map<std::string, double> out;
  for (const auto& parameter : info.parameters) {
    const auto value = value_of(parameter, given, encoding);
    if (!value) return tl::unexpected(value.error());
    out[parameter.name] = *value;
  }
  return out;
}

Result<void> check_size(RasterSize size) {
  if (size.width >= kLeastWidth && size.height >= kLeastHeight && std::max(size.width, size.height) <= kMostSide)
    return {};
  return fail(
      ErrorCode::out_of_range, fmt::format("a test picture of {} x {} pixels cannot be made", size.width, size.height),
      fmt::format("Give {} x {} to {} pixels each way.", kLeastWidth, kLeastHeight, kMostSide), {.field = "size"});
}

}  // namespace

const std::vector<PictureInfo>& test_pictures() {
  static const std::vector<PictureInfo> infos = [] {
    std::vector<PictureInfo> out;
    for (const auto& kind : kinds()) out.push_back(kind.info);
    return out;
  }();
  return infos;
}

double reference_white_cdm2(const Encoding& encoding) {
  constexpr double kPq = 203, kHlgSignal = 0.75;
  if (encoding.transfer == Transfer::pq) return kPq;
  const colour::Luminance<> peak{.cdm2 = encoding.nominal_peak_cdm2};
  if (encoding.transfer == Transfer::bt1886) return peak.cdm2;
  return colour::hlg_eotf_grey(colour::Signal<>{.value = kHlgSignal},
                               colour::hlg_display(peak, colour::Luminance<>{.cdm2 = 0}))
      .cdm2;
}

double default_of(const PictureParameter& parameter, const Encoding& encoding) {
  double unit = 1;
  if (parameter.default_unit == DefaultUnit::reference_white) unit = reference_white_cdm2(encoding);
  if (parameter.default_unit == DefaultUnit::nominal_peak) unit = encoding.nominal_peak_cdm2;
  return std::clamp(parameter.value * unit, parameter.least, parameter.most);
}

Result<TestPicture> TestPicture::make(const PictureRequest& request) {
  const auto kind = std::ranges::find(kinds(), request.key, [](const Kind& k) { return k.info.key; });
  if (kind == kinds().end())
    return fail(ErrorCode::not_found, "there is no test picture '" + request.key + "'",
                "There are " + names_of(kinds(), [](const Kind& k) { return k.info.key; }) + ".", {.field = "key"});
  if (auto ok = validate(request.encoding); !ok) return tl::unexpected(ok.error());
  if (auto ok = check_size(request.size); !ok) return tl::unexpected(ok.error());
  const auto values = values_of(kind->info, request.parameters, request.encoding);
  if (!values) return tl::unexpected(values.error());
  pictures::Setting setting(request.encoding, request.size, *values);
  auto painter = std::make_unique<const Painter>(kind->make(setting));
  if (setting.error()) return tl::unexpected(*setting.error());
  auto filled = request;
  filled.parameters = *values;
  const auto index = static_cast<std::size_t>(kind - kinds().begin());
  return TestPicture(std::move(painter), std::move(filled), test_pictures()[index]);
}

TestPicture::TestPicture(std::unique_ptr<const Painter> painter, PictureRequest request, const PictureInfo& info)
    : painter_(std::move(painter)), request_(std::move(request)), info_(&info) {}
TestPicture::TestPicture(TestPicture&&) noexcept = default;
TestPicture& TestPicture::operator=(TestPicture&&) noexcept = default;
TestPicture::~TestPicture() = default;

const PictureInfo& TestPicture::info() const {
  return *info_;
}
const PictureRequest& TestPicture::request() const {
  return request_;
}
int TestPicture::frames() const {
  return painter_->frames();
}
std::string TestPicture::frame_text(int frame) const {
  return painter_->text(frame);
}
std::vector<std::uint16_t> TestPicture::row(int frame, int y) const {
  return painter_->sheet(frame)->row(y);
}
std::vector<PicturePlace> TestPicture::places(int frame) const {
  return painter_->sheet(frame)->places();
}

}  // namespace provenit::signal
