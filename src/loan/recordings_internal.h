#pragma once
#include <string>

#include "provenit/evaluation/captures.h"
#include "provenit/evaluation/field_picture.h"
#include "provenit/evaluation/zone_clip.h"
#include "provenit/instrument/trace.h"
#include "provenit/signal/test_picture.h"
#include "provenit/store/records.h"

namespace provenit::loan {

/// Errors: those of parse_trace.
[[nodiscard]] Result<instrument::Trace> trace_of(const std::string& bytes, const std::string& name,
                                                 const nlohmann::json& conditions);
/// A captured still (PNG, TIFF ... of R', G', B'), from its bytes; `name` gives its kind by its ending. Only code
/// values are used. Errors: those of the reader; unsupported for a still that is not R', G', B'.
[[nodiscard]] Result<evaluation::CapturedFrame> capture_of(const std::string& bytes, const std::string& name);
/// Light of the places of a camera's clip, from its bytes. Errors: those of the reader; unsupported for floats.
[[nodiscard]] Result<evaluation::WalkClip> walk_clip_of(const std::string& bytes, const std::string& name);
/// Whether the file is a clip rather than a trace's text.
[[nodiscard]] bool is_clip(std::string_view bytes, std::string_view name);
/// Zones counted in the clip of this attachment.
[[nodiscard]] Result<evaluation::ClipCount> count_in_clip(const evaluation::WalkClip& clip,
                                                          const nlohmann::json& conditions);
/// A camera's picture of a field in linear light, from its bytes; `conditions` says the coding of whole numbers.
[[nodiscard]] Result<evaluation::LinearPicture> linear_picture_of(const std::string& bytes, const std::string& name,
                                                                  const nlohmann::json& conditions);
/// What was read of such a picture, in words; an error if evaluation could not use it.
[[nodiscard]] Result<std::string> look_at_field_picture(const std::string& bytes, const std::string& name,
                                                        const nlohmann::json& conditions);
/// The test picture that an attachment's conditions name, in this encoding.
[[nodiscard]] Result<signal::TestPicture> picture_of(const nlohmann::json& conditions,
                                                     const signal::Encoding& encoding);
/// The frame shows what its recording's evaluation looks for.
[[nodiscard]] Result<void> check_capture(const evaluation::CapturedFrame& frame, const signal::TestPicture& picture,
                                         const std::string& recording);
/// The trace has the channels, and the conditions the numbers, that its recording's evaluation needs.
[[nodiscard]] Result<void> check_trace(const instrument::Trace& trace, const store::AttachmentRecord& attachment);

}  // namespace provenit::loan
