// Recordings made by hand, through the command: planned, attached, evaluated, kept.
#include <fmt/format.h>
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>
#include <filesystem>
#include <nlohmann/json.hpp>

#include "bench_folder.h"
#include "provenit/base/text.h"
#include "provenit/store/bench.h"

namespace provenit {
namespace {

using testing::HasSubstr;

class Attach : public BenchFolder {
 protected:
  Attach() {
    for (const auto& line : {"new " + bench() + " --title T --evaluator E",
                             "describe display " + bench() + " --name \"Tern 32\" --simulated tern-32",
                             "describe instrument " + bench() + " --name Meter --kind simulated",
                             "describe room " + bench() + " --name Room --surround 5",
                             "describe loan " + bench() + " --hours 4 --starts 2026-11-25T09:00:00Z --seed 7"})
      EXPECT_EQ(run_command(line, "&1").exit, 0) << line;
  }

  /// 1 + 0.1 sin at 120 Hz over a dark level of 0.5; two seconds at 5 kHz.
  std::string flicker_file(const std::string& last_row = "") const {
    std::string text = "time (ms),light (V)\n";
    for (int i = 0; i < 10000; ++i)
      text += fmt::format("{:.1f},{:.6f}\n", i * 0.2, 1.5 + 0.1 * std::sin(2 * 3.14159265358979 * 120 * i / 5000));
    const auto name = path("steady.csv");
    EXPECT_TRUE(write_file(name, text + last_row));
    return name;
  }

