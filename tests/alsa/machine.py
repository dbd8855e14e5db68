"""A virtual machine whose kernel has ALSA and USB MIDI, on this machine's own files.

    python tests/alsa/machine.py OUT SCRIPT [ARGUMENT ...]

It runs SCRIPT as root in the guest, in the folder it was started from, and exits with its status.
The guest sees this machine's root: what it changes there stays in its memory, what it writes to OUT
(`$OUT` there) is kept. The script's output is shown and kept in OUT/output, the kernel's words in
OUT/console. The kernel is Debian's, unpacked and never installed; it lies in `ALSA_MACHINE` (by
default a folder for temporary files) for the next time.

Debian packages: qemu-system-x86 busybox-static kmod; for the tests inside also alsa-utils.
"""

from __future__ import annotations

import gzip
import os
import shlex
import shutil
import subprocess
import sys
import tempfile
import threading
import time
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator

KEPT = Path(os.environ.get("ALSA_MACHINE", Path(tempfile.gettempdir()) / "alsa-machine"))
MEMORY_MB = 2048
LIMIT_S = float(os.environ.get("ALSA_LIMIT_S", "900"))
"""How long the script may run by the guest's clock, which a busy host does not hurry."""

PATIENCE = 6
"""How many times as long a host that is busy elsewhere may take for it."""

TO_BOOT = ("virtio_pci", "9pnet_virtio", "9p", "overlay")
"""Modules without which the guest sees no file of ours."""

SHARE = "trans=virtio,version=9p2000.L,msize=512000"
INIT = f"""#!/bin/busybox sh
bb=/bin/busybox
$bb mount -t devtmpfs dev /dev
for module in /modules/*; do $bb insmod $module; done
$bb mount -t 9p -o {SHARE},cache=loose,ro files /lower
$bb mount -t tmpfs -o size=80% changes /changes
$bb mkdir /changes/up /changes/work
$bb mount -t overlay -o lowerdir=/lower,upperdir=/changes/up,workdir=/changes/work all /new
$bb mount -t proc proc /new/proc
$bb mount -t sysfs sys /new/sys
$bb mount --move /dev /new/dev
$bb mkdir -p /new/dev/pts /new/dev/shm
$bb ln -s /proc/self/fd /new/dev/fd
$bb mount -t devpts -o ptmxmode=666 pts /new/dev/pts
$bb mount -t tmpfs -o mode=1777 shm /new/dev/shm
$bb mount -t tmpfs run /new/run
$bb mkdir /new/run/out
$bb mount -t 9p -o {SHARE},cache=none out /new/run/out
$bb ip link set lo up
exec $bb switch_root /new /bin/bash /run/out/.first
"""


def kernel() -> tuple[Path, str]:
    """Return the folder of an unpacked kernel with sound modules, and its release."""
    root = KEPT / "kernel"
    if not (KEPT / "complete").exists():
        shutil.rmtree(root, ignore_errors=True)
        root.mkdir(parents=True)
        # The package without a version depends on the newest; the one for clouds has no sound.
        reported = _output("apt-cache", "depends", "linux-image-amd64")
        package = next(word for word in reported.split() if word.startswith("linux-image-6"))
        subprocess.run(["apt-get", "-qq", "download", package], cwd=root, check=True)
        (archive,) = root.glob("*.deb")
        subprocess.run(["dpkg", "-x", archive, root], check=True)
        archive.unlink()
        (modules,) = (root / "lib/modules").iterdir()
        subprocess.run(["depmod", "-b", root, modules.name], check=True)
        (KEPT / "complete").touch()
    (modules,) = (root / "lib/modules").iterdir()
    return root, modules.name


def first_files(root: Path, release: str) -> bytes:
    """Return the archive of files the kernel starts with, as it takes it."""
    folders = ("bin", "dev", "modules", "lower", "changes", "new")
    made = [_entry(name, 0o40755) for name in folders]
    made += [_entry("init", 0o100755, INIT.encode())]
    made += [_entry("bin/busybox", 0o100755, Path(shutil.which("busybox") or "").read_bytes())]
    for number, module in enumerate(_modules(root, release)):
        made.append(_entry(f"modules/{number:02}", 0o100644, module.read_bytes()))
    return gzip.compress(b"".join([*made, _entry("TRAILER!!!", 0)]), 1)


