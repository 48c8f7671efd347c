// provenit look: the figures of single frames, what single pixels are, and drawings of where light and colour lie.
#include "provenit/programme/look.h"

#include <fmt/format.h>

#include <CLI/CLI.hpp>
#include <filesystem>
#include <memory>

#include "interpretation.h"
#include "look_text.h"
#include "provenit/base/text.h"
#include "provenit/programme/frame_meter.h"
#include "verbs.h"

namespace provenit::cli {
namespace {

using programme::View;

struct LookOptions {
  std::string file, out, scopes = "all";
  std::vector<std::string> at, probes;
  std::vector<std::int64_t> frames;
  double source_peak_cdm2 = 0;
  int threads = 0;
  bool numbers = false;
  InterpretationOptions meant;
};

/// "12.5", "1:02.5", "1:02:03.5" in seconds.
Result<double> seconds_of(const std::string& text) {
  const auto parts = split(text, ':');
  double seconds = 0;
  bool good = parts.size() <= 3;
  for (std::size_t i = 0; good && i < parts.size(); ++i) {
    const auto value = parse_double(parts[i]);
    // Minutes and seconds after a colon stay below 60; parts before the last are whole.
    good = value && *value >= 0 && (i == 0 || *value < 60) && (i + 1 == parts.size() || parse_integer(parts[i]));
    if (good) seconds = 60 * seconds + *value;
  }
  if (good) return seconds;
  return fail(ErrorCode::invalid_input, "'" + text + "' is no time",
              "Give seconds, m:ss or h:mm:ss.fff from the first frame.", {.field = "--at"});
}

struct Place {
  int x = 0, y = 0;
};
Result<Place> place_of(const std::string& text) {
  const auto parts = split(text, ',');
  const auto x = parse_integer(parts[0]), y = parts.size() == 2 ? parse_integer(parts[1]) : std::nullopt;
  constexpr long long kMost = 1 << 20;
  if (x && y && std::abs(*x) < kMost && std::abs(*y) < kMost) return Place{static_cast<int>(*x), static_cast<int>(*y)};
  return fail(ErrorCode::invalid_input, "'" + text + "' is no pixel", "Give column,row counted from 0, e.g. 960,540.",
              {.field = "--probe"});
}

Result<std::vector<View>> views_of(const std::string& text) {
  if (text == "all") return std::vector<View>(programme::kViews.begin(), programme::kViews.end());
  std::vector<View> views;
  for (const auto name : split(text, ',')) {
    const auto view = programme::view_from_name(trim(name));
    if (!view) {
      std::string names;
      for (const View v : programme::kViews) names += std::string(", ") + programme::name_of(v);
      return fail(ErrorCode::invalid_input, "'" + std::string(name) + "' is no scope",
                  "Give all, or some of" + names.substr(1) + ".", {.field = "--scopes"});
    }
    views.push_back(*view);
  }
  return views;
}

/// All that was asked, read before anything is done.
struct Wanted {
  std::vector<programme::FrameChoice> choices;
  std::vector<Place> probes;
  std::vector<View> views;
  programme::ReaderOptions reading;
};
Result<Wanted> wanted_of(const LookOptions& o) {
  Wanted w;
  for (const auto& text : o.at) {
    const auto s = seconds_of(text);
    if (!s) return tl::unexpected(s.error());
    w.choices.push_back({.time_s = *s});
  }
  for (const auto f : o.frames) w.choices.push_back({.frame = f});
  if (w.choices.empty()) w.choices.push_back({.frame = 0});
  for (const auto& text : o.probes) {
    const auto p = place_of(text);
    if (!p) return tl::unexpected(p.error());
    w.probes.push_back(*p);
  }
  auto views = views_of(o.scopes);
  if (!views) return tl::unexpected(views.error());
  w.views = std::move(*views);
  const auto meant = programme::interpretation_of(o.meant, "--");
  if (!meant) return tl::unexpected(meant.error());
  w.reading = {.interpretation = *meant, .threads = o.threads};
  if (o.source_peak_cdm2 != 0 && !(o.source_peak_cdm2 >= 1 && o.source_peak_cdm2 <= 10000))
    return fail(ErrorCode::out_of_range, "the source's peak is outside the range", "Give 1 to 10000 cd/m2.",
                {.field = "--source-peak"});
  return w;
}

class Looking {
 public:
  Looking(const LookOptions& o, const Wanted& w, const programme::ChosenFrames& chosen)
      : o_(o),
        w_(w),
        label_{.source = std::filesystem::path(o.file).filename().string(),
               .source_peak_cdm2 =
                   o.source_peak_cdm2 != 0 ? o.source_peak_cdm2 : programme::sdr_source_peak(chosen.info)} {
    text_ = source_text(label_.source, chosen);
    document_ = source_json(label_.source, chosen);
  }

  Result<void> frame(const programme::Picture& picture) {
    const auto meter = programme::FrameMeter::make(picture.format);
    if (!meter) return tl::unexpected(meter.error());
    const auto record = meter->measure(picture);
    if (!record) return tl::unexpected(record.error());
    auto entry = frame_json(*record);
    text_ += "\n" + frame_text(*record);
    std::vector<programme::ProbeReading> readings;
    for (const auto& p : w_.probes) {
      const auto reading = programme::probe(picture, p.x, p.y);
      if (!reading) return tl::unexpected(reading.error());
      readings.push_back(*reading);
      entry["probes"].push_back(programme::to_json(*reading));
    }
    if (!readings.empty()) text_ += "\n" + probe_text(readings);
    if (!o_.out.empty())
      if (auto drawn = draw(picture, *record, entry); !drawn) return drawn;
    document_["frames"].push_back(std::move(entry));
    return {};
  }

