#pragma once
// What is called a clip, of a greyscale that was read and of steps in a captured frame alike.

namespace provenit::evaluation {

inline constexpr double kClipFallsBelow = 0.95;     ///< of its target, from where light no longer follows it
inline constexpr double kSoftClipFrom_percent = 1;  ///< softness; ours: below, a clip is called hard

}  // namespace provenit::evaluation
