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

# Files of one library are analysed together: most of the time goes into the headers they share.
[[ -f build/dev/compile_commands.json ]] || cmake --preset dev >/dev/null
cmake --preset lint >/dev/null
passed=build/dev/lint-passed
mkdir -p "$passed"
headers=$(git ls-files --cached --others --exclude-standard '*.h' | xargs cat .clang-tidy | sha256sum | cut -c1-16)
export headers passed
tidy() {
  # GCC's own warning switches are unknown to clang; they are checked by the build.
  clang-tidy-16 --quiet --extra-arg=-Wno-unknown-warning-option "$@" 2>/dev/null
}
analyse() {
  mapfile -t together < <(sed -n 's/^#include "\(.*\.cpp\)"$/\1/p' "$1")
  [[ ${#together[@]} -gt 0 ]] || together=("$1")
  stamp="$passed/$(cat "${together[@]}" | sha256sum | cut -c1-16)-$headers"
  [[ -e "$stamp" ]] && return 0
  checks=''
  [[ "$1" == */benchmarks/* ]] && checks='-*,misc-unused-using-decls'  # that they compile is what is to be shown
  # Two files may use one name for things of their own; then, and to show what was found, each is analysed alone.
  if ! tidy -p build/lint --checks="$checks" "$1" >/dev/null; then
    for file in "${together[@]}"; do tidy -p build/dev "$file" || return 1; done
  fi
  touch "$stamp"
}
export -f analyse tidy
# Tables of numbers, and what CMake writes, are left out.
sed -n 's/^ *"file": "\(.*\.c[px][px]\)".*/\1/p' build/lint/compile_commands.json |
  grep -v -e /tables/ -e /outside_headers/ | xargs -P "$(nproc)" -I{} bash -c 'analyse {}'
echo "lint: ${#sources[@]} files clean"
