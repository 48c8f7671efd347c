// rapidcheck draws a new seed per run unless told otherwise. Tests are the same every time; RC_PARAMS still overrides.
#include <cstdlib>

namespace {
[[maybe_unused]] const int fixed_seed = setenv("RC_PARAMS", "seed=2100", 0);
}
