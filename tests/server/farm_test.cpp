// Jobs of the render farm through the interface.
#include <gmock/gmock.h>

#include <filesystem>

#include "provenit/farm/work.h"
#include "workbench.h"

namespace provenit::server {
namespace {

using testing::HasSubstr;
using testing::Not;
namespace fs = std::filesystem;

class FarmJobs : public testing::Test {
 protected:
  static constexpr const char* kSoftware = "provenit test";
  FarmJobs() {
    fs::create_directories(folder_.file("secret/shots"));
    for (const char* name : {"1.avif", "2.avif", "3.avif"})
      fs::copy_file(std::string(PROVENIT_SOURCE_DIR) + "/tests/programme/media/colors_hdr_rec2020.avif",
                    folder_.file(std::string("secret/shots/") + name));
    auto job = farm::plan(
        folder_.file("work"),
        {.titles = {folder_.file("secret/shots")}, .parts = 3, .program = "/usr/bin/provenit", .software = kSoftware});
    EXPECT_TRUE(job) << (job ? "" : job.error().text());
    job_ = std::move(*job);
  }
  Said get() {
    const auto answer = api_.handle({.method = "GET", .path = "/api/1/farm"});
    Said said{answer.status, nlohmann::json::parse(answer.body), answer.body};
    EXPECT_EQ(against_description("GET", "/api/1/farm", said.status, said.body), "");
    return said;
  }

  Folder folder_;
  farm::Job job_;
  Api api_{{.bench = folder_.file("tern.bench"),
            .farms = {folder_.file("work"), folder_.file("gone")},
            .software = kSoftware,
            .link = "http://127.0.0.1:1/"}};
};

TEST_F(FarmJobs, AreToldPartByPart) {
  const farm::Worker worker{.software = kSoftware};
  ASSERT_TRUE(farm::make_part(job_, 0, 1, worker));
  fs::copy_file(folder_.file("secret/shots/1.avif"), folder_.file("secret/shots/4.avif"));
  ASSERT_FALSE(farm::make_part(job_, 0, 2, worker));
  auto said = get();
  ASSERT_EQ(said.status, 200);
  const auto& job = said.body.at("jobs").at(0).at("job");
  EXPECT_EQ(job.at("name"), "work");
  EXPECT_EQ(job.at("done"), 1);
  const auto& title = job.at("titles").at(0);
  EXPECT_EQ(title.at("title"), "shots");
  EXPECT_EQ(title.at("parts").at(0).at("state"), "waiting");
  EXPECT_EQ(title.at("parts").at(1).at("state"), "done");
  EXPECT_EQ(title.at("parts").at(2).at("state"), "failed");
  EXPECT_EQ(title.at("parts").at(2).at("error").at("code"), "conflict");
  EXPECT_EQ(title.at("parts").at(2).at("error").at("where").at("file"), "shots");
  EXPECT_THAT(said.raw, Not(HasSubstr("secret"))) << "tells where the title lies";
  EXPECT_THAT(said.raw, Not(HasSubstr(folder_.file("")))) << "tells where the folders lie";
  EXPECT_EQ(said.body.at("jobs").at(1).at("problem").at("code"), "not_found");

  fs::remove(folder_.file("secret/shots/4.avif"));
  EXPECT_TRUE(farm::run(job_, 1, worker).errors.empty());
  said = get();
  EXPECT_TRUE(said.body.at("jobs").at(0).at("job").at("finished"));
}

}  // namespace
}  // namespace provenit::server
