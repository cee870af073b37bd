#!/bin/bash
# enter.sh PACKAGE DIRECTORY TERMINAL: systemd as the first process of a machine of its own, in which the package
# is installed and inside.sh runs. The machine is this one under namespaces: what is written to its disk is
# gone afterwards, /sys and /proc/sys can't be written, and its network has nobody in it. Both scripts lie in
# DIRECTORY, and so does what inside.sh tells. Ends with 77 where this user may make no such machine.
set -euo pipefail

package=$1
directory=$2
terminal=$3

# A place of its own in every hierarchy of control groups, so that systemd finds nobody else's and leaves
# nothing behind. Those of processors want to be set up first, and systemd does not use them.
groups() {
    local controllers path hierarchy
    while IFS=: read -r _ controllers path; do
        case $controllers in
            *cpuset*) continue ;;
            "") hierarchy=/sys/fs/cgroup/unified ;;
            *) hierarchy=/sys/fs/cgroup/${controllers#name=} ;;
        esac
        [[ -n $controllers || -e $hierarchy ]] || hierarchy=/sys/fs/cgroup
        [[ ! -e $hierarchy/cgroup.procs ]] || echo "$hierarchy${path%/}/litfloor-test-$$"
    done </proc/self/cgroup
}

enter() {
    local mine=() group ended=0
    mapfile -t mine < <(groups)
    for group in "${mine[@]}"; do
        mkdir "$group" 2>/dev/null || ended=77
    done
    if ((ended == 0)); then
        (
            for group in "${mine[@]}"; do
                echo "$BASHPID" >"$group/cgroup.procs" || exit 77
            done
            exec unshare --mount --pid --fork --kill-child --cgroup --ipc --uts --net \
                "$BASH" "$0" "$package" "$directory" "$terminal" within
        ) || ended=$?
    fi
    for group in "${mine[@]}"; do
        [[ ! -d $group ]] || find "$group" -depth -type d -exec rmdir {} \; 2>/dev/null || true
    done
    exit "$ended"
}

within() {
    local disk=$directory/disk root=$directory/disk/root
    mount --make-rprivate /
    mkdir "$disk"
    mount -t tmpfs tmpfs "$disk"
    mkdir "$disk/written" "$disk/work" "$root"
    mount -t overlay -o "lowerdir=/,upperdir=$disk/written,workdir=$disk/work" overlay "$root" || exit 77

    mount -t proc proc "$root/proc"
    mount --bind "$root/proc/sys" "$root/proc/sys"
    mount -o remount,bind,ro "$root/proc/sys"
    mount -t sysfs -o ro sysfs "$root/sys"
    if [[ $(stat -f -c %T /sys/fs/cgroup) == cgroup2fs ]]; then
        mount -t cgroup2 cgroup2 "$root/sys/fs/cgroup"
    else
        mount -t tmpfs tmpfs "$root/sys/fs/cgroup"
        mkdir "$root/sys/fs/cgroup/systemd" "$root/sys/fs/cgroup/unified"
        mount -t cgroup -o none,name=systemd,xattr cgroup "$root/sys/fs/cgroup/systemd"
        mount -t cgroup2 cgroup2 "$root/sys/fs/cgroup/unified"
    fi
    mount -t tmpfs tmpfs "$root/dev"
    local device
    for device in "null 1 3" "zero 1 5" "full 1 7" "random 1 8" "urandom 1 9" "tty 5 0"; do
        # shellcheck disable=SC2086
        set -- $device
        mknod -m 666 "$root/dev/$1" c "$2" "$3"
    done
    mkdir "$root/dev/pts" "$root/dev/shm"
    mount -t devpts -o newinstance,ptmxmode=666 devpts "$root/dev/pts"
    ln -s pts/ptmx "$root/dev/ptmx"
    touch "$root/dev/console"
    mount --bind "$terminal" "$root/dev/console"
    mount -t tmpfs tmpfs "$root/run"
    mount --bind "$directory" "$root/mnt"

    # The way to a node that nobody is.
    ip link set lo up
    ip link add near type veth peer name far
    ip address add 192.168.1.2/24 dev near
    ip link set near up
    ip link set far up

    # Nothing that is switched on here is to run there.
    rm -rf "$root"/etc/systemd/system/*.wants
    cat >"$root/etc/systemd/system/inside.service" <<-UNIT
		[Unit]
		After=basic.target
		[Service]
		Type=oneshot
		ExecStart=/bin/bash /mnt/inside.sh
		StandardOutput=file:/mnt/inside.log
		StandardError=inherit
	UNIT
    cat >"$root/etc/systemd/system/inside.target" <<-UNIT
		[Unit]
		Requires=basic.target inside.service
		After=basic.target
		AllowIsolate=yes
	UNIT
    chroot "$root" dpkg --install --force-depends "/mnt/${package##*/}" >"$directory/install.log" 2>&1

    mkdir "$root/before"
    cd "$root"
    pivot_root . before
    umount --lazy /before
    exec env -i container=lxc PATH=/usr/sbin:/usr/bin:/sbin:/bin \
        /lib/systemd/systemd --system --unit=inside.target --log-target=console
}

if [[ ${4:-} == within ]]; then
    within
else
    enter
fi
