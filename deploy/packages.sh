# For the scripts beside it, by `source`: what they say, and what Debian packages they need.
# shellcheck shell=bash

self="$(basename "$0")"
say() { echo "$self: $*" >&2; }
fail() { say "$*"; exit 1; }
have() { command -v "$1" >/dev/null; }

have_postgres() {
    ls /usr/lib/postgresql/*/bin/postgres >/dev/null 2>&1
}

# install_packages PACKAGE...: as root installs them and says so; otherwise says what to install and stops.
install_packages() {
    [ "$#" -gt 0 ] || return 0
    if [ "$(id -u)" != 0 ]; then
        fail "missing: $*. Install with: sudo apt-get install $*"
    fi
    say "installing $*"
    # Debian starts a cluster of its own with the package; nothing here uses it.
    if [[ " $* " == *" postgresql "* ]] && [ ! -e /etc/postgresql-common/createcluster.conf ]; then
        mkdir -p /etc/postgresql-common
        echo "create_main_cluster = false" >/etc/postgresql-common/createcluster.conf
    fi
    apt-get update -qq
    DEBIAN_FRONTEND=noninteractive apt-get install -y -qq --no-install-recommends \
        -o Dpkg::Options::=--force-confold "$@" >/dev/null
}
