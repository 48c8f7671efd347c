// What must not mix does not compile: checked where the types meet, not when the program runs.
#include <gtest/gtest.h>

#include <concepts>
#include <tuple>
#include <type_traits>
#include <utility>

#include "provenit/colour/difference.h"
#include "provenit/colour/dual.h"
#include "provenit/colour/quantise.h"
#include "provenit/colour/quantities.h"
#include "provenit/colour/transfer.h"
#include "provenit/colour/uncertainty.h"
#include "provenit/colour/ycbcr.h"

namespace provenit::colour {
namespace {

static_assert(Scalar<double>);
static_assert(Scalar<Dual<3>>);
static_assert(Scalar<Uncertain>);
static_assert(std::is_same_v<Mixed<double, Dual<2>>, Dual<2>>);
static_assert(std::is_same_v<Mixed<Uncertain, double>, Uncertain>);

using Quantities =
    std::tuple<Luminance<>, Signal<>, Relative<>, AbsoluteXyz<>, RelativeXyz<>, Xy<>, UvPrime<>, Uv1960<>,
               AbsoluteRgb<>, RelativeRgb<>, SignalRgb<>, SignalYcbcr<>, Ictcp<>, Itp<>, Lab<>, Luv<>, Wavelength,
               Temperature, CodeValue, YcbcrCodes, Luminance<Dual<1>>, Signal<Dual<1>>, Matrix3<>, Primaries<>>;

template <class A, class B>
inline constexpr bool kMultiplies = requires(A a, B b) { a* b; } || requires(A a, B b) { a + b; };

template <class A, class... All>
consteval bool stands_alone(std::type_identity<std::tuple<All...>>) {
  const bool from_others = (... || (!std::is_same_v<A, All> && std::is_convertible_v<All, A>));
  const bool from_number = std::is_convertible_v<double, A> || std::is_convertible_v<int, A>;
  const bool to_number = std::is_convertible_v<A, double> || std::is_convertible_v<A, int>;
  const bool assigned =
      std::is_assignable_v<A&, double> || (... || (!std::is_same_v<A, All> && std::is_assignable_v<A&, All>));
  return !from_others && !from_number && !to_number && !assigned;
}
template <class... All>
consteval bool all_stand_alone(std::type_identity<std::tuple<All...>> all) {
  return (... && stands_alone<All>(all));
}
static_assert(all_stand_alone(std::type_identity<Quantities>{}));

// No operators that mean nothing.
static_assert(!kMultiplies<Luminance<>, Luminance<>>);
static_assert(!kMultiplies<Signal<>, double>);
static_assert(!kMultiplies<AbsoluteXyz<>, RelativeXyz<>>);
static_assert(!kMultiplies<Xy<>, UvPrime<>>);
static_assert(kMultiplies<Matrix3<>, Matrix3<>>);

// Each function takes its own kind only.
template <class T>
concept PqEotfTakes = requires(const T& x) { pq_eotf(x); };
template <class T>
concept PqInverseEotfTakes = requires(const T& x) { pq_inverse_eotf(x); };
template <class A, class B>
concept LabTakes = requires(const A& a, const B& b) { lab_from_xyz(a, b); };
static_assert(PqEotfTakes<Signal<>> && PqEotfTakes<SignalRgb<>> && PqEotfTakes<Signal<Uncertain>>);
static_assert(!PqEotfTakes<Luminance<>> && !PqEotfTakes<Relative<>> && !PqEotfTakes<double> && !PqEotfTakes<CodeValue>);
static_assert(PqInverseEotfTakes<Luminance<>> && !PqInverseEotfTakes<Signal<>> && !PqInverseEotfTakes<RelativeRgb<>>);
static_assert(LabTakes<AbsoluteXyz<>, AbsoluteXyz<>> && LabTakes<RelativeXyz<>, RelativeXyz<>>);
static_assert(!LabTakes<AbsoluteXyz<>, RelativeXyz<>> && !LabTakes<Xy<>, RelativeXyz<>>);
static_assert(LabTakes<AbsoluteXyz<Uncertain>, AbsoluteXyz<>>);

TEST(Types, KeepApartAtCompileTime) {
  SUCCEED() << "everything above is checked by the compiler";
}

}  // namespace
}  // namespace provenit::colour
