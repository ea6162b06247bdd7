"""USB adapters with the real binary: a made-up machine (its /sys and /dev) in a mount name space, pseudo-terminals for cables.

The layout is that of the kernel's Documentation/ABI (sysfs-tty, sysfs-bus-usb) and of udev's /dev/serial links; the identities
are invented. Needs the right to make a mount name space.
"""
import json
import os
import pathlib
import select
import subprocess
import threading
import unittest

from harness import TOOL, EndToEnd, ScriptedMeter, _end, lcd_frame, wait_until


class Machine:
    """A /sys and /dev that the tool sees in place of the real ones."""

    def __init__(self, directory):
        self.root = pathlib.Path(directory) / "machine"
        for name in ("sys/class/tty", "sys/bus/drivers", "dev/pts", "dev/serial/by-id", "dev/serial/by-path"):
            (self.root / name).mkdir(parents=True)
        for name in ("null", "urandom"):
            (self.root / "dev" / name).touch()

    def command(self, *arguments):
        dev = self.root / "dev"
        script = (f"mount --bind /dev/pts {dev}/pts && mount --bind /dev/null {dev}/null && mount --bind /dev/urandom {dev}/urandom"
                  f" && mount --bind {self.root}/sys /sys && mount --rbind {dev} /dev && exec \"$@\"")
        return ["unshare", "-m", "sh", "-c", script, "sh", TOOL, *map(str, arguments)]

    def plug(self, tty, cable, socket="1-2", serial="A1", driver="example_serial", product="Example cable"):
        usb = self.root / "sys/devices/pci0/usb1" / socket
        (usb / f"{socket}:1.0" / tty).mkdir(parents=True)
        for name, text in (("idVendor", "0abc"), ("idProduct", "1234"), ("product", product), ("serial", serial)):
            (usb / name).write_text(text + "\n")
        (self.root / "sys/bus/drivers" / driver).mkdir(exist_ok=True)
        (usb / f"{socket}:1.0" / tty / "driver").symlink_to(f"/sys/bus/drivers/{driver}")
        (self.root / "sys/class/tty" / tty).mkdir()
        (self.root / "sys/class/tty" / tty / "device").symlink_to(f"/sys/devices/pci0/usb1/{socket}/{socket}:1.0/{tty}")
        (self.root / "dev" / tty).symlink_to(os.path.relpath(cable.port, "/dev"))
        (self.root / "dev/serial/by-id" / f"usb-Example_{serial}").symlink_to(f"../../{tty}")
        (self.root / "dev/serial/by-path" / f"pci-0-usb-{socket}").symlink_to(f"../../{tty}")

    def unplug(self, tty, socket="1-2", serial="A1"):
        for name in (f"dev/serial/by-id/usb-Example_{serial}", f"dev/serial/by-path/pci-0-usb-{socket}", f"dev/{tty}"):
            (self.root / name).unlink()
        subprocess.run(["rm", "-r", self.root / "sys/class/tty" / tty, self.root / "sys/devices/pci0/usb1" / socket], check=True)


class UsbAdapters(EndToEnd):
    def setUp(self):
        super().setUp()
        self.machine = Machine(self.dir)
        probe = self.machine.command("--version")
        if subprocess.run(probe, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL).returncode != 0:
            self.skipTest("skipped: no right to make a mount name space (run as root)")

    def cable(self, digits):
        meter = ScriptedMeter(lambda: lcd_frame(digits, point=4) if digits else b"")
        self.addCleanup(meter.close)
        return meter

    def run_tool(self, *arguments, code=0):
        done = subprocess.run(self.machine.command(*arguments), env=self.env, text=True, stdin=subprocess.DEVNULL,
                              stdout=subprocess.PIPE, stderr=subprocess.PIPE, timeout=60)
        self.assertEqual(done.returncode, code, done.stdout + done.stderr)
        return done

    def test_an_adapter_that_comes_back_under_another_name_is_found_by_its_identity_and_a_stranger_is_left_alone(self):
        first = ScriptedMeter(lambda: lcd_frame("0001", point=4))
        self.machine.plug("ttyUSB0", first)
        process = subprocess.Popen(self.machine.command("read", "--meter", "lcd-segment-14", "--port", "/dev/ttyUSB0", "--json"),
                                   env=self.env, text=True, stdout=subprocess.PIPE, stderr=subprocess.PIPE)
        self.addCleanup(_end, process)
        values, said = [], []
        for pipe, to, convert in ((process.stdout, values, lambda line: json.loads(line).get("value")), (process.stderr, said, str.strip)):
            threading.Thread(target=lambda p=pipe, t=to, c=convert: [t.append(c(line)) for line in p], daemon=True).start()
        self.assertTrue(wait_until(lambda: 0.1 in values), said)
        self.machine.unplug("ttyUSB0")
        first.close()
        self.assertTrue(wait_until(lambda: any("is lost" in line for line in said)), said)
        # Another adapter takes the old name; then the old one comes back, in another socket.
        self.machine.plug("ttyUSB0", self.cable("0009"), socket="1-5", serial="B2")
        self.assertFalse(wait_until(lambda: 0.9 in values, 1.5), values)
        self.machine.plug("ttyUSB1", self.cable("0002"), socket="1-4")
        self.assertTrue(wait_until(lambda: 0.2 in values), said)
        self.assertEqual(set(values), {0.1, 0.2})

    def test_ports_and_find_show_what_is_plugged_in_and_leave_alone_what_looks_like_a_machine(self):
        self.machine.plug("ttyUSB0", self.cable("0047"))
        machine = self.cable("")
        self.machine.plug("ttyACM0", machine, socket="1-3", serial="M1", driver="cdc_acm", product="Example controller")
        listed = {row["port"]: row for row in map(json.loads, self.run_tool("ports", "--json").stdout.splitlines())}
        self.assertEqual((listed["/dev/ttyUSB0"]["vendor_id"], listed["/dev/ttyUSB0"]["serial"]), ("0abc", "A1"))
        out = self.run_tool("meters", "find", "--listen", "0.5").stdout
        self.assertIn("switchwright read --meter lcd-segment-14 --port /dev/serial/by-id/usb-Example_A1", out)
        self.assertRegex(out, r'Left alone:\n  /dev/ttyACM0 \(USB 0abc:1234 "Example controller", serial M1\): .*machine')
        self.assertEqual(select.select([machine.master], [], [], 0.2)[0], [])   # not one byte


if __name__ == "__main__":
    unittest.main()
