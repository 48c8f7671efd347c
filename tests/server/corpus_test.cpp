// Every request of the fuzz target's corpus: among them each that ever went wrong.
#include <gtest/gtest.h>

#include <filesystem>

#include "../../fuzz/server_inputs.h"
#include "provenit/base/text.h"
#include "workbench.h"

namespace provenit::server {
namespace {

TEST(Corpus, EveryRequestIsAnswered) {
  const Folder folder;
  Api api({.bench = folder.file("f.bench"), .software = "provenit test"});
  fuzz::describe(api);
  int count = 0;
  for (const auto& file : std::filesystem::directory_iterator(PROVENIT_SOURCE_DIR "/fuzz/corpus/server_request")) {
    SCOPED_TRACE(file.path().filename());
    fuzz::answers(api, fuzz::request_of(read_file(file.path()).value()));
    ++count;
  }
  EXPECT_GE(count, 12);
}

}  // namespace
}  // namespace provenit::server