  static nlohmann::json find(const nlohmann::json& findings, const std::string& quantity) {
    for (const auto& f : findings)
      if (f["quantity"] == quantity) return f;
    return nullptr;
  }
};

TEST_F(Attach, APlannedTraceBecomesFindingsAndAVerdict) {
  ASSERT_TRUE(write_file(path("own.toml"),
                         "id = \"own\"\ntitle = \"Own\"\nsource = \"own\"\nmark = \"common_practice\"\n"
                         "[[question]]\nquantity = \"flicker_percent\"\nat_most = 20\nunit = \"%\"\n"));
  ASSERT_EQ(run("questions " + bench() + " --set " + path("own.toml")).exit, 0);
  const auto plan = run_json("plan " + bench());
  ASSERT_EQ(plan.exit, 0);
  EXPECT_EQ(plan.json()["runs"].back()["procedure"], "flicker");
  EXPECT_EQ(plan.json()["runs"].back()["time_s"], 310);
  const auto ran = run_json("run " + bench());
  ASSERT_EQ(ran.exit, 0) << ran.out;
  // The display is simulated, and so is the light sensor before it; what is recorded later counts.
  EXPECT_EQ(ran.json()["to_record"], nlohmann::json::array());
  EXPECT_EQ(run_json("attach " + bench() + " --list").json()["attachments"][0]["conditions"]["origin"], "simulated");

  const auto attached = run_json("attach " + bench() + " " + flicker_file() + " --for flicker --dark 0.5");
  ASSERT_EQ(attached.exit, 0) << attached.out;
  EXPECT_EQ(attached.json()["conditions"]["picture"]["key"], "window");
  EXPECT_EQ(attached.json()["conditions"]["picture"]["parameters"]["area_percent"], 100);
  const auto evaluated = run_json("evaluate " + bench());
  ASSERT_EQ(evaluated.exit, 0) << evaluated.out;
  const auto percent = find(evaluated.json()["findings"], "flicker_percent");
  ASSERT_FALSE(percent.is_null()) << evaluated.out;
  EXPECT_NEAR(percent["value"].get<double>(), 10, 0.02);
  EXPECT_NEAR(find(evaluated.json()["findings"], "flicker_frequency")["value"].get<double>(), 120, 0.05);
  EXPECT_EQ(evaluated.json()["verdicts"][0]["verdict"], "meets");

  const auto opened = store::Bench::open(bench()).value();
  EXPECT_TRUE(opened.verify_attachments());
  const auto findings = opened.latest_findings(1).value();
  const auto kept = std::ranges::find(findings, "flicker_percent", &store::FindingRecord::quantity);
  EXPECT_EQ(kept->attachments, std::vector<store::Id>{2});
  EXPECT_EQ(opened.attachment_content(2).value(), read_file(path("steady.csv")).value());
  EXPECT_EQ(run("report " + bench() + " --out " + path("report")).exit, 0);
}

TEST_F(Attach, ACapturedStillBecomesFindings) {
  const auto still = path("chroma.png");
  ASSERT_EQ(run("picture chroma_lines --size 960x540 --out " + still).exit, 0);
  const auto wrong = run("attach " + bench() + " " + still + " --for chroma_capture");
  EXPECT_EQ(wrong.exit, 2);
  EXPECT_THAT(wrong.out, HasSubstr("960 x 540"));
  const auto attached = run("attach " + bench() + " " + still + " --for chroma_capture --size 960x540");
  ASSERT_EQ(attached.exit, 0) << attached.out;
  const auto evaluated = run_json("evaluate " + bench());
  ASSERT_EQ(evaluated.exit, 0) << evaluated.out;
  const auto kept = find(evaluated.json()["findings"], "chroma_kept");
  ASSERT_FALSE(kept.is_null());
  EXPECT_EQ(kept["parts"]["sampling"], "4:4:4");
  EXPECT_NEAR(kept["value"].get<double>(), 100, 0.01);
}

TEST_F(Attach, FramesOfWavesRampsAndClipStepsBecomeFindings) {
  const struct {
    const char *picture, *recording, *quantity;
    double value, tolerance;
  } cases[] = {{"scaling_set", "scaling_capture", "edge_mtf", 100, 0.01},
               {"zone_plate", "alias_capture", "alias_share", 0, 0.001},
               {"luminance_ramp", "ramp_capture", "ramp_effective_bits", 10, 1e-9},
               {"clip_steps", "clip_capture", "captured_clip_hue_shift", 0, 0.01}};
  for (const auto& c : cases) {
    const auto still = path(std::string(c.picture) + ".png");
    ASSERT_EQ(run(fmt::format("picture {} --size 960x540 --out {}", c.picture, still)).exit, 0);
    const auto attached = run(fmt::format("attach {} {} --for {} --size 960x540", bench(), still, c.recording));
    ASSERT_EQ(attached.exit, 0) << attached.out;
  }
  const auto evaluated = run_json("evaluate " + bench());
  ASSERT_EQ(evaluated.exit, 0) << evaluated.out;
  for (const auto& c : cases) {
    const auto found = find(evaluated.json()["findings"], c.quantity);
    ASSERT_FALSE(found.is_null()) << c.quantity;
    EXPECT_NEAR(found["value"].get<double>(), c.value, c.tolerance) << c.quantity;
  }
}

TEST_F(Attach, WhatCannotBeUsedIsRefusedAndNotKept) {
  const auto file = flicker_file("2000,nan\n");
  const struct {
    std::string arguments;
    const char* words;
  } cases[] = {{file + " --for flicker", "steady.csv:10002 (light)"},
               {file + " --for flickers", "there is no recording 'flickers'"},
               {file + " --for zone_walk", "has several steps"},
               {file + " --for flicker --set colour=1", "colour"},
               {file + " --for chroma_capture", "steady.csv"}};
  for (const auto& c : cases) {
    const auto answer = run("attach " + bench() + " " + c.arguments);
    EXPECT_EQ(answer.exit, 2) << c.arguments;
    EXPECT_THAT(answer.out, HasSubstr(c.words)) << c.arguments;
  }
  EXPECT_THAT(run("attach " + bench() + " " + path("none.csv") + " --for flicker").out, HasSubstr("none.csv"));
  ASSERT_EQ(run("attach " + bench() + " " + flicker_file() + " --for flicker").exit, 0);
  EXPECT_THAT(run("attach " + bench() + " " + path("steady.csv") + " --for flicker").out, HasSubstr("attachment 1"));
  EXPECT_THAT(run("attach " + bench() + " " + path("steady.csv") + " --for light_steps").out,
              HasSubstr("Attachment 2"));
  // Read, but nothing in it: said, not passed over.
  const auto evaluated = run_json("evaluate " + bench());
  ASSERT_EQ(evaluated.exit, 0);
  ASSERT_EQ(evaluated.json()["notes"].size(), 1u);
  EXPECT_THAT(evaluated.json()["notes"][0].get<std::string>(), HasSubstr("light_steps"));
  EXPECT_EQ(run_json("attach " + bench() + " --list").json()["attachments"].size(), 2u);
}

}  // namespace
}  // namespace provenit
