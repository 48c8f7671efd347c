#include <algorithm>
#include <cmath>

#include "files/icc.h"
#include "provenit/correct/lut_files.h"

namespace provenit::correct {
namespace {

/// Kinds of the stages of a Lut: 'c' curves, 'l' lattice, 'm' matrix.
std::string kinds_of(const std::vector<Stage>& stages) {
  std::string kinds;
  for (const Stage& stage : stages)
    kinds += std::holds_alternative<Lut1d>(stage) ? 'c' : std::holds_alternative<Lut3d>(stage) ? 'l' : 'm';
  return kinds;
}

/// The stages as the file has room for them: curves on both sides of a lattice (identity ones where there are none).
Result<std::vector<Stage>> arranged(const std::vector<Stage>& stages) {
  const std::string kinds = kinds_of(stages);
  std::vector<Stage> result = stages;
  if (kinds == "l" || kinds == "lc") result.insert(result.begin(), identity_1d(2));
  if (kinds == "l" || kinds == "cl") result.emplace_back(identity_1d(2));
  const std::string now = kinds_of(result);
  if (now != "c" && now != "cmc" && now != "clc")
    return fail(ErrorCode::unsupported,
                "a device link holds a 1D table, a 3D table with or without 1D tables around it, or a matrix between "
                "two 1D tables",
                "Write these stages as .clf.");
  return result;
}

bool inside(double v) {
  return v >= 0 && v <= 1;
}
cmsUInt16Number word(double v) {
  return static_cast<cmsUInt16Number>(std::lround(65535 * v));
}

cmsStage* stage_of(const Lut1d& table) {
  icc::Curve curves[3];
  cmsToneCurve* borrowed[3] = {};
  for (std::size_t c = 0; c < 3; ++c) {
    std::vector<cmsUInt16Number> words(table.channel[c].size());
    std::ranges::transform(table.channel[c], words.begin(), word);
    curves[c].reset(cmsBuildTabulatedToneCurve16(nullptr, static_cast<cmsUInt32Number>(words.size()), words.data()));
    borrowed[c] = curves[c].get();
    if (borrowed[c] == nullptr) return nullptr;
  }
  return cmsStageAllocToneCurves(nullptr, 3, borrowed);
}
cmsStage* stage_of(const Lut3d& table) {
  std::vector<cmsUInt16Number> words;
  words.reserve(3 * table.nodes.size());
  for (const Triple& node : table.nodes)
    for (const double v : node) words.push_back(word(v));
  return cmsStageAllocCLut16bit(nullptr, table.size, 3, 3, words.data());
}
cmsStage* stage_of(const Affine& a) {
  cmsFloat64Number matrix[9];
  for (std::size_t i = 0; i < 9; ++i) matrix[i] = a.matrix(i / 3, i % 3);
  return cmsStageAllocMatrix(nullptr, 3, 3, matrix, a.offset.data());
}

bool in_range(const Stage& stage) {
  if (const auto* table = std::get_if<Lut1d>(&stage))
    return std::ranges::all_of(table->channel, [](const auto& curve) { return std::ranges::all_of(curve, inside); });
  if (const auto* lattice = std::get_if<Lut3d>(&stage))
    return std::ranges::all_of(lattice->nodes, [](const Triple& v) { return std::ranges::all_of(v, inside); });
  return true;
}

/// What goes in and what comes out, as the texts of the two devices that the link joins.
bool write_sequence(cmsHPROFILE profile, const Lut& lut) {
  cmsSEQ* sequence = cmsAllocProfileSequenceDescription(nullptr, 2);
  if (sequence == nullptr) return false;
  for (int i = 0; i < 2; ++i) {
    const auto& values = i == 0 ? lut.input : lut.output;
    cmsPSEQDESC& entry = sequence->seq[i];
    entry.Manufacturer = icc::text_of("").release();
    entry.Model = icc::text_of(values ? text_of(*values) : "").release();
  }
  const bool written = cmsWriteTag(profile, cmsSigProfileSequenceDescTag, sequence) != 0;
  cmsFreeProfileSequenceDescription(sequence);
  return written;
}

}  // namespace

Result<std::string> icc_link_bytes(const Lut& lut, Timestamp created) {
  if (auto valid = validate(lut); !valid) return tl::unexpected(valid.error());
  const auto stages = arranged(lut.stages);
  if (!stages) return tl::unexpected(stages.error());
  if (!std::ranges::all_of(*stages, in_range))
    return fail(ErrorCode::out_of_range, "a table has entries outside 0 to 1, which a device link cannot hold",
                "Write these stages as .clf.");
  const icc::Profile profile(cmsCreateProfilePlaceholder(nullptr));
  const icc::Pipeline pipeline(cmsPipelineAlloc(nullptr, 3, 3));
  cmsSetProfileVersion(profile.get(), icc::kVersion);
  cmsSetDeviceClass(profile.get(), cmsSigLinkClass);
  cmsSetColorSpace(profile.get(), cmsSigRgbData);
  cmsSetPCS(profile.get(), cmsSigRgbData);
  bool done = pipeline != nullptr;
  for (const Stage& stage : *stages) {
    cmsStage* made = std::visit([](const auto& s) { return stage_of(s); }, stage);
    done = done && made != nullptr && cmsPipelineInsertStage(pipeline.get(), cmsAT_END, made) != 0;
  }
  done = done && icc::describe(profile.get(), lut.title) && write_sequence(profile.get(), lut) &&
         cmsWriteTag(profile.get(), cmsSigAToB0Tag, pipeline.get()) != 0;
  if (!done)
    return fail(ErrorCode::invalid_input, "the device link could not be put together", "Write these stages as .clf.");
  return icc::bytes_of(profile.get(), created);
}

}  // namespace provenit::correct
