# Sourced by the scripts beside it and by those of .ci: what they share. Sets `root`, the project's directory.

set -euo pipefail
root=$(cd -- "$(dirname -- "${BASH_SOURCE[0]}")/.." && pwd -P)
build=${MINTSPREAD_BUILD:-$root/build}

say() { printf '%s\n' "$*" >&2; }

# fail STATUS MESSAGE...: 2 wrong usage, 3 could not install or build.
fail() {
  local status=$1
  shift
  say "$(basename -- "$0"): $*"
  exit "$status"
}

# stage NAME COMMAND...: runs the command and prints the seconds it took.
stage() {
  local name=$1 start=$EPOCHREALTIME status=0
  shift
  say "== $name"
  "$@" || status=$?
  local micros=$((${EPOCHREALTIME/[.,]/} - ${start/[.,]/}))
  printf '== %s: %d.%d s%s\n' "$name" $((micros / 1000000)) $((micros % 1000000 / 100000)) \
    "$( ((status == 0)) || printf ', failed')" >&2
  return "$status"
}

# quietly COMMAND...: shows what the command prints only if it fails.
quietly() {
  local log status=0
  log=$(mktemp)
  "$@" >"$log" 2>&1 || status=$?
  ((status == 0)) || cat -- "$log" >&2
  rm -f -- "$log"
  return "$status"
}

# install_packages LIST...: installs the packages of the lists that are missing; asks the network only if one is.
install_packages() {
  local missing=() package
  if ! command -v dpkg-query >/dev/null || ! command -v apt-get >/dev/null; then
    say "this is no Debian: install what $* lists by hand"
    return 0
  fi
  for package in $(sed 's/#.*//' "$@"); do
    [[ $(dpkg-query -W -f '${db:Status-Status}' "$package" 2>/dev/null) == installed ]] || missing+=("$package")
  done
  ((${#missing[@]})) || return 0
  local as_root=()
  if ((EUID != 0)); then
    command -v sudo >/dev/null ||
      fail 3 "packages are missing. As root: apt-get update && apt-get install --no-install-recommends ${missing[*]}"
    as_root=(sudo)
  fi
  say "installing ${missing[*]}"
  local apt=("${as_root[@]}" env DEBIAN_FRONTEND=noninteractive apt-get -qq -o DPkg::Lock::Timeout=300)
  quietly "${apt[@]}" update || fail 3 "apt-get update failed: see above"
  quietly "${apt[@]}" install --no-install-recommends -y "${missing[@]}" || fail 3 "apt-get install failed: see above"
}

# build_project [CMAKE OPTION...]: configures and builds everything in $build, or the targets that ${targets[@]} names.
build_project() {
  local cache=$build/CMakeCache.txt generator=(-G Ninja) show=() jobs memory only=()
  [[ -z ${targets[*]-} ]] || only=(--target "${targets[@]}")
  command -v cmake >/dev/null || fail 3 "cmake is missing"
  if [[ -f $cache ]]; then
    generator=()
    if ! grep -qxF "CMAKE_HOME_DIRECTORY:INTERNAL=$root" "$cache"; then
      say "$build was made for another directory: starting afresh"
      rm -rf -- "$cache" "$build/CMakeFiles"
      generator=(-G Ninja)
    fi
  fi
  quietly cmake -S "$root" -B "$build" "${generator[@]}" "$@" || fail 3 "the build could not be configured: see above"
  # A compiler takes up to 1 GB on the largest files.
  jobs=$(nproc)
  memory=$(awk '/^MemAvailable/ { print int($2 / 1e6) }' /proc/meminfo)
  ((memory < 1)) && memory=1
  ((jobs > memory)) && jobs=$memory
  [[ -t 1 ]] || show=(-- --quiet)
  cmake --build "$build" -j "$jobs" "${only[@]}" "${show[@]}" >&2 || fail 3 "the build failed: see above"
}
