// The command as a user gives it: a whole loan, every verb with --json, wrong input, a kill in the middle of a run.
#include <gtest/gtest.h>
#include <signal.h>
#include <sys/wait.h>
#include <unistd.h>

#include <array>
#include <chrono>
#include <cstdio>
#include <filesystem>
#include <nlohmann/json.hpp>
#include <thread>

#include "bench_folder.h"
#include "provenit/base/text.h"
#include "provenit/store/bench.h"

namespace provenit {
namespace {

class Command : public BenchFolder {
 protected:
  void describe() {
    const std::string b = bench();
    const std::vector<std::string> lines{
        "new " + b + " --title T --evaluator E",
        "describe display " + b + " --name \"Tern 32\" --simulated tern-32 --claimed-peak 1400",
        "describe instrument " + b + " --name Meter --kind simulated --zero-uncertainty 0.0002",
        "describe room " + b + " --name Room --surround 5",
        "describe loan " + b + " --hours 4 --starts 2026-11-25T09:00:00Z --seed 7",
        "questions " + b + " --set claims-tern-32 --set itu-r-bt.2100-3-reference-display"};
    for (const auto& line : lines) {
      const auto answer = run_json(line);
      ASSERT_EQ(answer.exit, 0) << line << "\n" << answer.out;
      EXPECT_TRUE(answer.json().is_object()) << line;
    }
  }
};

TEST_F(Command, AWholeLoanGivesVerdictsOnEveryQuestionWithALimit) {
  describe();
  const auto plan = run_json("plan " + bench());
  ASSERT_EQ(plan.exit, 0) << plan.out;
  EXPECT_GE(plan.json()["runs"].size(), 6u);
  EXPECT_LE(plan.json()["total_s"], plan.json()["available_s"]);
  const auto ran = run_json("run " + bench());
  ASSERT_EQ(ran.exit, 0) << ran.out;
  EXPECT_EQ(ran.json()["finished"], true);
  const auto evaluated = run_json("evaluate " + bench());
  ASSERT_EQ(evaluated.exit, 0) << evaluated.out;
  const auto findings = evaluated.json();
  for (const auto& f : findings["findings"]) {
    EXPECT_LE(f["lower95"].get<double>(), f["value"].get<double>()) << f["quantity"];
    EXPECT_GE(f["upper95"].get<double>(), f["value"].get<double>()) << f["quantity"];
  }
  std::size_t limits = 0;
  for (const auto& q : run_json("questions " + bench()).json())
    limits += !q["lower"].is_null() || !q["upper"].is_null();
  EXPECT_EQ(findings["verdicts"].size(), limits);
  // What the simulated display truly does decides these beyond doubt (docs/simulator.md).
  for (const auto& v : findings["verdicts"]) {
    if (v["key"] == "peak") {
      EXPECT_EQ(v["verdict"], "meets") << v;
    }
    if (v["key"] == "peak-1") {
      EXPECT_EQ(v["verdict"], "fails") << v;
    }
  }
  const auto status = run_json("status " + bench());
  EXPECT_EQ(status.json()["runs"].size(), plan.json()["runs"].size());
  // Nothing is left to do: the same command again takes no reading.
  EXPECT_EQ(run_json("run " + bench()).json()["runs"].size(), 0u);
}

TEST_F(Command, AQuestionThatDoesNotApplyIsLeftOut) {
  describe();
  const auto asked = run_json("questions " + bench()).json().size();
  const auto added = run_json("questions " + bench() + " --set hdr-mastering-basics --without zones delay");
  ASSERT_EQ(added.exit, 0) << added.out;
  const auto questions = run_json("questions " + bench()).json();
  EXPECT_EQ(questions.size(), asked + added.json()["added"].get<std::size_t>());
  for (const auto& q : questions) EXPECT_TRUE(q["set"] != "hdr-mastering-basics" || q["key"] != "zones");
}

TEST_F(Command, WhiteBalanceTurnsTheControlsAndKeepsItsReadingsAsARun) {
  describe();
  const auto balanced = run_json("balance " + bench());
  ASSERT_EQ(balanced.exit, 0) << balanced.out;
  const auto said = balanced.json();
  EXPECT_EQ(said["verdict"], "within");
  ASSERT_EQ(said["controls"].size(), 6u);
  EXPECT_EQ(said["controls"][0]["name"], "Red gain");
  for (const auto& level : said["levels"]) EXPECT_LE(level["after"]["delta_uv"]["upper95"], 0.002) << level;
  const auto status = run_json("status " + bench()).json();
  EXPECT_EQ(status["runs"][0]["procedure"], "balance");
  EXPECT_EQ(status["runs"][0]["readings"], said["readings"]);
  ASSERT_EQ(run_json("run " + bench() + " --procedure white_point").exit, 0);
  EXPECT_EQ(run_json("evaluate " + bench()).exit, 0);
  EXPECT_EQ(run_json("report " + bench() + " --out " + path("report")).exit, 0);
  for (const char* wrong : {" --control \"Red gain:0:100\"", " --control \"Red gain:0:100:0:50\"", " --white 0.3"}) {
    const auto refused = run("balance " + bench() + " --again" + wrong);
    EXPECT_EQ(refused.exit, 2) << wrong << refused.out;
  }
}

TEST_F(Command, KilledInTheMiddleItGoesOnAndLosesNothing) {
  describe();
  const pid_t child = fork();
  if (child == 0) {
    if (std::freopen("/dev/null", "w", stdout) == nullptr || std::freopen("/dev/null", "w", stderr) == nullptr)
      _exit(1);
    execl(PROVENIT_COMMAND, PROVENIT_COMMAND, "run", bench().c_str(), nullptr);
    _exit(1);
  }
  // Killed as soon as a fair number of readings is there, whatever the speed of the machine.
  std::int64_t before = 0;
  for (int i = 0; i < 6000 && before < 40; ++i) {
    std::this_thread::sleep_for(std::chrono::milliseconds(5));
    if (const auto b = store::Bench::open(bench())) before = b->reading_count().value_or(0);
  }
  kill(child, SIGKILL);
  waitpid(child, nullptr, 0);
  ASSERT_GE(before, 40);
  const auto resumed = run_json("run " + bench());
  ASSERT_EQ(resumed.exit, 0) << resumed.out;
  EXPECT_EQ(resumed.json()["finished"], true);
  const auto b = store::Bench::open(bench());
  ASSERT_TRUE(b);
  EXPECT_TRUE(b->verify_readings());
  const auto runs = b->runs(1).value();
  for (const auto& r : runs) EXPECT_EQ(r.state, store::RunState::finished) << r.procedure;
}

TEST_F(Command, SpectraFromOpenDataAreImportedAndEvaluated) {
  const std::string b = bench();
  ASSERT_EQ(run("new " + b + " --title CRT --evaluator E").exit, 0);
  ASSERT_EQ(run("describe display " + b + " --name CRT --transfer bt1886 --container bt709 --nominal-peak 80").exit, 0);
  ASSERT_EQ(run("describe instrument " + b + " --name Published --kind import").exit, 0);
  ASSERT_EQ(run("describe room " + b + " --name none").exit, 0);
  ASSERT_EQ(run("describe loan " + b + " --hours 1").exit, 0);
  const auto imported =
      run_json("import " + b +
               " " PROVENIT_SOURCE_DIR
               "/data/spectra/crt_primaries.csv --procedure primaries --observer cie1931_2deg --white 80");
  ASSERT_EQ(imported.exit, 0) << imported.out;
  EXPECT_EQ(imported.json()["stored"], 4);
  const auto evaluated = run_json("evaluate " + b);
  ASSERT_EQ(evaluated.exit, 0) << evaluated.out;
  bool found = false;
  const auto document = evaluated.json();
  for (const auto& f : document["findings"])
    if (f["quantity"] == "gamut_coverage" &&
        f["conditions"] == nlohmann::json{{"plane", "xy"}, {"reference", "bt709"}}) {
      found = true;
      EXPECT_NEAR(f["value"].get<double>(), 92.01, 0.005);  // exact rational arithmetic on the published spectra
    }
  EXPECT_TRUE(found);
}

TEST_F(Command, WrongInputIsNamedAndChangesNothing) {
  describe();
  ASSERT_TRUE(write_file(path("bad.toml"),
                         "id = \"x\"\ntitle = \"x\"\nsource = \"x\"\n[[question]]\nquantity = \"brightness\"\n"));
  ASSERT_TRUE(write_file(path("bad.csv"), "sample,Y,x,y\nwhite,abc,0.3,0.3\n"));
  ASSERT_TRUE(write_file(path("no.bench"), "this is no bench"));
  struct Case {
    std::string arguments, says;
  };
  for (const auto& c :
       {Case{"status " + path("missing.bench"), "missing.bench"}, Case{"status " + path("no.bench"), "no.bench"},
        Case{"questions " + bench() + " --set no-such-set", "no-such-set"},
        Case{"questions " + bench() + " --set " + path("bad.toml"), "bad.toml:5"},
        Case{"questions " + bench() + " --set hdr-mastering-basics --without zonez", "zonez"},
        Case{"import " + bench() + " " + path("bad.csv") + " --procedure white_point", "bad.csv:1"},
        Case{"import " + bench() + " " + path("none.csv") + " --procedure white_point", "none.csv"},
        Case{"run " + bench() + " --procedure nonsense", "nonsense"}, Case{"evaluate " + bench(), "no readings"},
        Case{"report " + bench() + " --out " + path("r"), "evaluate"},
        Case{"new " + bench() + " --title T --evaluator E", "b.bench"}, Case{"plan", "bench"},
        Case{"signal " + bench() + " --procedure greyscale --out " + path("s") + " --width 1", "width"}}) {
    const auto answer = run(c.arguments);
    EXPECT_NE(answer.exit, 0) << c.arguments;
    EXPECT_NE(answer.out.find(c.says), std::string::npos) << c.arguments << "\n" << answer.out;
  }
  const auto refused = run_json("run " + bench() + " --procedure nonsense");
  EXPECT_EQ(refused.json()["error"]["code"], "not_found");
  EXPECT_EQ(run_json("status " + bench()).json()["questions"]["asked"], run_json("questions " + bench()).json().size());
}

TEST_F(Command, SignalsOfAProcedureAreWrittenAsPictures) {
  describe();
  const auto written =
      run_json("signal " + bench() + " --procedure checkerboard --out " + path("s") + " --width 320 --height 180");
  ASSERT_EQ(written.exit, 0) << written.out;
  ASSERT_EQ(written.json().size(), 3u);
  const auto files = written.json();
  for (const auto& s : files) EXPECT_TRUE(std::filesystem::exists(s["file"].get<std::string>()));
}

TEST_F(Command, SelfcheckTellsRightFromWrong) {
  EXPECT_EQ(run("selfcheck").exit, 0);
  const std::string head = "id,quantity,inputs,expected,tolerance,source\n";
  ASSERT_TRUE(write_file(path("good.csv"), head + "a,pq_eotf,E=1,10000,rel:1e-9,by definition\n"));
  ASSERT_TRUE(write_file(path("wrong.csv"), head + "a,pq_eotf,E=1,9999,rel:1e-9,wrong on purpose\n"));
  ASSERT_TRUE(write_file(path("unknown.csv"), head + "a,pq_brightness,E=1,9999,rel:1e-9,none\n"));
  EXPECT_EQ(run("selfcheck " + path("good.csv")).exit, 0);
  EXPECT_EQ(run("selfcheck " + path("wrong.csv")).exit, 1);
  const auto unknown = run("selfcheck " + path("unknown.csv"));
  EXPECT_EQ(unknown.exit, 2);
  EXPECT_NE(unknown.out.find("unknown.csv:2"), std::string::npos) << unknown.out;
  EXPECT_NE(unknown.out.find("pq_brightness"), std::string::npos) << unknown.out;
}

TEST_F(Command, EveryVerbHasHelpWithAnExample) {
  for (const char* verb : {"new", "describe", "questions", "plan", "signal", "run", "import", "evaluate", "report",
                           "status", "selfcheck"}) {
    const auto help = run(std::string(verb) + " --help");
    EXPECT_EQ(help.exit, 0) << verb;
    EXPECT_NE(help.out.find(std::string("provenit ") + verb), std::string::npos) << verb << "\n" << help.out;
  }
}

}  // namespace
}  // namespace provenit
