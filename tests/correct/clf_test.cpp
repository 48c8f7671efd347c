// CLF against OpenColorIO 2.1.2 (BSD-3-Clause), which reads and writes it by itself, in single precision.
#include <gmock/gmock.h>

#include <fstream>

#include "files.h"
#include "ocio.h"
#include "provenit/correct/lut_files.h"
#include "tables.h"

namespace provenit::correct {
namespace {

using testing::HasSubstr;
using Clf = Files;

const Values kInput{.encoding = {.bits = 10, .range = signal::Range::narrow}, .scale = Scale::code};
const Values kOutput{.encoding = {.transfer = signal::Transfer::bt1886,
                                  .container = signal::Container::bt709,
                                  .bits = 12,
                                  .range = signal::Range::full,
                                  .nominal_peak_cdm2 = 100}};

Lut stated(std::vector<Stage> stages) {
  return {.title = "A < B & \"C\"", .input = kInput, .output = kOutput, .stages = std::move(stages)};
}

/// Every shape of a correction, and entries rounded to 10 and 12 bits.
std::vector<Lut> luts() {
  std::vector<Lut> all{stated({bent_1d(1024)}), stated({rough_3d(17, 1)}), stated({some_matrix()}),
                       stated({bent_1d(64), some_matrix(), bent_1d(128)}), stated({bent_1d(33), rough_3d(9, 2)})};
  const std::size_t count = all.size();
  for (std::size_t i = 0; i < count; ++i)
    for (const int bits : {10, 12}) all.push_back(rounded(all[i], bits));
  return all;
}

double worst_difference(const Lut& lut, const ocio::ConstCPUProcessorRcPtr& theirs) {
  double worst = 0;
  for (const Triple& v : Draw(31).triples(2000))
    worst = std::max(worst, largest_difference(evaluate(lut, v), applied(theirs, v)));
  return worst;
}

TEST_F(Clf, OpenColorIoReadsWhatWeMean) {
  int i = 0;
  for (const Lut& lut : luts()) {
    const std::string file = path(std::to_string(++i) + ".clf");
    ASSERT_TRUE(write_lut(lut, file, {}));
    EXPECT_LE(worst_difference(lut, file_processor(file)), 4e-6) << i;
  }
}

TEST_F(Clf, ReadBack) {
  for (const Lut& lut : luts()) {
    const auto text = clf_text(lut);
    ASSERT_TRUE(text);
    const auto back = lut_from_clf(*text, "back.clf");
    ASSERT_TRUE(back) << back.error().text();
    EXPECT_EQ(back->title, lut.title);
    EXPECT_EQ(back->input, lut.input);
    EXPECT_EQ(back->output, lut.output);
    ASSERT_EQ(back->stages.size(), lut.stages.size());
    for (const Triple& v : Draw(32).triples(200))
      EXPECT_LE(largest_difference(evaluate(lut, v), evaluate(*back, v)), 4e-7);
  }
}

TEST_F(Clf, RoundedEntriesAreWholeNumbersAndComeBackAsTheyWere) {
  const Lut ten = rounded(stated({bent_1d(33), rough_3d(5, 2)}), 10);
  const std::string text = clf_text(ten).value();
  EXPECT_THAT(text, HasSubstr("<LUT1D inBitDepth=\"32f\" outBitDepth=\"10i\""));
  EXPECT_THAT(text, HasSubstr("<LUT3D inBitDepth=\"10i\" outBitDepth=\"10i\" interpolation=\"tetrahedral\">"));
  EXPECT_THAT(text, HasSubstr("\n1023 1023 1023\n"));
  const auto back = lut_from_clf(text, "back.clf");
  ASSERT_TRUE(back);
  EXPECT_EQ(std::get<Lut1d>(back->stages[0]).entry_bits, 10);
  EXPECT_EQ(std::get<Lut1d>(back->stages[0]).channel, std::get<Lut1d>(ten.stages[0]).channel);
  EXPECT_EQ(std::get<Lut3d>(back->stages[1]).nodes, std::get<Lut3d>(ten.stages[1]).nodes);
}

TEST_F(Clf, RoundTripThroughOpenColorIo) {
  int i = 0;  // OpenColorIO remembers files by their names
  for (const Lut& lut : {stated({rough_3d(9, 3)}), stated({bent_1d(256), some_matrix(), bent_1d(64)})}) {
    const std::string ours = path(std::to_string(++i) + "ours.clf"), theirs = path(std::to_string(i) + "theirs.clf");
    ASSERT_TRUE(write_lut(lut, ours, {}));
    const ocio::FileTransformRcPtr transform = ocio::FileTransform::Create();
    transform->setSrc(ours.c_str());
    const auto config = ocio::Config::CreateRaw();
    const auto group = config->getProcessor(transform)->createGroupTransform();
    {
      std::ofstream out(theirs);
      group->write(config, "Academy/ASC Common LUT Format", out);
    }
    const auto back = read_lut(theirs);
    ASSERT_TRUE(back) << back.error().text();
    for (const Triple& v : Draw(33).triples(1000))
      EXPECT_LE(largest_difference(evaluate(lut, v), evaluate(*back, v)), 1e-6);
  }
}

const std::string kHead = "<?xml version=\"1.0\"?>\n<ProcessList compCLFversion=\"3\" id=\"x\">\n";

TEST_F(Clf, RangesAsOpenColorIoAppliesThem) {
  for (const char* style : {"Clamp", "noClamp"}) {
    const std::string text = kHead + "<Range inBitDepth=\"10i\" outBitDepth=\"32f\" style=\"" + style +
                             "\"><minInValue>64</minInValue><maxInValue>940</maxInValue>"
                             "<minOutValue>0.1</minOutValue><maxOutValue>0.9</maxOutValue></Range></ProcessList>";
    const std::string file = written(std::string(style) + ".clf", text);
    const auto ours = read_lut(file);
    ASSERT_TRUE(ours) << ours.error().text();
    const auto theirs = file_processor(file);
    for (const Triple& v : Draw(34).triples(500, -0.2, 1.2))
      EXPECT_LE(largest_difference(evaluate(*ours, v), applied(theirs, v)), 1e-6) << style;
  }
}

TEST_F(Clf, FaultsSayWhere) {
  const auto fault = [](const std::string& text) {
    const auto lut = lut_from_clf(text, "bad.clf");
    return lut ? std::string("none") : lut.error().text();
  };
  const auto array = [](const std::string& dim, const std::string& numbers) {
    return kHead + "<LUT1D inBitDepth=\"32f\" outBitDepth=\"32f\">\n<Array dim=\"" + dim + "\">\n" + numbers +
           "\n</Array></LUT1D></ProcessList>";
  };
  EXPECT_EQ(fault(array("2 3", "0 0 0\n1 1 1")), "none");
  EXPECT_THAT(fault(array("2 3", "0 0 0\n1 nought 1")), HasSubstr("bad.clf:6: 'nought' is not a finite number"));
  EXPECT_THAT(fault(array("2 3", "0 0 0\n1 nan 1")), HasSubstr("bad.clf:6: 'nan' is not"));
  EXPECT_THAT(fault(array("3 3", "0 0 0\n1 1 1")),
              HasSubstr("bad.clf:4: LUT1D has 6 numbers where its dim asks for 9"));
  EXPECT_THAT(fault(array("2 2", "0 0\n1 1")), HasSubstr("neither 1 nor 3 channels"));
  EXPECT_THAT(fault(array("999999999 3", "0 0 0")), HasSubstr("is not a row of counts"));
  EXPECT_THAT(fault("<ProcessList>\n<LUT1D>\n</ProcessList>"), HasSubstr("bad.clf:3: is not well-formed XML"));
  EXPECT_THAT(fault("<Other/>"), HasSubstr("has no ProcessList"));
  EXPECT_THAT(fault(kHead + "</ProcessList>"), HasSubstr("has no process node"));
  EXPECT_THAT(fault(kHead + "<Log inBitDepth=\"32f\" outBitDepth=\"32f\"/></ProcessList>"),
              HasSubstr("bad.clf:3: has a process node Log"));
  EXPECT_THAT(fault(kHead + "<LUT1D inBitDepth=\"9i\" outBitDepth=\"32f\"/></ProcessList>"),
              HasSubstr("inBitDepth=\"9i\""));
  EXPECT_THAT(fault(kHead + "<LUT3D inBitDepth=\"32f\" outBitDepth=\"32f\"/></ProcessList>"),
              HasSubstr("asks for trilinear interpolation"));
  const std::string whole = clf_text(stated({rough_3d(3, 1)})).value();
  for (std::size_t cut = 0; cut + 2 < whole.size(); cut += 97) EXPECT_NE(fault(whole.substr(0, cut)), "none") << cut;
}

TEST_F(Clf, AFaultyTableLeavesTheOldFileAlone) {
  const std::string file = written("kept.clf", "as it was");
  const auto refused = write_lut(stated({Lut3d{.size = 3, .nodes = {}}}), file, {});
  ASSERT_FALSE(refused);
  EXPECT_EQ(refused.error().where.file, file);
  EXPECT_EQ(read_file(file).value(), "as it was");
  EXPECT_EQ(write_lut(stated({bent_1d(4)}), path("nowhere/a.clf"), {}).error().code, ErrorCode::io);
  EXPECT_EQ(write_lut(stated({bent_1d(4)}), path("a.table"), {}).error().code, ErrorCode::unsupported);
}

TEST(ValuesText, BothWays) {
  for (const Values& v : {kInput, kOutput}) EXPECT_EQ(values_from_text(text_of(v)), v) << text_of(v);
  EXPECT_EQ(text_of(kInput), "pq bt2020 10 narrow code");
  EXPECT_EQ(text_of(kOutput), "bt1886 bt709 12 full signal 100");
  for (const char* bad : {"", "pq", "pq bt2020 10 narrow", "pq bt2020 10 narrow code 100", "hlg bt2020 10 narrow code",
                          "pq bt2020 9 narrow code", "hlg bt2020 10 full code -1", "pq bt2020 ten narrow code"})
    EXPECT_EQ(values_from_text(bad), std::nullopt) << bad;
}

}  // namespace
}  // namespace provenit::correct
