#pragma once
// The offset at which two displays' whites look alike (spectra.h), from readings of both, with its interval.
#include <array>
#include <string>
#include <vector>

#include "provenit/base/error.h"
#include "provenit/colour/observer.h"
#include "provenit/colour/spectrum.h"
#include "provenit/evaluation/spectra.h"
#include "provenit/evaluation/traces.h"

namespace provenit::evaluation {

/// One display's spectra as read, repeats of each patch on one grid, and the instrument that read them.
struct ReadSpectra {
  std::vector<colour::Spectrum> white;
  std::array<std::vector<colour::Spectrum>, 3> primaries;  ///< R, G, B; not used of the reference display
  double bandwidth_nm = 5;                                 ///< FWHM
  double wavelength_nm = 0.3;                              ///< standard uncertainty of the wavelength scale
  double x_standard = 0, y_standard = 0;                   ///< of the certificate at white
};

struct MatchQuestion {
  ReadSpectra reference;         ///< whose white is to be matched
  ReadSpectra adjusted;          ///< whose white is to be moved
  bool same_instrument = false;  ///< its errors are the same in both
  colour::Observer observer = colour::Observer::cie2015_2deg;
};

/// All in CIE 1931 x, y.
struct MatchFigures {
  MatchOffset offset;
  colour::Xy<> now;  ///< where the adjusted display's white stands, bandwidth taken out as for the others
  Figure dx, dy;     ///< of the match from the reference white
  Figure x, y;       ///< of the match: what to set the adjusted display's white to, read with its own instrument
  std::vector<std::string> flags;  ///< what is not in the intervals and could be
};

/// Spectra without the instrument's bandwidth (2 s - s blurred once more), meaned over the repeats; the offset is
/// visual_match_offset's. Uncertainty is carried to first order: scatter of the repeats (jackknife), wavelength scale,
/// bandwidth (known to a tenth), and a scale of radiance that is wrong by a slope and a curvature over wavelength, as
/// large as makes the certificate's uncertainty of x, y at the reference white. Errors of one instrument move both
/// displays together. That observers differ, and that people who match by eye disagree, is not in it.
/// errors  invalid_input if a patch has no spectrum, other grids, or steps above 5 nm; those of visual_match_offset
/// source  CIE 170-2:2015 (observer), JCGM 100:2008 5.1; jackknife: Efron, Ann. Statist. 7 (1979) 1 (from memory);
///         method: this project
[[nodiscard]] Result<MatchFigures> match_whites(const MatchQuestion& question);

}  // namespace provenit::evaluation
