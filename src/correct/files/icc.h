#pragma once
// Owners of lcms2's objects, and what all our profiles share.
#include <lcms2.h>

#include <memory>
#include <string>

#include "provenit/base/clock.h"
#include "provenit/base/error.h"

namespace provenit::correct::icc {

struct CloseProfile {
  void operator()(void* p) const { cmsCloseProfile(p); }
};
using Profile = std::unique_ptr<void, CloseProfile>;

struct FreePipeline {
  void operator()(cmsPipeline* p) const { cmsPipelineFree(p); }
};
using Pipeline = std::unique_ptr<cmsPipeline, FreePipeline>;

struct FreeCurve {
  void operator()(cmsToneCurve* p) const { cmsFreeToneCurve(p); }
};
using Curve = std::unique_ptr<cmsToneCurve, FreeCurve>;

struct FreeText {
  void operator()(cmsMLU* p) const { cmsMLUfree(p); }
};
using Text = std::unique_ptr<cmsMLU, FreeText>;

/// ICC.1:2022, the first edition with a cicp tag.
inline constexpr double kVersion = 4.4;

[[nodiscard]] Text text_of(const std::string& ascii);
/// ASCII of a text; empty for none.
[[nodiscard]] std::string string_of(const cmsMLU* text);
/// The description and copyright that every profile must have. False if memory ran out.
[[nodiscard]] bool describe(cmsHPROFILE profile, const std::string& title);
/// The profile's bytes, its date replaced by `created`: lcms2 writes the machine's. Errors: invalid_input.
[[nodiscard]] Result<std::string> bytes_of(cmsHPROFILE profile, Timestamp created);

}  // namespace provenit::correct::icc
