# Shared by deploy/quickstart and tests/run: what must be on the machine, and how to get it there.
# Sourced, not run. The caller has set -euo pipefail and stands in the repository's root.
# shellcheck shell=bash

say() {
    printf '%s\n' "$*" >&2
}

die() {
    say "$@"
    exit 1
}

has() {
    command -v "$1" >/dev/null 2>&1
}

# Runs a command as root, or fails without asking for a password.
as_root() {
    if [ "$(id -u)" -eq 0 ]; then
        "$@"
    else
        sudo -n "$@"
    fi
}

may_install() {
    if [ "$(id -u)" -ne 0 ]; then
        has sudo && sudo -n true 2>/dev/null || return 1
    fi
    has apt-get || has dnf
}

apt_updated=no

apt_install() {
    local apt=(env DEBIAN_FRONTEND=noninteractive apt-get -q -y --no-install-recommends install)
    if as_root "${apt[@]}" "$@" >&2; then
        return
    fi
    # The package lists may be missing or old: fetch them, once, and try again.
    [ "$apt_updated" = no ] || return 1
    apt_updated=yes
    as_root apt-get -q update >&2 || return 1
    as_root "${apt[@]}" "$@" >&2
}

# ensure WHAT TEST "APT PACKAGES" "DNF PACKAGES": does nothing when TEST succeeds; otherwise installs the packages when that
# needs no password, and ends with what to type when it cannot or when TEST still fails.
ensure() {
    local what=$1 test=$2 apt_packages=$3 dnf_packages=$4
    "$test" && return
    if may_install; then
        say "Installing $what from the system's packages."
        # The lists of package names are meant to be split.
        # shellcheck disable=SC2086
        if has apt-get; then
            apt_install $apt_packages || true
        else
            as_root dnf -q -y install $dnf_packages >&2 || true
        fi
        hash -r
        "$test" && return
        die "$what could not be installed. Install it by hand and run this again:" "$(how_to_install "$apt_packages" "$dnf_packages")"
    fi
    die "$what is missing. Install it and run this again:" "$(how_to_install "$apt_packages" "$dnf_packages")"
}

how_to_install() {
    printf '\n    sudo apt-get install %s   (Debian, Ubuntu)\n    sudo dnf install %s   (Fedora and relatives)' "$1" "$2"
}

# The lowest of two dotted versions.
lower_version() {
    printf '%s\n%s\n' "$1" "$2" | sort -V | head -n 1
}

ensure_rust() {
    local needed found
    needed=$(sed -n 's/^rust-version = "\(.*\)"$/\1/p' Cargo.toml)
    { has cargo && has rustc; } || die \
        "Rust is missing. Install version $needed or later: https://www.rust-lang.org/tools/install" \
        "(a shell opened before that installation does not know it yet: open a new one)"
    found=$(rustc --version | cut -d ' ' -f 2)
    [ "$(lower_version "$needed" "$found")" = "$needed" ] || die \
        "Rust $found is too old: $needed or later is needed. With rustup: rustup update stable"
}

has_c_compiler() {
    has cc
}

# Cargo links with the C compiler, and some libraries have parts in C.
ensure_c_compiler() {
    ensure "A C compiler" has_c_compiler "gcc libc6-dev" "gcc glibc-devel"
}

has_postgresql() {
    local folder
    for folder in ${PATH//:/ } /usr/lib/postgresql/*/bin /usr/local/lib/postgresql/*/bin /usr/local/pgsql/bin \
        /usr/local/opt/postgresql*/bin /opt/homebrew/bin /opt/homebrew/opt/postgresql*/bin; do
        [ -x "$folder/initdb" ] && [ -x "$folder/postgres" ] && return
    done
    return 1
}

# Debian's package makes a server of its own and starts it, on a machine that had none. Lapwatch runs a private one, so
# while the package is installed we ask for none, and then take that wish away again.
ensure_postgresql() {
    has_postgresql && return
    local wish=/etc/postgresql-common/createcluster.d/lapwatch-quickstart.conf
    if may_install && has apt-get && [ ! -e /etc/postgresql-common/createcluster.conf ]; then
        as_root mkdir -p "$(dirname "$wish")"
        echo 'create_main_cluster = false' | as_root tee "$wish" >/dev/null
    fi
    ensure PostgreSQL has_postgresql "postgresql" "postgresql-server"
    [ ! -e "$wish" ] || as_root rm -f "$wish"
}

# Whether this is the first build, which takes long enough to say so.
say_how_long_a_first_build_takes() {
    local cores minutes
    [ ! -e "${CARGO_TARGET_DIR:-target}/debug/.fingerprint" ] || return 0
    cores=$(getconf _NPROCESSORS_ONLN 2>/dev/null || echo 2)
    # $1: minutes of processor time that it took when this was measured.
    minutes=$((($1 + cores - 1) / cores))
    [ "$minutes" -ge 2 ] || minutes=2
    say "The first build takes about $minutes minutes on this machine's $cores cores; later ones take seconds."
}
