#include "reader/moving.h"

#include <fmt/format.h>

#include <array>
#include <cmath>
#include <utility>

#include "provenit/base/text.h"
#include "reader/av_format.h"
#include "reader/av_metadata.h"

namespace provenit::programme {
namespace {

std::string container_name(const AVFormatContext& input) {
  return input.iformat != nullptr ? input.iformat->name : "";
}

void set_rate(const AVStream& stream, SourceInfo& info) {
  const AVRational mean = stream.avg_frame_rate, base = stream.r_frame_rate;
  if (mean.num <= 0 || mean.den <= 0) return;
  const bool steady = base.num <= 0 || std::abs(av_q2d(base) / av_q2d(mean) - 1) < 1e-3;
  if (!steady) {
    info.notes.push_back(fmt::format("frame rate varies (mean {:.3f} Hz)", av_q2d(mean)));
    return;
  }
  const AVRational rate = base.num > 0 ? base : mean;
  info.frame_rate_numerator = rate.num;
  info.frame_rate_denominator = rate.den;
}

std::optional<double> duration_of(const AVFormatContext& input, const AVStream& stream) {
  if (stream.duration > 0) return static_cast<double>(stream.duration) * av_q2d(stream.time_base);
  if (input.duration > 0) return static_cast<double>(input.duration) / AV_TIME_BASE;
  return std::nullopt;
}

// Matroska writes the length of each track beside it: "00:01:02.345000000".
std::optional<double> tagged_duration(const AVStream& stream) {
  const AVDictionaryEntry* const tag = av_dict_get(stream.metadata, "DURATION", nullptr, 0);
  if (tag == nullptr) return std::nullopt;
  const std::vector<std::string_view> parts = split(tag->value, ':');
  if (parts.size() != 3) return std::nullopt;
  const auto hours = parse_double(parts[0]), minutes = parse_double(parts[1]), seconds = parse_double(parts[2]);
  if (!hours || !minutes || !seconds) return std::nullopt;
  return *hours * 3600 + *minutes * 60 + *seconds;
}

// What the container says of its length, beyond what can be seen from its packets.
std::optional<double> announced_length(const AVFormatContext& input, const AVStream& stream) {
  if (const auto tagged = tagged_duration(stream)) return tagged;
  const std::string_view name = input.iformat != nullptr ? input.iformat->name : "";
  if (input.nb_streams != 1 || name == "mpegts" || input.duration_estimation_method != AVFMT_DURATION_FROM_STREAM)
    return std::nullopt;
  return duration_of(input, stream);
}

// Time stamps of broken files may be anything: no overflow.
std::int64_t stamp_sum(std::int64_t a, std::uint64_t b) {
  return static_cast<std::int64_t>(static_cast<std::uint64_t>(a) + b);
}

// Where in the title the reader works.
struct Place {
  std::int64_t first = 0;
  std::optional<std::int64_t> last;         // of a part
  std::int64_t first_pts = AV_NOPTS_VALUE;  // of the title
  AvWindow window;
  std::optional<std::int64_t> all;  // frames of the title, for a part that reaches its end
};

Place place_of(const PartOf& part, AVRational base) {
  const FrameIndex& index = *part.index;
  const auto pts_at = [&](std::int64_t frame) {
    const double steps = index.time_s[static_cast<std::size_t>(frame)] * base.den / base.num;
    return stamp_sum(index.first_pts, static_cast<std::uint64_t>(std::llround(steps)));
  };
  const auto size = static_cast<std::int64_t>(index.time_s.size());
  Place place{.first = part.first, .last = part.last, .first_pts = index.first_pts, .window = {}, .all = {}};
  if (part.first > 0) place.window.start = pts_at(part.first);
  if (part.last < size) {
    place.window.end = pts_at(part.last);
  } else {
    place.all = size;
  }
  return place;
}

class MovingReader : public Reader {
 public:
  MovingReader(std::unique_ptr<AvSource> source, std::string path, const Place& place)
      : source_(std::move(source)), place_(place), next_index_(place.first) {
    info_.path = std::move(path);
  }

