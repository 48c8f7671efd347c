#include <fmt/format.h>
#include <lcms2_plugin.h>

#include <algorithm>

#include "files/icc.h"
#include "provenit/correct/lut_files.h"

namespace provenit::correct {
namespace {

constexpr double kTop = 65535;

class LinkReader {
 public:
  explicit LinkReader(const std::string& file) : file_(file) {}

  Result<Lut> read(std::string_view bytes) const {
    const icc::Profile profile(cmsOpenProfileFromMem(bytes.data(), static_cast<cmsUInt32Number>(bytes.size())));
    if (profile == nullptr) return refuse("is not an ICC profile");
    if (cmsGetDeviceClass(profile.get()) != cmsSigLinkClass || cmsGetColorSpace(profile.get()) != cmsSigRgbData ||
        cmsGetPCS(profile.get()) != cmsSigRgbData)
      return refuse("is an ICC profile, but no device link from RGB to RGB");
    const auto* pipeline = static_cast<const cmsPipeline*>(cmsReadTag(profile.get(), cmsSigAToB0Tag));
    if (pipeline == nullptr) return refuse("is a device link without readable tables");
    Lut lut;
    read_texts(profile.get(), lut);
    for (const cmsStage* s = cmsPipelineGetPtrToFirstStage(pipeline); s != nullptr; s = cmsStageNext(s))
      if (auto added = add(s, lut.stages); !added) return tl::unexpected(added.error());
    if (auto valid = validate(lut); !valid) return refuse(valid.error().message);
    return lut;
  }

 private:
  [[nodiscard]] tl::unexpected<Error> refuse(std::string message, ErrorCode code = ErrorCode::invalid_input) const {
    return fail(code, std::move(message), "Nothing was taken from the file.", {.file = file_});
  }

  static void read_texts(cmsHPROFILE profile, Lut& lut) {
    lut.title = icc::string_of(static_cast<const cmsMLU*>(cmsReadTag(profile, cmsSigProfileDescriptionTag)));
    std::ranges::replace_if(
        lut.title, [](char c) { return c == '\n' || c == '\r'; }, ' ');
    const auto* sequence = static_cast<const cmsSEQ*>(cmsReadTag(profile, cmsSigProfileSequenceDescTag));
    if (sequence == nullptr || sequence->n != 2) return;
    lut.input = values_from_text(icc::string_of(sequence->seq[0].Model));
    lut.output = values_from_text(icc::string_of(sequence->seq[1].Model));
  }

  Result<void> add(const cmsStage* stage, std::vector<Stage>& stages) const {
    switch (cmsStageType(stage)) {
      case cmsSigIdentityElemType:
        return {};
      case cmsSigCurveSetElemType:
        return curves(*static_cast<const _cmsStageToneCurvesData*>(cmsStageData(stage)), stages);
      case cmsSigMatrixElemType:
        return matrix(stage, stages);
      case cmsSigCLutElemType:
        return lattice(stage, stages);
      default:
        return refuse("has a stage that a table cannot hold", ErrorCode::unsupported);
    }
  }

  Result<void> curves(const _cmsStageToneCurvesData& data, std::vector<Stage>& stages) const {
    if (data.nCurves != 3) return refuse("has curves for other than three channels");
    if (std::all_of(data.TheCurves, data.TheCurves + 3, [](const auto* c) { return cmsIsToneCurveLinear(c) != 0; }))
      return {};
    Lut1d table{.channel = {}, .entry_bits = 16};
    for (std::size_t c = 0; c < 3; ++c) {
      const cmsToneCurve* curve = data.TheCurves[c];
      if (cmsGetToneCurveParametricType(curve) != 0)
        return refuse("has a curve given as a formula, which a table cannot hold", ErrorCode::unsupported);
      const auto* words = cmsGetToneCurveEstimatedTable(curve);
      for (cmsUInt32Number i = 0; i < cmsGetToneCurveEstimatedTableEntries(curve); ++i)
        table.channel[c].push_back(words[i] / kTop);
    }
    stages.emplace_back(std::move(table));
    return {};
  }

  Result<void> matrix(const cmsStage* stage, std::vector<Stage>& stages) const {
    if (cmsStageInputChannels(stage) != 3 || cmsStageOutputChannels(stage) != 3)
      return refuse("has a matrix that is not 3 x 3");
    const auto& data = *static_cast<const _cmsStageMatrixData*>(cmsStageData(stage));
    Affine affine;
    for (std::size_t i = 0; i < 9; ++i) affine.matrix(i / 3, i % 3) = data.Double[i];
    if (data.Offset != nullptr) std::copy_n(data.Offset, 3, affine.offset.begin());
    stages.emplace_back(affine);
    return {};
  }

  Result<void> lattice(const cmsStage* stage, std::vector<Stage>& stages) const {
    const auto& data = *static_cast<const _cmsStageCLutData*>(cmsStageData(stage));
    const auto* samples = data.Params->nSamples;
    if (cmsStageInputChannels(stage) != 3 || cmsStageOutputChannels(stage) != 3 || samples[0] != samples[1] ||
        samples[0] != samples[2] || data.HasFloatValues != 0)
      return refuse("has a 3D table that is not a cube of 16-bit entries", ErrorCode::unsupported);
    Lut3d table{.size = static_cast<int>(samples[0]), .nodes = {}, .entry_bits = 16};
    for (cmsUInt32Number i = 0; i + 2 < data.nEntries; i += 3)
      table.nodes.push_back({data.Tab.T[i] / kTop, data.Tab.T[i + 1] / kTop, data.Tab.T[i + 2] / kTop});
    stages.emplace_back(std::move(table));
    return {};
  }

  const std::string& file_;
};

}  // namespace

Result<Lut> lut_from_icc_link(std::string_view bytes, const std::string& file) {
  return LinkReader(file).read(bytes);
}

}  // namespace provenit::correct
