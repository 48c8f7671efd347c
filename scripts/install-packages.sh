#!/usr/bin/env bash
# Installs what scripts/packages.txt names and this machine lacks. Says nothing when nothing is missing.
set -euo pipefail
cd "$(dirname "$0")"
missing=()
while read -r package condition command; do
  [[ -z "$package" || "$package" == \#* ]] && continue
  if [[ "$condition" == "unless:" ]] && command -v "$command" >/dev/null; then continue; fi
  status=$(dpkg-query -W -f '${db:Status-Status}' "$package" 2>/dev/null || true)
  [[ "$status" == installed ]] || missing+=("$package")
done < packages.txt
[[ ${#missing[@]} -eq 0 ]] && exit 0
echo "Installing ${#missing[@]} Debian packages: ${missing[*]}"
as_root=()
if [[ $(id -u) -ne 0 ]]; then
  command -v sudo >/dev/null || { echo "Run as root, or install by hand: apt-get install ${missing[*]}" >&2; exit 1; }
  as_root=(sudo)
fi
"${as_root[@]}" apt-get update -qq
"${as_root[@]}" env DEBIAN_FRONTEND=noninteractive apt-get install -y -qq --no-install-recommends "${missing[@]}" >/dev/null