  Result<void> start(const ReaderOptions& options, bool is_part) {
    std::optional<AvDecoded> first = source_->next();
    if (!first) {
      const std::string why = source_->troubles().any() ? ": " + source_->troubles().lines().front() : "";
      return fail(ErrorCode::invalid_input, "no picture could be decoded" + why, "The file may be damaged or cut off.",
                  {.file = info_.path});
    }
    auto info = describe_source(info_.path, *source_, *first->frame, options);
    if (!info) return tl::unexpected(info.error());
    info_ = std::move(*info);
    if (!is_part) place_.first_pts = source_->first_pts().value_or(AV_NOPTS_VALUE);
    if (!info_.frames && !announced_length(source_->input(), source_->stream()))
      info_.notes.push_back("the container does not say how long it is: pictures missing at its end cannot be noticed");
    kind_ = kind_of(*first->frame);
    if (!kind_) return fail(ErrorCode::io, "out of memory", "Close other programs.", {.file = info_.path});
    ready_ = std::move(first);
    return {};
  }

  [[nodiscard]] const SourceInfo& info() const override { return info_; }
  [[nodiscard]] const std::vector<std::string>& troubles() const override { return source_->troubles().lines(); }

  [[nodiscard]] Result<std::optional<Picture>> next() override {
    if (done_) return std::optional<Picture>{};
    std::optional<AvDecoded> decoded = ready_ ? std::exchange(ready_, std::nullopt) : source_->next();
    if (!decoded) return at_end();
    const std::int64_t index = next_index_ + decoded->lost_before;
    if (const auto same = check_same_kind(info_.path, *kind_, *decoded->frame, index); !same) {
      done_ = true;
      return tl::unexpected(same.error());
    }
    next_index_ = index + 1;
    const std::int64_t pts = decoded->pts;
    Picture picture = picture_of(std::move(decoded->frame), info_.format);
    picture.index = index;
    picture.time_s = time_of(index, pts);
    picture.damaged = decoded->damaged;
    watch_for_gap(picture);
    return std::optional<Picture>(std::move(picture));
  }

 private:
  [[nodiscard]] double time_of(std::int64_t index, std::int64_t pts) const {
    if (pts != AV_NOPTS_VALUE && place_.first_pts != AV_NOPTS_VALUE)
      return seconds_of(pts, place_.first_pts, source_->stream().time_base);
    if (info_.frame_rate_numerator <= 0) return 0;
    return static_cast<double>(index) * static_cast<double>(info_.frame_rate_denominator) /
           static_cast<double>(info_.frame_rate_numerator);
  }

  // A packet that the container lost on its way leaves nothing but a hole in time.
  void watch_for_gap(const Picture& picture) {
    if (info_.frame_rate_numerator > 0 && last_) {
      const auto [index, time_s] = *last_;
      const double frame_s =
          static_cast<double>(info_.frame_rate_denominator) / static_cast<double>(info_.frame_rate_numerator);
      const double expected_s = time_s + static_cast<double>(picture.index - index) * frame_s;
      if (picture.time_s > expected_s + 0.6 * frame_s)
        source_->add_trouble("a gap in time: pictures may be missing", fmt::format("before {:.3f} s", picture.time_s));
    }
    last_ = {picture.index, picture.time_s};
  }

  Result<std::optional<Picture>> at_end() {
    done_ = true;
    if (place_.last && next_index_ < *place_.last)
      source_->add_trouble(fmt::format("frames {} to {} did not come", next_index_, *place_.last - 1), {});
    if (place_.window.end != std::numeric_limits<std::int64_t>::max()) return std::optional<Picture>{};
    if (source_->read_error() != 0 && source_->read_error() != AVERROR_EOF)
      source_->add_trouble("reading ended early: " + text_of_av_error(source_->read_error()), {});
    compare_with_container();
    return std::optional<Picture>{};
  }

