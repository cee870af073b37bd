#!/usr/bin/env bash
# Makes a Debian package of a built program: packaging/deb.sh PROGRAM OUT-DIR [COMPRESSION]
# It needs dpkg-deb; with dpkg-shlibdeps (dpkg-dev) the libraries it depends on are looked up, with
# strip (binutils) it is smaller.
set -euo pipefail

program=$(realpath "$1")
out=$(realpath -m "$2")
compression=${3:-xz}
home=$(cd "$(dirname "$0")/.." && pwd)
cd "$home"

version=$(sed -nE '0,/^version = /s/^version = "(.*)"$/\1/p' Cargo.toml)
said=$("$program" --version)
if [ "$said" != "litfloor $version" ]; then
    echo "$program says '$said', Cargo.toml says $version: build it first" >&2
    exit 1
fi
architecture=$(dpkg --print-architecture)
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
root=$work/root
doc=$root/usr/share/doc/litfloor
umask 022

install -D -m 755 "$program" "$root/usr/bin/litfloor"
if command -v strip >/dev/null; then
    strip --strip-unneeded "$root/usr/bin/litfloor"
fi
install -D -m 644 packaging/litfloor.service "$root/lib/systemd/system/litfloor.service"
install -D -m 644 packaging/litfloor.sysusers "$root/usr/lib/sysusers.d/litfloor.conf"
install -D -m 644 packaging/litfloor.sysctl "$root/usr/lib/sysctl.d/60-litfloor.conf"
install -D -m 644 packaging/litfloor.default "$root/etc/default/litfloor"
install -d -m 755 "$root/etc/litfloor"

"$program" manuals --into "$work/manuals" >/dev/null
for page in "$work"/manuals/man1/*.1; do
    install -d "$root/usr/share/man/man1"
    gzip -9n <"$page" >"$root/usr/share/man/man1/$(basename "$page").gz"
done
install -D -m 644 "$work/manuals/completions/litfloor.bash" "$root/usr/share/bash-completion/completions/litfloor"
install -D -m 644 "$work/manuals/completions/_litfloor" "$root/usr/share/zsh/vendor-completions/_litfloor"
install -D -m 644 "$work/manuals/completions/litfloor.fish" "$root/usr/share/fish/vendor_completions.d/litfloor.fish"

install -d "$doc/docs" "$doc/examples"
install -m 644 README.md SECURITY.md "$doc"
gzip -9n <CHANGELOG.md >"$doc/changelog.gz"
install -m 644 docs/* "$doc/docs"
install -m 644 config/first-floor.toml packaging/realtime.conf "$doc/examples"
{
    echo "Licensed under either of MIT and Apache-2.0, as you like."
    echo
    cat LICENSE-MIT
    echo
    echo "Apache-2.0: /usr/share/common-licenses/Apache-2.0 on Debian"
} >"$doc/copyright"

# What it needs of the system: looked up if that can be had, else what every Rust program needs.
needs='libc6, libgcc-s1'
if command -v dpkg-shlibdeps >/dev/null; then
    mkdir -p "$work/look/debian"
    printf 'Source: litfloor\n\nPackage: litfloor\nArchitecture: any\n' >"$work/look/debian/control"
    needs=$(cd "$work/look" && dpkg-shlibdeps -O -e"$root/usr/bin/litfloor" | sed -nE 's/^shlibs:Depends=//p')
fi

mkdir "$root/DEBIAN"
cat >"$root/DEBIAN/control" <<CONTROL
Package: litfloor
Version: $version
Architecture: $architecture
Maintainer: The litfloor developers <litfloor@localhost>
Installed-Size: $(du -sk --exclude=DEBIAN "$root" | cut -f1)
Depends: $needs, systemd | systemd-standalone-sysusers
Recommends: procps
Section: net
Priority: optional
Description: daemon between a lighting console and a light-up floor
 It listens to Art-Net, maps universes onto the panels of a floor, computes the
 current and keeps it within limits, sends the capped frames on, and shows
 everything in a browser.
 .
 Currents are computed, not measured: fuses and breakers protect.
CONTROL
echo /etc/default/litfloor >"$root/DEBIAN/conffiles"
(cd "$root" && find . -type f -not -path './DEBIAN/*' -printf '%P\0' | sort -z | xargs -0 md5sum) >"$root/DEBIAN/md5sums"
for script in postinst prerm postrm; do
    install -m 755 "packaging/debian/$script" "$root/DEBIAN/$script"
done

# The same sources make the same package.
SOURCE_DATE_EPOCH=${SOURCE_DATE_EPOCH:-$(git log -1 --format=%ct 2>/dev/null || echo 0)}
export SOURCE_DATE_EPOCH
mkdir -p "$out"
package=$out/litfloor_${version}_$architecture.deb
dpkg-deb --root-owner-group -Z"$compression" --build "$root" "$package" >/dev/null
echo "$package"
