#pragma once
// The quantities of the field as types. Each field is named by its unit or symbol; nothing converts to or from a bare
// number, and only the operators that mean something exist. Every type takes its scalar as a parameter, so that
// derivatives flow through (see dual.h and uncertainty.h).

namespace provenit::colour {

/// Absolute luminance, cd/m2.
template <class T = double>
struct Luminance {
  T cdm2{};
};

/// Non-linear signal E' (or V), nominally 0 to 1 after the range (narrow, full) has been undone.
template <class T = double>
struct Signal {
  T value{};
};

/// Relative linear light, nominally 0 to 1 (1 = the reference white or peak that the function names).
template <class T = double>
struct Relative {
  T value{};
};

/// Tristimulus values in cd/m2: Y is the luminance.
template <class T = double>
struct AbsoluteXyz {
  T X{}, Y{}, Z{};
};

/// Tristimulus values relative to a white of Y = 1.
template <class T = double>
struct RelativeXyz {
  T X{}, Y{}, Z{};
};

/// Chromaticity, CIE 1931 (or the named observer's) x, y.
template <class T = double>
struct Xy {
  T x{}, y{};
};

/// Chromaticity, CIE 1976 UCS u', v'.
template <class T = double>
struct UvPrime {
  T u{}, v{};
};

/// Chromaticity, CIE 1960 UCS u, v (for CCT and Duv only).
template <class T = double>
struct Uv1960 {
  T u{}, v{};
};

/// Linear light of three primaries in cd/m2 each as BT.2100 counts it: equal amounts a give a white of a cd/m2.
template <class T = double>
struct AbsoluteRgb {
  T r{}, g{}, b{};
};

/// Linear light of three primaries, 1 = white.
template <class T = double>
struct RelativeRgb {
  T r{}, g{}, b{};
};

/// Non-linear signals R', G', B'.
template <class T = double>
struct SignalRgb {
  T r{}, g{}, b{};
};

/// BT.2100 ICtCp.
template <class T = double>
struct Ictcp {
  T i{}, ct{}, cp{};
};

/// BT.2124's I, T, P: ICtCp with T = Ct / 2.
template <class T = double>
struct Itp {
  T i{}, t{}, p{};
};

/// Non-linear signals Y', Cb, Cr (PQ, HLG or SDR; NCL): Y' nominally 0 to 1, Cb and Cr -0.5 to 0.5.
template <class T = double>
struct SignalYcbcr {
  T y{}, cb{}, cr{};
};

/// CIELAB 1976.
template <class T = double>
struct Lab {
  T L{}, a{}, b{};
};

/// CIELUV 1976.
template <class T = double>
struct Luv {
  T L{}, u{}, v{};
};

struct Wavelength {
  double nm = 0;
};

struct Temperature {
  double kelvin = 0;
};

}  // namespace provenit::colour
