#!/usr/bin/env bash
# Formatting of every file, then static analysis with the checks of .clang-tidy. Any finding is an error.
# `lint.sh --format` checks the formatting only. Files that passed once are not analysed again until they, a header of
# the project or the checks change.
set -euo pipefail
cd "$(dirname "$0")/.."
mapfile -t sources < <(git ls-files --cached --others --exclude-standard '*.h' '*.cpp')
clang-format-16 --dry-run --Werror "${sources[@]}"
for script in scripts/*.sh .ci/run; do bash -n "$script"; done
[[ "${1:-}" == --format ]] && exit 0

[[ -f build/dev/compile_commands.json ]] || cmake --preset dev >/dev/null
passed=build/dev/lint-passed
mkdir -p "$passed"
headers=$(git ls-files --cached --others --exclude-standard '*.h' | xargs cat .clang-tidy | sha256sum | cut -c1-16)
export headers passed
analyse() {
  stamp="$passed/$(cat "$1" | sha256sum | cut -c1-16)-$headers"
  [[ -e "$stamp" ]] && return 0
  # GCC's own warning switches are unknown to clang; they are checked by the build.
  clang-tidy-16 --quiet -p build/dev --extra-arg=-Wno-unknown-warning-option "$1" 2>/dev/null && touch "$stamp"
}
export -f analyse
printf '%s\n' "${sources[@]}" | grep -E '^(src|benchmarks)/.*\.cpp$' | xargs -P "$(nproc)" -I{} bash -c 'analyse {}'
echo "lint: ${#sources[@]} files clean"
