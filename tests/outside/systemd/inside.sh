#!/bin/bash
# What the package's service does under systemd, told as lines "NAME VALUE" in /mnt/told.
set -u
exec 3>/mnt/told
# The machine ends with this script.
trap 'touch /mnt/done; systemctl --force --force poweroff' EXIT

tell() { echo "$1 ${*:2}" >&3; }

# shown PROPERTY: what systemd knows of the service.
shown() { systemctl show --property "$1" --value litfloor; }

# until_so COMMAND...: waits until it succeeds, 30 s at most; gives the milliseconds.
until_so() {
    local begun
    begun=$(date +%s%3N)
    while ! "$@"; do
        (($(date +%s%3N) - begun < 30000)) || { echo late; return; }
        sleep 0.02
    done
    echo $(($(date +%s%3N) - begun))
}

process() { shown MainPID; }
# Its process is asked for first: of one that has just ended systemd says 0, and a moment before that it runs.
runs_otherwise() {
    local now
    now=$(process)
    [[ $now != 0 && $now != "$1" && $(shown SubState) == running ]]
}
answers() { litfloor status >/mnt/status.log 2>&1; [[ $? != 3 ]]; }
in_journal() { journalctl --unit litfloor --no-pager | grep -qF "$1"; }

tell version "$(systemctl --version | head -1)"
tell installed "$(dpkg-query --show --showformat '${db:Status-Status}' litfloor)"
systemctl start litfloor
tell unwritten "$? $(shown ActiveState) $(shown ExecMainStatus) $(shown NRestarts)"

example=/usr/share/doc/litfloor/examples/first-floor.toml
install -m 640 -g litfloor "$example" /etc/litfloor/floor.toml
setpriv --reuid=litfloor --regid=litfloor --init-groups litfloor check /etc/litfloor/floor.toml >/mnt/check.log 2>&1
tell checked "$?"
install -m 600 /dev/null /etc/litfloor/secrets
echo 'LITFLOOR_STANDBY_KEY=of this test and nothing else' >>/etc/litfloor/secrets
systemctl start litfloor
tell start "$? $(shown ActiveState) $(shown SubState)"
first=$(process)
tell user "$(stat -c %U "/proc/$first")"
tell capabilities "$(sed -n 's/^CapEff:\s*//p' "/proc/$first/status")"
tell privileges "$(sed -n 's/^NoNewPrivs:\s*//p' "/proc/$first/status")"
tell filter "$(sed -n 's/^Seccomp:\s*//p' "/proc/$first/status")"
tell secret "$(tr '\0' '\n' <"/proc/$first/environ" | sed -n 's/^LITFLOOR_STANDBY_KEY=//p')"
setpriv --reuid=litfloor --regid=litfloor --init-groups cat /etc/litfloor/secrets >/dev/null 2>&1
tell secret_read "$?"
tell state "$(stat -c '%U %a' /var/lib/litfloor)"
tell book "$(stat -c '%U %a' /var/lib/litfloor/book.sqlite3)"
tell answers_ms "$(until_so answers)"
for path in /etc/litfloor /usr/bin /var/log /home; do
    tell written "$path $(nsenter --target "$first" --mount touch "$path/litfloor-was-here" 2>&1 | grep -o 'Read-only file system' || echo yes)"
done

tell sound_reload "$(systemctl reload litfloor; echo $?)"
echo broken >>/etc/litfloor/floor.toml
systemctl reload litfloor
tell told_ms "$(until_so in_journal 'the floor of before goes on')"
tell broken_reload "$(shown ActiveState) $([[ $(process) == "$first" ]] && echo same)"
sed -i '$ d' /etc/litfloor/floor.toml

kill -STOP "$first"
tell stopped_ms "$(until_so runs_otherwise "$first")"
tell after_stopped "$(shown NRestarts)"
second=$(process)
kill -KILL "$second"
tell killed_ms "$(until_so runs_otherwise "$second")"
tell after_killed "$(shown NRestarts)"
tell answers_again_ms "$(until_so answers)"
# A kernel that lies has the data plane panic.
echo 'LD_PRELOAD=/mnt/faulty_kernel.so' >>/etc/default/litfloor
systemctl restart litfloor
until_so answers >/dev/null
third=$(process)
echo -n 'of this the kernel says something wrong' >/dev/udp/127.0.0.1/6454
tell panicked_ms "$(until_so runs_otherwise "$third")"
tell after_panicked "$(shown NRestarts)"
sed -i '$ d' /etc/default/litfloor

systemctl stop litfloor
tell stop "$(shown ActiveState) $(shown Result) $(shown ExecMainStatus)"
echo broken >>/etc/litfloor/floor.toml
systemctl start litfloor
failed() { [[ $(shown ActiveState) == failed ]]; }
tell failed_ms "$(until_so failed)"
tell broken_start "$(shown ExecMainStatus) $(shown NRestarts)"
dpkg --remove litfloor >/mnt/remove.log 2>&1
tell removed "$(dpkg-query --show --showformat '${db:Status-Status}' litfloor) $(systemctl is-active litfloor)"

again() { dpkg --install --force-depends /mnt/litfloor_*.deb >/mnt/again.log 2>&1; }
again
tell again "$(systemctl is-enabled litfloor) $(grep -c 'the old version' /mnt/again.log) $(grep -c 'it does not run' /mnt/again.log)"
# Another floor file than the one that the unit names, which is not there.
mv /etc/litfloor/floor.toml /etc/litfloor/other.toml
sed -i '$ d' /etc/litfloor/other.toml
echo LITFLOOR_FLOOR=/etc/litfloor/other.toml >>/etc/default/litfloor
systemctl start litfloor
tell other "$? $(shown ActiveState)"
again
tell upgraded "$(systemctl is-enabled litfloor) $(grep -c 'the old version' /mnt/again.log)"
systemctl disable --quiet litfloor
again
tell stays_disabled "$(systemctl is-enabled litfloor)"
systemctl enable --quiet litfloor
dpkg --purge litfloor >/mnt/purge.log 2>&1
tell purged "$(systemctl is-active litfloor) $(find /etc/systemd/system -name 'litfloor*' | wc -l)"
