"""A real PostgreSQL server for tests and measurements: in a private directory, on a loopback port, as an unprivileged user,
with passwords (SCRAM) for everybody who comes over TCP."""
import glob
import os
import pathlib
import shutil
import socket
import subprocess
import tempfile


def programs():
    found = sorted(glob.glob("/usr/lib/postgresql/*/bin/initdb"), key=lambda p: int(p.split("/")[4]))
    return pathlib.Path(found[-1]).parent if found else None


class Postgres:
    def __init__(self):
        self.bin = programs()
        self.dir = pathlib.Path(tempfile.mkdtemp(prefix="switchwright-pg-"))
        self.as_user = []
        if os.geteuid() == 0:
            self.as_user = ["runuser", "-u", "nobody", "--"]
            shutil.chown(self.dir, "nobody", "nogroup")
        with socket.socket() as free:
            free.bind(("127.0.0.1", 0))
            self.port = free.getsockname()[1]
        self._run("initdb", "-D", self.dir / "data", "-U", "owner", "--auth-local=trust", "--auth-host=scram-sha-256",
                  "-E", "UTF8", "--no-sync", "--locale=C.UTF-8")
        self.start()

    def _run(self, program, *arguments):
        done = subprocess.run([*self.as_user, str(self.bin / program), *map(str, arguments)], cwd="/", stdin=subprocess.DEVNULL,
                              stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, env={"PATH": "/usr/sbin:/usr/bin:/sbin:/bin", "LANG": "C"})
        if done.returncode != 0:
            raise RuntimeError(f"{program}: {done.stdout}")

    def start(self):
        self._run("pg_ctl", "-D", self.dir / "data", "-w", "-l", self.dir / "log", "-o",
                  f"-p {self.port} -c listen_addresses=127.0.0.1 -k {self.dir}", "start")

    def take_tls(self, certificate, key):
        """From now on nobody comes over TCP without TLS."""
        for name, source in (("server.crt", certificate), ("server.key", key)):
            shutil.copy(source, self.dir / "data" / name)
            if os.geteuid() == 0:
                shutil.chown(self.dir / "data" / name, "nobody", "nogroup")
            (self.dir / "data" / name).chmod(0o600)
        (self.dir / "data/pg_hba.conf").write_text("local all all trust\nhostssl all all 127.0.0.1/32 scram-sha-256\n")
        self.sql("ALTER SYSTEM SET ssl = on")
        self.sql("ALTER SYSTEM SET log_connections = on")
        self.stop()
        self.start()

    def stop(self):
        self._run("pg_ctl", "-D", self.dir / "data", "-m", "immediate", "-w", "stop")

    def remove(self):
        try:
            self.stop()
        except RuntimeError:
            pass  # stopped by the test
        shutil.rmtree(self.dir, ignore_errors=True)

    def log(self):
        return (self.dir / "log").read_text(errors="replace")

    def sql(self, text, user="owner", ok=True):
        """Over the local socket, where nobody needs a password."""
        done = subprocess.run([str(self.bin / "psql"), "-X", "-q", "-A", "-t", "-v", "ON_ERROR_STOP=1", "-h", str(self.dir), "-p",
                               str(self.port), "-U", user, "postgres"], input=text, text=True, stdout=subprocess.PIPE,
                              stderr=subprocess.PIPE)
        if ok and done.returncode != 0:
            raise RuntimeError(done.stderr)
        return done.stdout.strip() if ok else done.stderr

    def url(self, user):
        return f"postgresql://{user}@127.0.0.1:{self.port}/postgres"
