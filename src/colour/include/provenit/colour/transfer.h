#pragma once
// Transfer functions, always in pairs f / inverse of f. Words: an EOTF turns signal into display light, an OETF scene
// light into signal, an OOTF scene light into display light.
#include "provenit/colour/transfer_hlg.h"  // IWYU pragma: export
#include "provenit/colour/transfer_pq.h"   // IWYU pragma: export
#include "provenit/colour/transfer_sdr.h"  // IWYU pragma: export