  /// Contact sheet and look.json.
  Result<void> finish() {
    if (o_.out.empty()) return {};
    if (sheet_.size() > 1) {
      const auto note = fmt::format("Shown in SDR by {} from {:g} cd/m².", name_of(programme::SdrMethod::bt2446_a),
                                    label_.source_peak_cdm2);
      const auto written = write("contact.png", programme::contact_sheet(sheet_, label_.source, note));
      if (!written) return tl::unexpected(written.error());
      document_["contact_sheet"] = *written;
    }
    const std::string path = o_.out + "/look.json";
    text_ += "\nWritten to " + o_.out + ": look.json and " + fmt::format("{} pictures\n", pictures_);
    return write_file(path, document_.dump(2, ' ', false, nlohmann::ordered_json::error_handler_t::replace) + "\n");
  }

  [[nodiscard]] const std::string& text() const { return text_; }
  [[nodiscard]] const nlohmann::ordered_json& document() const { return document_; }

 private:
  Result<std::string> write(const std::string& name, const programme::Drawing& drawing) {
    auto bytes = programme::png_of(drawing);
    if (!bytes) return tl::unexpected(bytes.error());
    if (auto written = write_file(o_.out + "/" + name, *bytes); !written) return tl::unexpected(written.error());
    ++pictures_;
    return name;
  }

  Result<void> draw(const programme::Picture& picture, const programme::FrameRecord& record,
                    nlohmann::ordered_json& entry) {
    const auto image = programme::light_image(picture);
    if (!image) return tl::unexpected(image.error());
    // Several frames: each has its number in the names.
    const std::string prefix = w_.choices.size() > 1 ? fmt::format("frame{:06d}-", picture.index) : "";
    for (const View view : w_.views) {
      const auto written = write(prefix + name_of(view) + ".png", programme::draw(view, *image, label_));
      if (!written) return tl::unexpected(written.error());
      entry["drawings"][name_of(view)] = *written;
    }
    if (o_.numbers) {
      const auto path = prefix + "scopes.json";
      if (auto written = write_file(o_.out + "/" + path, scopes_json(*image).dump() + "\n"); !written) return written;
      entry["numbers"] = path;
    }
    if (w_.choices.size() > 1)
      sheet_.push_back(
          {.preview = programme::sheet_preview(*image, label_.source_peak_cdm2), .lines = sheet_lines(record.figures)});
    return {};
  }

  const LookOptions& o_;
  const Wanted& w_;
  programme::PictureLabel label_;
  std::string text_;
  nlohmann::ordered_json document_;
  std::vector<programme::SheetEntry> sheet_;
  int pictures_ = 0;
};

int look(const Output& output, const LookOptions& o) {
  const auto wanted = wanted_of(o);
  if (!wanted) return output.fail(wanted.error());
  const auto chosen = programme::choose_frames(o.file, wanted->choices, wanted->reading);
  if (!chosen) return output.fail(chosen.error());
  if (!o.out.empty()) {
    std::error_code ec;
    std::filesystem::create_directories(o.out, ec);
    if (ec) return output.fail({ErrorCode::io, "cannot make the folder: " + ec.message(), {}, {.file = o.out}});
  }
  Looking looking(o, *wanted, *chosen);
  for (const auto& picture : chosen->pictures)
    if (auto seen = looking.frame(picture); !seen) return output.fail(seen.error());
  if (auto finished = looking.finish(); !finished) return output.fail(finished.error());
  output.say(looking.text(), looking.document());
  return kDone;
}

}  // namespace

void add_look(Command& command) {
  const auto o = std::make_shared<LookOptions>();
  auto* verb = add_verb(command, "look", "the figures of a frame or still, its pixels, and its scopes as pictures",
                        "provenit look film.mp4 --at 1:02.5 --out seen\n"
                        "provenit look film.mp4 --frame 240 --probe 1920,1080 --probe 10,10\n"
                        "provenit look film.mp4 --at 3 --at 7.25 --at 12 --scopes waveform,false_colour --out seen\n"
                        "provenit look still.exr --peak 100 --primaries bt709 --json");
  verb->add_option("file", o->file, "film, still, folder of stills, or a name with #### for the frame number")
      ->required();
  verb->add_option("--at", o->at,
                   "time from the first frame: seconds, m:ss or h:mm:ss.fff; several give a contact sheet")
      ->allow_extra_args(false);
  verb->add_option("--frame", o->frames, "frame, counted from 0; several give a contact sheet")
      ->allow_extra_args(false);
  verb->add_option("--probe", o->probes, "pixel column,row; can be given several times")->allow_extra_args(false);
  verb->add_option("--out", o->out, "folder for the pictures and look.json; made if missing");
  verb->add_option("--scopes", o->scopes,
                   "all, or some of waveform, parade, vectorscope, chromaticity, histogram, "
                   "false_colour, gamut, sdr, parted by commas");
  verb->add_flag("--numbers", o->numbers, "with --out: also the counts behind the scopes, as scopes.json");
  verb->add_option("--source-peak", o->source_peak_cdm2,
                   "cd/m2 that the ways to SDR roll off from; if not given, the "
                   "declared mastering maximum, else 1000");
  verb->add_option("--threads", o->threads, "for decoding; 0: one per core")->check(CLI::Range(0, 256));
  add_interpretation(*verb, o->meant);
  verb->callback([&command, o] { command.action = [&command, o] { return look(command.output, *o); }; });
}

}  // namespace provenit::cli
