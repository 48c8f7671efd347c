#include <cstdint>

#include "lut_inputs.h"

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  provenit::correct::try_lut_files({reinterpret_cast<const char*>(data), size});
  return 0;
}