def _entry(name: str, mode: int, data: bytes = b"") -> bytes:
    """One file of a cpio archive, in the kernel's format (buffer-format.rst of its documents)."""
    fields = (0, mode, 0, 0, 1, 0, len(data), 0, 0, 0, 0, len(name) + 1, 0)
    head = b"070701" + b"".join(b"%08X" % field for field in fields) + name.encode() + b"\0"
    return head + bytes(-len(head) % 4) + data + bytes(-len(data) % 4)


def _modules(root: Path, release: str) -> Iterator[Path]:
    """Yield the files of the modules the guest needs to boot, each after those it needs itself."""
    seen = set()
    for name in TO_BOOT:
        reported = _output("modprobe", "-d", str(root), "-S", release, "--show-depends", name)
        for line in reported.splitlines():
            kind, _, path = line.strip().partition(" ")
            if kind == "insmod" and path not in seen:
                seen.add(path)
                yield Path(path)


def first_script(root: Path, command: list[str]) -> str:
    """Return what runs first in the guest."""
    return f"""
export HOME=/root TERM=xterm-256color LANG=C.UTF-8 OUT=/run/out
export PATH={shlex.quote(os.environ["PATH"])}
mkdir -p /lib/modules
mount --bind {shlex.quote(str(root / "lib/modules"))} /lib/modules
cd {shlex.quote(os.getcwd())}
timeout -k 10 {LIMIT_S:.0f} {shlex.join(command)} >$OUT/output 2>&1 </dev/null
echo $? >$OUT/status
sync
/bin/busybox poweroff -f
"""


def processor() -> list[str]:
    """Return how the guest's processor is made: by this machine's own where it can, else by hand.

    By hand the guest's clock counts its own instructions, so that no busy host disturbs its timing.
    /dev/kvm alone is no proof: some lend it to kernels of their own.
    """
    real = any(Path(f"/sys/module/kvm_{maker}").is_dir() for maker in ("intel", "amd"))
    if real and os.access("/dev/kvm", os.W_OK):
        return ["-accel", "kvm", "-cpu", "host", "-smp", "2"]
    return ["-accel", "tcg", "-cpu", "Nehalem", "-icount", "shift=0,sleep=on", "-smp", "1"]


def run(out: Path, command: list[str]) -> int:
    """Run a command in the guest and return its exit status."""
    root, release = kernel()
    out.mkdir(parents=True, exist_ok=True)
    for name in ("status", "output", "console"):
        (out / name).unlink(missing_ok=True)
    (out / ".first").write_text(first_script(root, command))
    files = out / ".files"
    files.write_bytes(first_files(root, release))
    options = {
        "machine": "q35",
        "m": str(MEMORY_MB),
        "display": "none",
        "serial": f"file:{out}/console",
        "kernel": str(root / f"boot/vmlinuz-{release}"),
        "initrd": str(files),
        "append": "console=ttyS0 quiet panic=-1 tsc=reliable clocksource=tsc mitigations=off",
    }
    shares = ("path=/,mount_tag=files,readonly=on,multidevs=remap", f"path={out},mount_tag=out")
    words = ["qemu-system-x86_64", *processor(), "-nodefaults", "-no-reboot"]
    words += [word for name, value in options.items() for word in (f"-{name}", value)]
    words += [word for one in shares for word in ("-virtfs", f"local,security_model=none,{one}")]
    machine = subprocess.Popen(words, stdin=subprocess.DEVNULL)
    _show(machine, out / "output")
    files.unlink()
    status = out / "status"
    if not status.exists():
        sys.stderr.write(f"the machine ended without a status; see {out}/console\n")
        return 125
    return int(status.read_text())


def _show(machine: subprocess.Popen[bytes], output: Path) -> None:
    """Show what the guest writes until it ends; end it where it takes too long."""
    limit = threading.Timer(PATIENCE * LIMIT_S, machine.kill)
    limit.start()
    shown = 0
    while True:
        ended = machine.poll() is not None
        if output.exists():
            text = output.read_bytes()
            sys.stdout.write(text[shown:].decode(errors="replace"))
            sys.stdout.flush()
            shown = len(text)
        if ended:
            break
        time.sleep(0.5)
    limit.cancel()


def _output(*command: str) -> str:
    return subprocess.run(command, capture_output=True, text=True, check=True).stdout


if __name__ == "__main__":
    sys.exit(run(Path(sys.argv[1]).resolve(), sys.argv[2:]))
