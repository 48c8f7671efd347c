// provenit picture: test pictures, exact to the code value, as files.
#include <fmt/format.h>

#include <CLI/CLI.hpp>
#include <limits>
#include <memory>

#include "picture_choice.h"
#include "provenit/base/text.h"
#include "provenit/signal/test_picture.h"
#include "provenit/signal_files/picture_file.h"
#include "verbs.h"

namespace provenit::cli {
namespace {

struct PictureOptions {
  bool list = false;
  std::string out, size = "3840x2160";
  int frame = 0;
  PictureChoice picture;
  signal::PictureFileChoice file;
};

nlohmann::ordered_json json_of(const signal::PictureInfo& info) {
  auto parameters = nlohmann::ordered_json::array();
  for (const auto& p : info.parameters) {
    const char* unit = p.default_unit == signal::DefaultUnit::reference_white ? "reference white"
                       : p.default_unit == signal::DefaultUnit::nominal_peak  ? "nominal peak"
                                                                              : "number";
    parameters.push_back({{"name", p.name},
                          {"default", p.value},
                          {"default_unit", unit},
                          {"least", p.least},
                          {"most", p.most},
                          {"whole", p.whole},
                          {"meaning", p.meaning}});
  }
  return {{"key", info.key},       {"title", info.title},     {"purpose", info.purpose},
          {"source", info.source}, {"caution", info.caution}, {"parameters", parameters}};
}

std::string default_text(const signal::PictureParameter& p) {
  auto value = exact_text(p.value);
  if (p.default_unit == signal::DefaultUnit::reference_white) return value + " x reference white";
  if (p.default_unit == signal::DefaultUnit::nominal_peak) return value + " x nominal peak";
  return value;
}

int list_pictures(const Output& output) {
  Table table({"picture", "title"});
  auto document = nlohmann::ordered_json::array();
  for (const auto& info : signal::test_pictures()) {
    table.add({info.key, info.title});
    document.push_back(json_of(info));
  }
  output.say(table.text(), document);
  return kDone;
}

/// What one picture is for and what it takes.
std::string about(const signal::PictureInfo& info) {
  Table table({"parameter", "default", "from", "to", "meaning"});
  for (const auto& p : info.parameters)
    table.add({p.name, default_text(p), exact_text(p.least), exact_text(p.most), p.meaning});
  std::string out = fmt::format("{}: {}\n{}\nsource: {}\n", info.key, info.title, info.purpose, info.source);
  if (!info.caution.empty()) out += fmt::format("caution: {}\n", info.caution);
  return info.parameters.empty() ? out : out + "\n" + table.text();
}

Result<signal::RasterSize> size_of(const std::string& text) {
  const auto parts = split(text, 'x');
  const auto width = parse_integer(parts[0]), height = parts.size() == 2 ? parse_integer(parts[1]) : std::nullopt;
  constexpr long long kMost = 1 << 20;
  if (width && height && *width > 0 && *height > 0 && *width < kMost && *height < kMost)
    return signal::RasterSize{.width = static_cast<int>(*width), .height = static_cast<int>(*height)};
  return fail(ErrorCode::invalid_input, "'" + text + "' is no size", "Give pixels across and down, e.g. 1920x1080.",
              {.field = "--size"});
}

Result<signal::TestPicture> picture_of(const PictureOptions& o) {
  const auto size = size_of(o.size);
  const auto encoding = encoding_of(o.picture);
  const auto parameters = parameters_of(o.picture);
  if (!size) return tl::unexpected(size.error());
  if (!encoding) return tl::unexpected(encoding.error());
  if (!parameters) return tl::unexpected(parameters.error());
  return signal::TestPicture::make(
      {.key = o.picture.key, .parameters = *parameters, .encoding = *encoding, .size = *size});
}

int write_picture(const Output& output, const PictureOptions& o) {
  const auto picture = picture_of(o);
  if (!picture) return output.fail(picture.error());
  const auto& info = picture->info();
  if (o.frame < 0 || o.frame >= picture->frames())
    return output.fail({ErrorCode::out_of_range,
                        fmt::format("{} has no frame {}", o.picture.key, o.frame),
                        fmt::format("Give 0 to {}.", picture->frames() - 1),
                        {.field = "--frame"}});
  std::string written;
  if (!o.out.empty()) {
    const auto file = signal::write_picture_file(*picture, o.frame, o.out, o.file);
    if (!file) return output.fail(file.error());
    written = *file;
  }
  auto document = json_of(info);
  document["encoding"] = signal::to_json(picture->request().encoding);
  document["size"] = {picture->request().size.width, picture->request().size.height};
  document["values"] = picture->request().parameters;
  document["frames"] = picture->frames();
  document["frame"] = o.frame;
  document["frame_text"] = picture->frame_text(o.frame);
  if (!o.out.empty()) document["file"] = o.out;
  if (!o.out.empty()) document["written"] = written;
  auto& places = document["places"] = nlohmann::ordered_json::array();
  for (const auto& place : picture->places(o.frame))
    places.push_back({{"name", place.name},
                      {"area", {place.area.left, place.area.top, place.area.width, place.area.height}},
                      {"code", place.code.code}});
  std::string text = o.out.empty() ? about(info) : fmt::format("{}: {}, {}\n", o.out, info.title, written);
  if (!o.out.empty() && !info.caution.empty()) text += fmt::format("caution: {}\n", info.caution);
  if (picture->frames() > 1)
    text += fmt::format("frame {} of {}: {}\n", o.frame, picture->frames(), picture->frame_text(o.frame));
  output.say(text, document);
  return kDone;
}

void add_file_choice(CLI::App& verb, signal::PictureFileChoice& choice) {
  verb.add_option("--quality", choice.quality, "of an HEVC clip: lossless, visual, or a rate factor of 0 to 51")
      ->capture_default_str();
  verb.add_option("--chroma", choice.chroma, "of a clip: 420, 422, 444 or rgb; else 420 for HEVC, rgb for FFV1");
  verb.add_option("--codec", choice.codec, "of a clip: hevc or ffv1; else ffv1 for .mkv, hevc for .mp4 and .mov");
  verb.add_option("--rate", choice.rate, "of a clip: frames per second, e.g. 24 or 24000/1001")->capture_default_str();
  verb.add_option(
          "--hold", choice.hold,
          "of a clip: video frames for each frame; else 10 s for a still, 2 s for a step, 1 frame for what moves")
      ->check(CLI::Range(1, std::numeric_limits<int>::max()));
}

}  // namespace

void add_picture(Command& command) {
  const auto o = std::make_shared<PictureOptions>();
  auto* verb = add_verb(command, "picture", "list the test pictures, or write one as a file, exact to the code value",
                        "provenit picture --list\n"
                        "provenit picture window\n"
                        "provenit picture window --out window.png --transfer pq --set area_percent=4\n"
                        "provenit picture window --out window.mp4 --hold 240 --quality visual");
  verb->add_option("key", o->picture.key, "which picture; without --out it is described");
  verb->add_flag("--list", o->list, "name every picture");
  verb->add_option("--out", o->out, "file to write: .png, .tif, .dpx, .exr, .mp4, .mov or .mkv");
  verb->add_option("--size", o->size, "pixels across and down")->capture_default_str();
  add_picture_choice(*verb, o->picture);
  verb->add_option("--frame", o->frame, "of a picture with several frames, from 0; a clip has all")
      ->capture_default_str();
  add_file_choice(*verb, o->file);
  verb->callback([&command, o] {
    command.action = [&command, o] {
      if (o->list) return list_pictures(command.output);
      if (o->picture.key.empty())
        return command.output.fail({ErrorCode::invalid_input, "no picture is named", "Name one, or give --list."});
      return write_picture(command.output, *o);
    };
  });
}

}  // namespace provenit::cli
