#include "tables.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "provenit/base/text.h"
#include "provenit/procedure/catalogue.h"
#include "provenit/report/records_json.h"

namespace provenit::report {
namespace {

/// Collects the cells of one line; quotes those that need it.
class Line {
 public:
  Line& text(std::string_view cell) {
    if (!line_.empty() || started_) line_ += ',';
    started_ = true;
    if (cell.find_first_of(",\"\r\n") == std::string_view::npos) {
      line_ += cell;
      return *this;
    }
    line_ += '"';
    for (const char c : cell) {
      if (c == '"') line_ += '"';
      line_ += c;
    }
    line_ += '"';
    return *this;
  }
  Line& number(double value) { return text(std::isfinite(value) ? exact_text(value) : std::string()); }
  Line& number(const std::optional<double>& value) { return value ? number(*value) : text(""); }
  Line& integer(std::int64_t value) { return text(fmt::format("{}", value)); }
  Line& flag(bool value) { return text(value ? "1" : "0"); }
  Line& time(Timestamp value) { return text(value.unix_s == 0 ? std::string() : iso8601(value)); }
  [[nodiscard]] std::string end() const { return line_ + '\n'; }

 private:
  std::string line_;
  bool started_ = false;
};

std::string id_text(const std::vector<store::Id>& ids) {
  std::string out;
  for (const auto& [first, last] : ranges(ids)) {
    if (!out.empty()) out += ' ';
    out += first == last ? fmt::format("{}", first) : fmt::format("{}-{}", first, last);
  }
  return out;
}

std::string reading_line(const store::RunRecord& run, const store::ReadingRecord& r) {
  const auto& e = r.signal.encoding;
  const auto& m = r.measurement;
  Line line;
  line.integer(r.id).integer(r.run).text(run.procedure).text(run.origin).integer(r.sequence).text(r.step);
  line.integer(r.repeat).time(r.taken);
  line.text(signal::name_of(e.transfer)).text(signal::name_of(e.container)).integer(e.bits);
  line.text(signal::name_of(e.range)).number(e.nominal_peak_cdm2);
  for (const int code : r.signal.patch.code) line.integer(code);
  for (const int code : r.signal.surround.code) line.integer(code);
  line.text(signal::name_of(r.signal.geometry.shape)).number(r.signal.geometry.area_fraction);
  line.integer(r.signal.geometry.columns).integer(r.signal.geometry.rows);
  line.number(r.signal.geometry.centre_x).number(r.signal.geometry.centre_y);
  line.number(m.xyz.X).number(m.xyz.Y).number(m.xyz.Z).number(m.integration.s);
  line.flag(m.saturated).flag(m.below_range).text(r.context.empty() ? "" : r.context.dump()).text(m.raw_reply);
  return line.end();
}

}  // namespace

std::string readings_csv(const Contents& contents) {
  std::string out =
      "reading,run,procedure,origin,sequence,step,repeat,taken,transfer,container,bits,range,nominal_peak_cdm2,"
      "r_code,g_code,b_code,surround_r_code,surround_g_code,surround_b_code,shape,area_fraction,columns,rows,"
      "centre_x,centre_y,"
      "X_cdm2,Y_cdm2,Z_cdm2,integration_s,saturated,below_range,context,raw_reply\n";
  for (const auto& contents_of_run : contents.runs)
    for (const auto& reading : contents_of_run.readings) out += reading_line(contents_of_run.run, reading);
  return out;
}

std::string spectra_csv(const Contents& contents) {
  std::string out;
  for (const auto& run : contents.runs)
    for (const auto& r : run.readings) {
      if (!r.measurement.spectrum) continue;
      const auto& s = *r.measurement.spectrum;
      if (out.empty()) out = "reading,wavelength_nm,radiance_w_sr_m2_nm\n";
      for (std::size_t i = 0; i < s.radiance.size(); ++i)
        out += Line().integer(r.id).number(s.start_nm + double(i) * s.step_nm).number(s.radiance[i]).end();
    }
  return out;
}

std::string attachments_csv(const Contents& contents) {
  if (contents.attachments.empty()) return {};
  std::string out = "attachment,name,kind,recording,step,added,sha256,bytes,run,conditions,findings\n";
  for (const auto& a : contents.attachments) {
    std::vector<store::Id> from;
    for (const auto& f : contents.findings)
      if (std::ranges::find(f.attachments, a.id) != f.attachments.end()) from.push_back(f.id);
    Line line;
    line.integer(a.id).text(a.name).text(name_of(a.kind)).text(a.recording).text(a.conditions.value("step", ""));
    line.time(a.added).text(a.content_hash).integer(a.bytes).text(a.run == 0 ? "" : fmt::format("{}", a.run));
    line.text(a.conditions.dump()).text(id_text(from));
    out += line.end();
  }
  return out;
}

std::string corrections_csv(const Contents& contents) {
  if (contents.corrections.empty()) return {};
  std::string out = "correction,name,run,goal,added,sha256,bytes,findings\n";
  for (const auto& c : contents.corrections) {
    Line line;
    line.integer(c.id).text(c.name).integer(c.run).text(c.goal.dump()).time(c.added);
    line.text(c.content_hash).integer(c.bytes).text(id_text(proof_of(c, contents.findings)));
    out += line.end();
  }
  return out;
}

std::string findings_csv(const Contents& contents) {
  std::string out =
      "finding,quantity,title,conditions,value,unit,standard_uncertainty,lower95,upper95,interval_method,dominant,"
      "method,method_version,sources,readings,reading_count,attachments,parts,computed,software\n";
  for (const auto& f : contents.findings) {
    const auto* quantity = procedure::find_quantity(f.quantity);
    Line line;
    line.integer(f.id).text(f.quantity).text(quantity ? quantity->title : "").text(f.conditions.dump());
    line.number(f.value).text(f.unit).number(f.standard_uncertainty).number(f.lower95).number(f.upper95);
    line.text(f.interval_method).text(f.dominant).text(f.method).integer(f.method_version);
    line.text(fmt::format("{}", fmt::join(f.sources, "; "))).text(id_text(f.readings));
    line.integer(std::int64_t(f.readings.size())).text(id_text(f.attachments));
    line.text(f.parts.dump()).time(f.computed).text(f.software);
    out += line.end();
  }
  return out;
}

std::string questions_csv(const std::vector<Outcome>& outcomes) {
  std::string out =
      "question,set,key,text,quantity,conditions,comparison,lower,upper,unit,clause,source,mark,weight,outcome,"
      "finding,value,lower95,upper95,margin,decides,explanation,missing\n";
  for (const auto& o : outcomes) {
    const auto& q = *o.question;
    Line line;
    line.integer(q.id).text(q.set).text(q.key).text(q.text).text(q.quantity).text(q.conditions.dump());
    line.text(name_of(q.comparison)).number(q.lower).number(q.upper).text(q.unit).text(q.clause).text(q.source);
    line.text(name_of(q.mark)).number(q.weight).text(o.name);
    if (o.finding)
      line.integer(o.finding->id).number(o.finding->value).number(o.finding->lower95).number(o.finding->upper95);
    else
      line.text("").text("").text("").text("");
    line.number(o.verdict ? o.verdict->margin : std::nullopt);
    line.text(o.verdict ? o.verdict->decides : "").text(o.verdict ? o.verdict->text : "").text(o.missing);
    out += line.end();
  }
  return out;
}

}  // namespace provenit::report
