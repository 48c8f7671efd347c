// Any request to the workbench's interface: an answer of 2xx or 4xx, and no crash. The bench is made anew now and then.
#include <unistd.h>

#include <cstdint>
#include <filesystem>
#include <memory>

#include "server_inputs.h"

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  using namespace provenit;
  static const auto folder =
      std::filesystem::temp_directory_path() / ("provenit_fuzz_server_" + std::to_string(::getpid()));
  static std::unique_ptr<server::Api> api;
  static int count = 0;
  if (count++ % 2000 == 0) {
    api.reset();
    std::filesystem::remove_all(folder);
    std::filesystem::create_directories(folder);
    api = std::make_unique<server::Api>(server::ApiOptions{.bench = folder / "f.bench", .software = "fuzz"});
    fuzz::describe(*api);
  }
  fuzz::answers(*api, fuzz::request_of({reinterpret_cast<const char*>(data), size}));
  return 0;
}