  // Whether all came that the container announces.
  void compare_with_container() {
    const AVStream& stream = source_->stream();
    const std::int64_t read = place_.all.value_or(source_->packets_read());
    if (stream.nb_frames > 0) {
      if (read < stream.nb_frames)
        source_->add_trouble(
            fmt::format("the container announces {} frames, the file holds {}: cut off?", stream.nb_frames, read), {});
      return;
    }
    const std::optional<double> length = announced_length(source_->input(), stream);
    if (!length || !source_->last_end()) return;
    const double end = seconds_of(*source_->last_end(), 0, stream.time_base);
    const double frame = info_.frame_rate_numerator > 0 ? static_cast<double>(info_.frame_rate_denominator) /
                                                              static_cast<double>(info_.frame_rate_numerator)
                                                        : 0.05;
    if (end + 0.9 * frame < *length)
      source_->add_trouble(
          fmt::format("the container announces {:.3f} s, the last picture ends at {:.3f} s: cut off?", *length, end),
          {});
  }

  std::unique_ptr<AvSource> source_;
  Place place_;
  SourceInfo info_;
  FramePtr kind_;  // properties of the first frame, without its samples
  std::optional<AvDecoded> ready_;
  std::int64_t next_index_ = 0;
  std::optional<std::pair<std::int64_t, double>> last_;  // index and time of the last picture
  bool done_ = false;
};

}  // namespace

double seconds_of(std::int64_t pts, std::int64_t first_pts, AVRational time_base) {
  return static_cast<double>(stamp_sum(pts, -static_cast<std::uint64_t>(first_pts))) * time_base.num / time_base.den;
}

Result<SourceInfo> describe_source(const std::string& path, const AvSource& source, const AVFrame& first,
                                   const ReaderOptions& options) {
  SourceInfo info;
  info.path = path;
  info.container = container_name(source.input());
  info.codec = avcodec_get_name(source.stream().codecpar->codec_id);
  auto layout = layout_of(path, first);
  if (!layout) return tl::unexpected(layout.error());
  add_codec_rules(source.stream().codecpar->codec_id, *layout);
  const std::array said{fields_of(first), fields_of(source.container_parameters())};
  const auto format = settle_format(path, *layout, said, options.interpretation, info.notes);
  if (!format) return tl::unexpected(format.error());
  info.format = *format;
  set_rate(source.stream(), info);
  if (source.stream().nb_frames > 0) info.frames = source.stream().nb_frames;
  info.duration_s = duration_of(source.input(), source.stream());
  info.metadata = metadata_of(first, source.stream(), info.notes);
  note_extras(first, source.stream(), info.notes);
  return info;
}

FramePtr kind_of(const AVFrame& frame) {
  FramePtr kind(av_frame_alloc());
  if (!kind) return nullptr;
  kind->width = frame.width;
  kind->height = frame.height;
  kind->format = frame.format;
  kind->color_trc = frame.color_trc;
  kind->color_primaries = frame.color_primaries;
  kind->colorspace = frame.colorspace;
  kind->color_range = frame.color_range;
  kind->chroma_location = frame.chroma_location;
  return kind;
}

Result<void> check_same_kind(const std::string& path, const AVFrame& first, const AVFrame& frame, std::int64_t index) {
  const auto changed = [&](const char* what) {
    return fail(ErrorCode::invalid_input, fmt::format("the {} changes in mid-stream", what),
                "Cut the file there and survey the pieces one by one.", {.file = path, .frame = index});
  };
  if (frame.width != first.width || frame.height != first.height) return changed("picture size");
  if (frame.format != first.format) return changed("sample format");
  if (frame.color_trc != first.color_trc) return changed("transfer");
  if (frame.color_primaries != first.color_primaries) return changed("primaries");
  if (frame.colorspace != first.colorspace) return changed("matrix");
  if (frame.color_range != first.color_range) return changed("range");
  if (frame.chroma_location != first.chroma_location) return changed("chroma siting");
  return {};
}

Result<std::unique_ptr<Reader>> open_moving(const std::string& path, const ReaderOptions& options,
                                            const std::optional<PartOf>& part) {
  auto source = AvSource::open(path, "file:" + path, {.threads = options.threads});
  if (!source) return tl::unexpected(source.error());
  const Place place = part ? place_of(*part, (*source)->stream().time_base) : Place{};
  if (const auto gone = (*source)->go_to(place.window); !gone) return tl::unexpected(gone.error());
  auto reader = std::make_unique<MovingReader>(std::move(*source), path, place);
  if (const auto started = reader->start(options, part.has_value()); !started) return tl::unexpected(started.error());
  return reader;
}

}  // namespace provenit::programme
