#include "provenit/report/records_json.h"

#include <algorithm>
#include <cmath>

#include "provenit/base/text.h"
#include "provenit/procedure/catalogue.h"
#include "provenit/procedure/recording.h"

namespace provenit::report {

Json time_json(Timestamp time) {
  return time.unix_s == 0 ? Json(nullptr) : Json(iso8601(time));
}

Json number_json(double value) {
  return std::isfinite(value) ? Json(value) : Json(nullptr);
}

std::vector<std::pair<store::Id, store::Id>> ranges(std::vector<store::Id> ids) {
  std::ranges::sort(ids);
  std::vector<std::pair<store::Id, store::Id>> out;
  for (const auto id : ids) {
    if (!out.empty() && id <= out.back().second + 1)
      out.back().second = std::max(id, out.back().second);
    else
      out.emplace_back(id, id);
  }
  return out;
}

Json display_json(const store::DisplayRecord& record) {
  return {{"name", record.name},
          {"technology", record.technology},
          {"encoding", signal::to_json(record.encoding)},
          {"details", record.details}};
}

Json instrument_json(const store::InstrumentRecord& record) {
  const auto& c = record.certificate;
  const auto& k = record.capabilities;
  return {{"name", record.name},
          {"kind", record.kind},
          {"certificate",
           {{"luminance_expanded_relative", c.luminance_expanded_relative},
            {"x_expanded", c.x_expanded},
            {"y_expanded", c.y_expanded},
            {"coverage_factor", c.coverage_factor},
            {"zero_offset_standard_cdm2", c.zero_offset_standard_cdm2},
            {"number", c.number},
            {"issuer", c.issuer},
            {"date", c.date}}},
          {"capabilities",
           {{"spectral", k.spectral},
            {"minimum_cdm2", k.minimum_cdm2},
            {"maximum_cdm2", k.maximum_cdm2},
            {"repeatability_relative", k.repeatability_relative},
            {"noise_floor_cdm2", k.noise_floor_cdm2},
            {"shot_noise", k.shot_noise}}},
          {"details", record.details}};
}

Json room_json(const store::RoomRecord& record) {
  if (record.id == 0 && record.name.empty()) return nullptr;
  const auto optional = [](const std::optional<double>& v) { return v ? number_json(*v) : Json(nullptr); };
  return {{"name", record.name},
          {"surround_cdm2", optional(record.surround_cdm2)},
          {"screen_illuminance_lx", optional(record.screen_illuminance_lx)},
          {"details", record.details}};
}

Json loan_json(const store::LoanRecord& record) {
  return {{"starts", time_json(record.starts)},
          {"ends", time_json(record.ends)},
          {"purpose", record.purpose},
          {"seed", record.seed}};
}

Json run_json(const RunContents& contents) {
  const auto& run = contents.run;
  Json events = Json::array();
  for (const auto& event : contents.events)
    events.push_back({{"at", time_json(event.at)}, {"kind", event.kind}, {"text", event.text}});
  return {{"id", run.id},
          {"procedure", run.procedure},
          {"procedure_version", run.procedure_version},
          {"parameters", run.parameters},
          {"state", name_of(run.state)},
          {"started", time_json(run.started)},
          {"ended", run.ended ? time_json(*run.ended) : Json(nullptr)},
          {"origin", run.origin},
          {"reading_count", contents.readings.size()},
          {"events", std::move(events)}};
}

Json attachment_json(const store::AttachmentRecord& record, const std::vector<store::FindingRecord>& findings) {
  const auto* recording = procedure::find_recording(record.recording);
  Json from = Json::array();
  for (const auto& f : findings)
    if (std::ranges::find(f.attachments, record.id) != f.attachments.end()) from.push_back(f.id);
  return {{"id", record.id},
          {"name", record.name},
          {"kind", name_of(record.kind)},
          {"recording", record.recording},
          {"title", recording ? recording->title : record.recording},
          {"step", record.conditions.value("step", "")},
          {"added", time_json(record.added)},
          {"sha256", record.content_hash},
          {"bytes", record.bytes},
          {"run", record.run == 0 ? Json(nullptr) : Json(record.run)},
          {"conditions", record.conditions},
          {"findings", std::move(from)}};
}

std::optional<store::Id> correction_of(const store::FindingRecord& finding) {
  const auto* quantity = procedure::find_quantity(finding.quantity);
  if (!quantity || quantity->procedure != "correction_proof") return std::nullopt;
  return finding.parts.value("correction", store::Id{0});
}

std::vector<store::Id> proof_of(const store::CorrectionRecord& record,
                                const std::vector<store::FindingRecord>& findings) {
  std::vector<store::Id> out;
  for (const auto& f : findings)
    if (correction_of(f) == record.id) out.push_back(f.id);
  return out;
}

Json correction_json(const store::CorrectionRecord& record, const std::vector<store::FindingRecord>& findings) {
  return {{"id", record.id},
          {"name", record.name},
          {"run", record.run},
          {"goal", record.goal},
          {"added", time_json(record.added)},
          {"sha256", record.content_hash},
          {"bytes", record.bytes},
          {"findings", proof_of(record, findings)}};
}

Json finding_json(const store::FindingRecord& record) {
  const auto* quantity = procedure::find_quantity(record.quantity);
  return {{"id", record.id},
          {"quantity", record.quantity},
          {"title", quantity ? std::string(quantity->title) : record.quantity},
          {"conditions", record.conditions},
          {"value", record.value},
          {"unit", record.unit},
          {"standard_uncertainty", number_json(record.standard_uncertainty)},
          {"lower95", number_json(record.lower95)},
          {"upper95", number_json(record.upper95)},
          {"interval_method", record.interval_method},
          {"dominant", record.dominant},
          {"method", record.method},
          {"method_version", record.method_version},
          {"sources", record.sources},
          {"parts", record.parts},
          {"series", record.series},
          {"reading_count", record.readings.size()},
          {"readings", ranges(record.readings)},
          {"attachments", record.attachments},
          {"computed", time_json(record.computed)},
          {"software", record.software}};
}

Json quantities_json() {
  Json out = Json::object();
  for (const auto& q : procedure::catalogue())
    out[std::string(q.key)] = {{"title", q.title},
                               {"unit", q.unit},
                               {"procedure", q.procedure},
                               {"conditions", q.conditions},
                               {"meaning", q.meaning}};
  return out;
}

Json readings_json(const std::vector<RunContents>& runs) {
  Json rows = Json::array();
  for (const auto& contents : runs)
    for (const auto& r : contents.readings) {
      const auto& m = r.measurement;
      std::string flags = m.saturated ? "saturated" : "";
      if (m.below_range) flags += flags.empty() ? "below range" : ", below range";
      rows.push_back({r.id, r.run, r.sequence, r.step, r.repeat, time_json(r.taken), r.signal.patch.code[0],
                      r.signal.patch.code[1], r.signal.patch.code[2], number_json(m.xyz.X), number_json(m.xyz.Y),
                      number_json(m.xyz.Z), number_json(m.integration.s), flags});
    }
  return {{"columns",
           {"reading", "run", "sequence", "step", "repeat", "taken", "r_code", "g_code", "b_code", "X_cdm2", "Y_cdm2",
            "Z_cdm2", "integration_s", "flags"}},
          {"rows", std::move(rows)}};
}

}  // namespace provenit::report
