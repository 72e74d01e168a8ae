# What demo/run and tests/run share: system libraries and a virtual environment, installed only where missing.
# Sourced, not run; expects to stand in the root of the checkout. Everything it prints goes to stderr.

# What other systems than Debian and Ubuntu need, in their words: from memory, never tried.
tell_other_system() {
    what="Python 3.11 or newer, Pango, HarfBuzz (subset), EGL or OSMesa with a software renderer, GLU, DejaVu and Clear Sans fonts, pdftoppm"
    if command -v dnf >/dev/null 2>&1; then
        how="sudo dnf install python3 pango harfbuzz mesa-libEGL mesa-libGL mesa-libGLU mesa-dri-drivers dejavu-sans-fonts poppler-utils"
    elif command -v brew >/dev/null 2>&1; then
        how="brew install python pango harfbuzz mesa poppler font-dejavu"
    else
        how="with the package manager of this system"
    fi
    echo "No Debian or Ubuntu: install $what ($how; untried), then call again with HAVE_SYSTEM=1." >&2
}

is_installed() {
    dpkg-query -W -f='${Status}' "$1" 2>/dev/null | grep -q 'install ok installed'
}

# Since Ubuntu 24.04 some libraries carry t64 at the end of their names (64-bit time).
known_package() {
    if ! apt-cache show "$1" >/dev/null 2>&1 && apt-cache show "${1}t64" >/dev/null 2>&1; then
        echo "${1}t64"
    else
        echo "$1"
    fi
}

need_packages() {
    [ "${HAVE_SYSTEM:-}" = 1 ] && return 0
    if ! command -v dpkg-query >/dev/null 2>&1; then
        tell_other_system
        return 1
    fi
    missing=""
    for package in "$@"; do
        if ! is_installed "$package" && ! is_installed "${package}t64"; then
            missing="$missing $package"
        fi
    done
    [ -z "$missing" ] && return 0
    echo "Installing system packages:$missing" >&2
    if [ "$(id -u)" -eq 0 ]; then
        as_root=""
    elif command -v sudo >/dev/null 2>&1; then
        as_root="sudo"
    else
        echo "Please install these Debian packages as root, then run this again:$missing" >&2
        return 1
    fi
    $as_root env DEBIAN_FRONTEND=noninteractive apt-get update -qq >&2 || return 1
    named=""
    for package in $missing; do
        named="$named $(known_package "$package")"
    done
    $as_root env DEBIAN_FRONTEND=noninteractive apt-get install -y -qq --no-install-recommends $named >&2
}

find_python() {
    for candidate in python3 python3.13 python3.12 python3.11; do
        if command -v "$candidate" >/dev/null 2>&1 &&
            "$candidate" -c 'import sys; raise SystemExit(sys.version_info < (3, 11))' 2>/dev/null &&
            "$candidate" -c 'import ensurepip, venv' 2>/dev/null; then
            echo "$candidate"
            return 0
        fi
    done
    return 1
}

set_up() {
    # Pango and its fonts for the PDF, EGL and Mesa's software renderer for pictures without a screen.
    need_packages libpango-1.0-0 libpangoft2-1.0-0 libharfbuzz-subset0 libegl1 libegl-mesa0 libgl1 libgl1-mesa-dri \
        libgles2 libglu1-mesa fontconfig fonts-dejavu-core fonts-clear-sans poppler-utils || return 1
    if ! find_python >/dev/null; then
        need_packages python3 python3-venv || return 1
    fi
    python="$(find_python)" || {
        echo "Python 3.11 or newer with venv is needed and was not found." >&2
        return 1
    }
    # The environment is made again only when what it is made from has changed.
    wanted="$(cksum pyproject.toml .ci/setup.sh | cksum)"
    if [ ! -x .venv/bin/python ] || [ "$(cat .venv/made-from 2>/dev/null)" != "$wanted" ]; then
        echo "Setting up the Python environment in .venv (a few minutes the first time) ..." >&2
        [ -x .venv/bin/python ] || "$python" -m venv .venv >&2 || return 1
        .venv/bin/python -m pip install --quiet --disable-pip-version-check --editable '.[dev,demo]' >&2 || return 1
        echo "$wanted" >.venv/made-from
    fi
}
