// AVIF stills: the AV1 picture by libav, everything said about it from the boxes.
#include <fmt/format.h>

#include "provenit/base/text.h"
#include "reader/av_format.h"
#include "reader/av_metadata.h"
#include "reader/av_source.h"
#include "reader/isobmff.h"
#include "reader/stills.h"

namespace provenit::programme {
namespace {

tl::unexpected<Error> refuse(ErrorCode code, const std::string& path, const std::string& what,
                             const std::string& advice) {
  return fail(code, what, advice, {.file = path});
}

Result<void> check_boxes(const std::string& path, const AvifFacts& facts, SourceInfo& info) {
  if (facts.item_type != "av01")
    return refuse(ErrorCode::unsupported, path,
                  fmt::format("its primary item is of type '{}', not a single AV1 picture", facts.item_type),
                  "Write it again without tiles.");
  for (const std::string& name : facts.transformations)
    info.notes.push_back(fmt::format("property {} (turn, mirror or crop) is not applied: measured as coded", name));
  if (facts.has_icc && !facts.colour) info.notes.push_back("its ICC profile is not used: name transfer and primaries");
  return {};
}

}  // namespace

Result<Still> read_avif(const std::string& path, const ReaderOptions& options) {
  const auto bytes = read_file(path);
  if (!bytes) return tl::unexpected(bytes.error());
  auto facts = read_avif_boxes(bytes_of(*bytes));
  if (!facts) {
    facts.error().where.file = path;
    return tl::unexpected(facts.error());
  }
  Still still;
  SourceInfo& info = still.info;
  info.path = path;
  info.container = "avif";
  info.codec = "av1";
  info.frames = 1;
  if (const auto good = check_boxes(path, *facts, info); !good) return tl::unexpected(good.error());
  auto source = AvSource::open(path, "file:" + path, {.threads = options.threads});
  if (!source) return tl::unexpected(source.error());
  std::optional<AvDecoded> decoded = (*source)->next();
  const std::string trouble = (*source)->troubles().any() ? ": " + (*source)->troubles().lines().front() : "";
  if (!decoded || decoded->damaged || !trouble.empty())
    return refuse(ErrorCode::invalid_input, path, "the picture cannot be decoded" + trouble,
                  "The file may be damaged or cut off.");
  const AVFrame& frame = *decoded->frame;
  if (facts->width &&
      (static_cast<int>(*facts->width) != frame.width || static_cast<int>(*facts->height) != frame.height))
    return refuse(ErrorCode::invalid_input, path,
                  fmt::format("the boxes say {} x {}, the picture is {} x {}", *facts->width, *facts->height,
                              frame.width, frame.height),
                  "Make the file again.");
  auto layout = layout_of(path, frame);
  if (!layout) return tl::unexpected(layout.error());
  add_codec_rules(AV_CODEC_ID_AV1, *layout);
  std::vector<ColourFields> said;
  if (facts->colour) said.push_back(*facts->colour);  // stands above the bitstream: HEIF, item property colr
  said.push_back(fields_of(frame));
  const auto format = settle_format(path, *layout, said, options.interpretation, info.notes);
  if (!format) return tl::unexpected(format.error());
  info.format = *format;
  info.metadata = facts->metadata;
  if (info.metadata.where.empty()) info.metadata = metadata_of(frame, (*source)->stream(), info.notes);
  note_extras(frame, (*source)->stream(), info.notes);
  still.picture = picture_of(std::move(decoded->frame), *format);
  return still;
}

}  // namespace provenit::programme
